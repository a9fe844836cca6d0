"""Settings, read from the environment by the typed helpers of :mod:`planner.serving.environment`."""

from __future__ import annotations

import sys
from typing import Any

from planner.serving import environment, folders

HOME = folders.HOME
TESTING = "pytest" in sys.modules
DEMO = environment.flag("DESKWRIGHT_DEMO")
DEBUG = environment.flag("DESKWRIGHT_DEBUG")
PLAIN_START = TESTING or DEMO or DEBUG  # nothing here is meant for the world


def _starts_as() -> str:
    """What this process takes its house for. A developer's start is a demo's: its key is printed, too."""
    if TESTING:
        return folders.HouseKind.TEST.value
    if PLAIN_START:
        return folders.HouseKind.DEMO.value
    return folders.HouseKind.REAL.value


STARTS_AS = _starts_as()
DATA = folders.choose(
    STARTS_AS,
    given=environment.text("DESKWRIGHT_DATA"),
    elsewhere=bool(environment.text("DATABASE_URL")),
)
folders.prepare(DATA, closed=not TESTING)

if PLAIN_START:
    SECRET_KEY = environment.text("SECRET_KEY", default="demo-and-test-only-" + "0" * 40)
    SECRET_KEY_FALLBACKS = environment.parts("SECRET_KEY_FALLBACKS")
    ALLOWED_HOSTS = environment.parts(
        "ALLOWED_HOSTS", default=("localhost", "127.0.0.1", "[::1]", "testserver")
    )
else:
    SECRET_KEY = environment.key("SECRET_KEY")
    SECRET_KEY_FALLBACKS = environment.keys("SECRET_KEY_FALLBACKS")
    ALLOWED_HOSTS = environment.wanted_parts(
        "ALLOWED_HOSTS", "Name the host people type, as in desk.example.com."
    )
CSRF_TRUSTED_ORIGINS = environment.parts("TRUSTED_ORIGINS")

INSTALLED_APPS = [
    "django.contrib.auth",
    "django.contrib.contenttypes",
    "django.contrib.sessions",
    "django.contrib.messages",
    "whitenoise.runserver_nostatic",
    "django.contrib.staticfiles",
    "django.forms",
    "allauth",
    "allauth.account",
    "allauth.mfa",
    "allauth.usersessions",
    "django_htmx",
    "crispy_forms",
    "simple_history",
    "sites",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "sites.web.marks.own_house",
    "sites.web.middleware.nothing_kept",
    "sites.web.middleware.content_security_policy",
    "sites.web.possible.PossibleText",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "sites.web.ways_on.ways_on",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "sites.web.sessions.Door",
    "simple_history.middleware.HistoryRequestMiddleware",
    "sites.viewing.asking.said_harmless",
]

ROOT_URLCONF = "planner.urls"
WSGI_APPLICATION = "planner.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HOME / "templates"],
        "OPTIONS": {
            "loaders": [
                (
                    "django.template.loaders.cached.Loader",
                    [
                        "sites.web.templates.Loader",
                        "django.template.loaders.app_directories.Loader",
                    ],
                )
            ],
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "sites.web.context.house",
            ],
            "builtins": [
                "sites.templatetags.deskwright",
                "sites.templatetags.components",
                "crispy_forms.templatetags.crispy_forms_tags",
            ],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"
CRISPY_TEMPLATE_PACK = "deskwright"
CRISPY_ALLOWED_TEMPLATE_PACKS = ("deskwright",)
CRISPY_FAIL_SILENTLY = False  # a layout that names no field, or one twice, is a fault everywhere


def _database() -> dict[str, Any]:
    """The embedded database in the data folder, or the team's server named by DATABASE_URL."""
    found = environment.database("DATABASE_URL", default=f"sqlite:///{DATA / 'deskwright.sqlite3'}")
    if found["ENGINE"].endswith("sqlite3"):
        found["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
        }
    else:
        found["CONN_MAX_AGE"] = environment.whole("DATABASE_KEEP_SECONDS", default=60)
        found["CONN_HEALTH_CHECKS"] = True
    return found


