"""Settings, read from the environment by typed helpers; secrets also from files named by NAME_FILE."""

from __future__ import annotations

import os
import pathlib
import sys

import environ
from django.core.exceptions import ImproperlyConfigured

HOME = pathlib.Path(__file__).resolve().parent.parent
env = environ.FileAwareEnv()


def _wanted(name: str, hint: str) -> str:
    """A setting without which a production start makes no sense."""
    value = env.str(name, default="")
    if not value:
        raise ImproperlyConfigured(f"{name} is not set. {hint}")
    return value


TESTING = "pytest" in sys.modules
DEMO = env.bool("DESKWRIGHT_DEMO", default=False)
DEBUG = env.bool("DESKWRIGHT_DEBUG", default=False)
PLAIN_START = TESTING or DEMO or DEBUG  # nothing here is meant for the world

DATA = pathlib.Path(env.str("DESKWRIGHT_DATA", default=str(HOME / ".data")))
DATA.mkdir(parents=True, exist_ok=True)

if PLAIN_START:
    SECRET_KEY = env.str("SECRET_KEY", default="demo-and-test-only-" + "0" * 40)
    ALLOWED_HOSTS = env.list("ALLOWED_HOSTS", default=["localhost", "127.0.0.1", "[::1]", "testserver"])
else:
    SECRET_KEY = _wanted(
        "SECRET_KEY", "Give a long random text, or put it in a file and set SECRET_KEY_FILE to the file's path."
    )
    ALLOWED_HOSTS = _wanted("ALLOWED_HOSTS", "Name the host people type, as in desk.example.com.").split(",")
CSRF_TRUSTED_ORIGINS = env.list("TRUSTED_ORIGINS", default=[])

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
    "simple_history",
    "sites",
]

MIDDLEWARE = [
    "django.middleware.security.SecurityMiddleware",
    "whitenoise.middleware.WhiteNoiseMiddleware",
    "sites.middleware.content_security_policy",
    "sites.possible.PossibleText",
    "django.contrib.sessions.middleware.SessionMiddleware",
    "django.middleware.common.CommonMiddleware",
    "django.middleware.csrf.CsrfViewMiddleware",
    "django.contrib.auth.middleware.AuthenticationMiddleware",
    "django.contrib.messages.middleware.MessageMiddleware",
    "django.middleware.clickjacking.XFrameOptionsMiddleware",
    "django_htmx.middleware.HtmxMiddleware",
    "allauth.account.middleware.AccountMiddleware",
    "simple_history.middleware.HistoryRequestMiddleware",
]

ROOT_URLCONF = "planner.urls"
WSGI_APPLICATION = "planner.wsgi.application"
TEMPLATES = [
    {
        "BACKEND": "django.template.backends.django.DjangoTemplates",
        "DIRS": [HOME / "templates"],
        "APP_DIRS": True,
        "OPTIONS": {
            "context_processors": [
                "django.template.context_processors.request",
                "django.contrib.auth.context_processors.auth",
                "django.contrib.messages.context_processors.messages",
                "sites.context.house",
            ],
            "builtins": ["sites.templatetags.deskwright"],
        },
    },
]
FORM_RENDERER = "django.forms.renderers.TemplatesSetting"


def _database() -> dict:
    """The embedded database in the data folder, or the team's server named by DATABASE_URL."""
    found = env.db("DATABASE_URL", default=f"sqlite:///{DATA / 'deskwright.sqlite3'}")
    if found["ENGINE"].endswith("sqlite3"):
        found["OPTIONS"] = {
            "transaction_mode": "IMMEDIATE",
            "timeout": 20,
            "init_command": "PRAGMA journal_mode=WAL; PRAGMA synchronous=FULL; PRAGMA foreign_keys=ON;",
        }
    else:
        found["CONN_MAX_AGE"] = env.int("DATABASE_KEEP_SECONDS", default=60)
        found["CONN_HEALTH_CHECKS"] = True
    return found


DATABASES = {"default": _database()}
# Counters of tries and codes that were used: in the database, so that all processes count together.
CACHES = {
    "default": {
        "BACKEND": "django.core.cache.backends.db.DatabaseCache",
        "LOCATION": "deskwright_counters",
        "OPTIONS": {"MAX_ENTRIES": 200_000},
    }
}
DEFAULT_AUTO_FIELD = "django.db.models.BigAutoField"

AUTH_USER_MODEL = "sites.Person"
AUTHENTICATION_BACKENDS = [
    "django.contrib.auth.backends.ModelBackend",
    "allauth.account.auth_backends.AuthenticationBackend",
]
AUTH_PASSWORD_VALIDATORS = [
    {"NAME": "django.contrib.auth.password_validation.UserAttributeSimilarityValidator"},
    {"NAME": "django.contrib.auth.password_validation.MinimumLengthValidator", "OPTIONS": {"min_length": 10}},
    {"NAME": "django.contrib.auth.password_validation.CommonPasswordValidator"},
    {"NAME": "django.contrib.auth.password_validation.NumericPasswordValidator"},
]
if TESTING:
    PASSWORD_HASHERS = ["django.contrib.auth.hashers.MD5PasswordHasher"]

LOGIN_URL = "account_login"
LOGIN_REDIRECT_URL = "home"
LOGOUT_REDIRECT_URL = "account_login"  # a page of the house: it takes away what the device kept for the person
ACCOUNT_ADAPTER = "sites.people.HouseAdapter"
ACCOUNT_LOGIN_METHODS = {"email"}
ACCOUNT_USER_MODEL_USERNAME_FIELD = None
ACCOUNT_SIGNUP_FIELDS = ["email*", "password1*", "password2*"]
ACCOUNT_EMAIL_VERIFICATION = "none"
ACCOUNT_EMAIL_SUBJECT_PREFIX = ""
ACCOUNT_LOGOUT_ON_GET = False
ACCOUNT_SESSION_REMEMBER = True
ACCOUNT_RATE_LIMITS = {"login_failed": "10/m/ip,5/5m/key"}
HOUSE_FACTOR_REQUIRED = env.bool("HOUSE_FACTOR_REQUIRED", default=not PLAIN_START)  # of house staff
TRUSTED_PROXIES = env.list("TRUSTED_PROXIES", default=[])  # addresses or networks whose X-Forwarded-For counts
SESSION_COOKIE_AGE = 14 * 24 * 3600
SESSION_IDLE_HOURS = env.float("SESSION_IDLE_HOURS", default=12)
INVITATION_DAYS = 3
MFA_TOTP_ISSUER = "Deskwright"
MFA_SUPPORTED_TYPES = ["totp", "recovery_codes"]

EMAIL_CONFIG = env.email_url("EMAIL_URL", default="consolemail://")
EMAIL_BACKEND = EMAIL_CONFIG["EMAIL_BACKEND"]
SENDS_MAIL = "console" not in EMAIL_BACKEND  # without a mail server, links are handed over by a person
DEFAULT_FROM_EMAIL = env.str("MAIL_FROM", default="deskwright@localhost")

LANGUAGE_CODE = "en-gb"
TIME_ZONE = "UTC"
USE_I18N = False
USE_TZ = True

STATIC_URL = "static/"
STATIC_ROOT = DATA / "static"
STATIC_ROOT.mkdir(exist_ok=True)
STATICFILES_DIRS = [HOME / "static"]
STATICFILES_FINDERS = [
    "django.contrib.staticfiles.finders.FileSystemFinder",
    "django.contrib.staticfiles.finders.AppDirectoriesFinder",
    "sites.fonts.FontFinder",
]
STORAGES = {
    "default": {"BACKEND": "django.core.files.storage.FileSystemStorage"},
    "staticfiles": {
        "BACKEND": "django.contrib.staticfiles.storage.StaticFilesStorage"
        if PLAIN_START
        else "whitenoise.storage.CompressedManifestStaticFilesStorage"
    },
}
WHITENOISE_USE_FINDERS = PLAIN_START

SECURE_TLS = env.bool("BEHIND_TLS", default=False)
SESSION_COOKIE_SECURE = CSRF_COOKIE_SECURE = SECURE_TLS
SESSION_COOKIE_HTTPONLY = True
SECURE_CONTENT_TYPE_NOSNIFF = True
SECURE_REFERRER_POLICY = "same-origin"
SECURE_HSTS_SECONDS = env.int("HSTS_SECONDS", default=31_536_000 if SECURE_TLS else 0)
if SECURE_TLS:
    SECURE_PROXY_SSL_HEADER = ("HTTP_X_FORWARDED_PROTO", "https")
X_FRAME_OPTIONS = "DENY"
DATA_UPLOAD_MAX_MEMORY_SIZE = 2 * 1024 * 1024
DATA_UPLOAD_MAX_NUMBER_FIELDS = 5000
FILE_UPLOAD_HANDLERS = [
    "sites.uploads.Bounded",
    "django.core.files.uploadhandler.MemoryFileUploadHandler",
    "django.core.files.uploadhandler.TemporaryFileUploadHandler",
]
PROOF_QUOTA_MIB = env.int("PROOF_QUOTA_MIB", default=4096)  # of one customer, where house staff set no other
PROOFS = DATA / "proofs"  # photos and files that back an answer; served to members only, by sites.views.proofs
SILENCED_SYSTEM_CHECKS = ["security.W004", "security.W008"] if not SECURE_TLS else []
LOGGING = {
    "version": 1,
    "disable_existing_loggers": False,
    "filters": {"secrets": {"()": "sites.secret_links.WithoutSecrets"}},
    "handlers": {"console": {"class": "logging.StreamHandler", "filters": ["secrets"]}},
    "root": {"handlers": ["console"], "level": os.environ.get("LOG_LEVEL", "WARNING")},
}