DATABASES = {"default": _database()}
THREADS = environment.whole(
    "DESKWRIGHT_THREADS", default=8, least=1
)  # of a server process; each holds one connection
# Counters of tries: in the database, so that all processes count together. Beyond so many entries those that have
# ended are cleared away; one that still counts never is.
CACHES = {
    "default": {
        "BACKEND": "sites.web.limits.Counters",
        "LOCATION": "deskwright_counters",
        "OPTIONS": {"MAX_ENTRIES": 5_000},
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "sites.Person"
AUTHENTICATION_BACKENDS = [
    "sites.web.marks.NoPrintedPassword",  # stands first: what it refuses, no other is asked
    "sites.web.accounts.HouseBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {
        "NAME": "django.contrib.auth.password_validation.MinimumLengthValidator",
        "OPTIONS": {"min_length": 10},
    },
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
    {"NAME": "sites.web.marks.NoPrintedPassword"},
]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = (
    "account_login"  # a page of the house: it takes away what the device kept for the person
)
ACCOUNT_ADAPTER = "sites.web.accounts.HouseAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_RATE_LIMITS = False  # sites.web.limits counts instead, so that nobody shuts others out
ACCOUNT_PASSWORD_RESET_TOKEN_GENERATOR = "sites.web.accounts.LetterTokens"  # noqa: S105 - a class
ACCOUNT_FORMS = {
    "login": "sites.forms.door.SignInForm",
    "change_password": "sites.forms.door.ChangePasswordForm",
    "reauthenticate": "sites.forms.door.PasswordAgainForm",
    "reset_password": "sites.forms.door.LetterForm",
    "reset_password_from_key": "sites.viewing.new_password.NewPasswordForm",
    "user_token": "sites.forms.door.LetterSecretForm",
}
HOUSE_FACTOR_REQUIRED = environment.flag(
    "HOUSE_FACTOR_REQUIRED", default=not PLAIN_START
)  # of house staff
TRUSTED_PROXIES = environment.parts(
    "TRUSTED_PROXIES"
)  # addresses or networks whose X-Forwarded-For counts
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_IDLE_HOURS = environment.number("SESSION_IDLE_HOURS", default=12, least=0.25)
INVITATION_DAYS = 3
MFA_TOTP_ISSUER = "Deskwright"
MFA_TOTP_TOLERANCE = 1  # steps of 30 s that a device's clock may be off (RFC 6238, section 5.2)
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]
MFA_RECOVERY_CODES_SHOW_ONCE = True
MFA_ADAPTER = "sites.access.factors.FactorAdapter"
MFA_FORMS = {
    "authenticate": "sites.forms.door.CodeForm",
    "reauthenticate": "sites.forms.door.CodeAgainForm",
    "activate_totp": "sites.forms.door.SetUpForm",
}

_mail = environment.mail_server("EMAIL_URL")
SENDS_MAIL = bool(_mail.host)  # without a mail server, links are handed over by a person
if SENDS_MAIL:
    EMAIL_BACKEND = "sites.web.mail_server.Server"
else:
    EMAIL_BACKEND = "sites.web.mail_server.Nowhere"
EMAIL_HOST, EMAIL_PORT = _mail.host, _mail.port
EMAIL_HOST_USER, EMAIL_HOST_PASSWORD = _mail.user, _mail.password
EMAIL_USE_TLS, EMAIL_USE_SSL = _mail.starttls, _mail.tls
EMAIL_TIMEOUT = environment.number(
    "EMAIL_TIMEOUT", default=10, least=1
)  # seconds, for a whole letter
EMAIL_CA_FILE = environment.path("EMAIL_CA_FILE")  # "": the system's authorities
DEFAULT_FROM_EMAIL = SERVER_EMAIL = environment.text("MAIL_FROM", default="deskwright@localhost")

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STATICFILES_DIRS = [HOME / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "sites.web.fonts.FontFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if PLAIN_START
        else "sites.web.static_files.NamedByContent"
    },
}
WHITENOISE_USE_FINDERS = PLAIN_START

SECURE_TLS = environment.flag("BEHIND_TLS")
if SECURE_TLS and not TRUSTED_PROXIES:
    raise environment.BadSetting(
        "BEHIND_TLS says that a proxy is in front, and TRUSTED_PROXIES names none: everybody would count as one "
        "client, and who guesses would shut out all. Name its address, as in 127.0.0.1 for one on this machine."
    )
FORCE_SCRIPT_NAME = None
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_TLS
SESSION_COOKIE_HTTPONLY = True
SESSION_COOKIE_SAMESITE = CSRF_COOKIE_SAMESITE = "Lax"
if SECURE_TLS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
    SECURE_SSL_REDIRECT = True
    SECURE_REDIRECT_EXEMPT = [
        "^(health|alive|ready)$"
    ]  # whatever watches this server asks it without TLS
    SECURE_HSTS_INCLUDE_SUBDOMAINS = environment.flag("HSTS_SUBDOMAINS")
if (
    SECURE_TLS and not FORCE_SCRIPT_NAME
):  # a browser then takes them from this very host alone; read in js/run-post.js
    SESSION_COOKIE_NAME, CSRF_COOKIE_NAME = "__Host-sessionid", "__Host-csrftoken"
SECURE_HSTS_SECONDS = environment.whole("HSTS_SECONDS", default=31_536_000 if SECURE_TLS else 0)
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
FILE_UPLOAD_HANDLERS = [
    "sites.web.uploads.Bounded",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
PROOF_QUOTA_MIB = environment.whole(
    "PROOF_QUOTA_MIB", default=4096
)  # of one customer, where house staff set no other
PROOFS = (
    DATA / "proofs"
)  # photos and files that back an answer; served to members only, by sites.views.proofs
# To be listed in browsers for good (HSTS preload) is for whoever owns the domain to decide, not for a program on it.
SILENCED_SYSTEM_CHECKS = ["security.W021"]
if not SECURE_TLS:
    SILENCED_SYSTEM_CHECKS += ["security.W004", "security.W008"]
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"secrets": {"()": "sites.web.secret_links.WithoutSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["secrets"]}},
    "root": {"handlers": ["console"], "level": environment.level("LOG_LEVEL", default="WARNING")},
    "loggers": {"deskwright.journal": {"level": "INFO"}},
}
