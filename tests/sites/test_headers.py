"""What every answer bears: that no browser keeps it, what goes at signing out, what holds behind TLS."""

import ast
import json
import pathlib

import pytest

from tests import demo_house
from tests.starts import KEY, REAL, ROOT, settings_of, start

HARBOUR = "/at/larkfield/harbour/"
PAGES = [
    "/",
    "/you",
    "/sign-in/password/change/",
    "/at/larkfield/",
    HARBOUR + "brief/",
    HARBOUR + "hosts/?add=hosts",
    HARBOUR + "stages/2/",
    HARBOUR + "run/1/",
    HARBOUR + "run/1/whole",
    HARBOUR + "watch",
    HARBOUR + "day",
    HARBOUR + "print/build-book.pdf",
    HARBOUR + "print/dates.ics",
    HARBOUR + "print/site.json",
    HARBOUR + "hosts",
    HARBOUR + "no-such-page/",
    "/at/nobody/",
]


@pytest.fixture
def noor(db, enter, django_user_model):
    demo_house.put_in_place()
    return enter(django_user_model.objects.get(email="noor@larkfield.example"))


def test_no_private_page_and_no_paper_is_kept(noor):
    kept = {url: noor.get(url).get("Cache-Control", "") for url in PAGES}
    assert {url: words for url, words in kept.items() if "no-store" not in words} == {}
    assert "no-store" in noor.post(HARBOUR + "add/hosts", {})["Cache-Control"]


def test_no_proof_is_kept(noor):
    from sites.models import Proof

    proof = Proof.objects.exclude(small_place="").first()
    at = f"/at/{proof.site.customer.code}/{proof.site.code}/proof/{proof.pk}"
    for url in (at, at + "/small"):
        answer = noor.get(url)
        assert answer.status_code == 200 and answer["Cache-Control"] == "private, no-store"


def test_pages_of_nobody_are_not_kept_either(client, db):
    for url in ("/sign-in/login/", "/sign-in/password/reset/", HARBOUR, "/health"):
        assert "no-store" in client.get(url)["Cache-Control"]


def test_the_worker_and_static_files_may_be_kept(client, db):
    assert client.get("/run-worker.js")["Cache-Control"] == "no-cache"
    assert "no-store" not in client.get("/static/css/tokens.css")["Cache-Control"]


def test_no_view_allows_more():
    """Every Cache-Control that is written down in the house says no-store, but the worker's."""
    found = {}
    for path in pathlib.Path(ROOT / "sites").rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text())):
            words = [one.value for one in ast.walk(node) if isinstance(one, ast.Constant)]
            if isinstance(node, ast.Assign | ast.Dict | ast.Call) and "Cache-Control" in words:
                after = [
                    w
                    for w in words
                    if isinstance(w, str) and ("no-" in w or "max-age" in w or "public" in w)
                ]
                found.setdefault(path.name, set()).update(after)
    assert found.pop("kept.py") == {"no-cache"}
    assert len(found) > 3 and all(words == {"private, no-store"} for words in found.values()), found


# -- signing out ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("sent", "cleared"),
    [
        ({}, '"cache"'),
        ({"waits": "nothing"}, '"cache", "storage"'),
        ({"waits": "something"}, '"cache"'),
    ],
)
def test_signing_out_clears_the_browser(noor, sent, cleared):
    answer = noor.post("/sign-in/logout/", sent)
    assert answer.status_code == 302 and answer["Clear-Site-Data"] == cleared
    after = noor.get(answer["Location"])
    assert after.status_code == 200 and not after.has_header("Clear-Site-Data")
    assert not noor.get("/health").has_header("Clear-Site-Data")


def test_pages_without_a_sign_out_clear_nothing(noor):
    assert not any(noor.get(url).has_header("Clear-Site-Data") for url in PAGES[:5])


# -- behind TLS ----------------------------------------------------------------------------------

ASK = """
import json, django; django.setup()
from django.test import Client
plain, tls = Client(), Client(headers={"X-Forwarded-Proto": "https"})
found = {}
for name, client, url in (("plain", plain, "/sign-in/login/?next=/you"), ("health", plain, "/health"),
                          ("ready page", plain, "/at/a/b/ready"), ("tls", tls, "/sign-in/login/")):
    answer = client.get(url, headers={"Host": "desk.example.com"})
    found[name] = {"status": answer.status_code, **dict(answer.items()),
                   "cookies": [one.OutputString() for one in answer.cookies.values()]}
print(json.dumps(found))
"""
IMPORT = {"DJANGO_SETTINGS_MODULE": "planner.settings"}


def test_behind_tls(tmp_path):
    """A real start, asked as a proxy asks: without TLS only whatever watches the server gets an answer."""
    statics = start(
        "-c",
        "import django; django.setup(); from django.core.management import call_command as c; "
        "c('collectstatic', interactive=False, verbosity=0)",
        data=tmp_path,
        **REAL,
        **IMPORT,
    )
    assert statics.returncode == 0, statics.stderr
    ran = start("-c", ASK, data=tmp_path, **TLS, **REAL, **IMPORT)
    assert ran.returncode == 0, ran.stderr
    found = json.loads(ran.stdout)
    assert (found["plain"]["status"], found["plain"]["Location"]) == (
        301,
        "https://desk.example.com/sign-in/login/?next=/you",
    )
    assert found["health"]["status"] == 200 and found["ready page"]["status"] == 301
    assert (
        found["tls"]["status"] == 200
        and found["tls"]["Strict-Transport-Security"] == "max-age=31536000"
    )
    [cookie] = found["tls"]["cookies"]
    assert cookie.startswith("__Host-csrftoken=") and "Domain" not in cookie
    assert all(part in cookie for part in ("; Secure", "; Path=/", "; SameSite=Lax"))


TLS = {"BEHIND_TLS": "yes", "TRUSTED_PROXIES": "127.0.0.1"}


def test_what_is_set_behind_tls(tmp_path):
    names = (
        "SESSION_COOKIE_NAME",
        "SESSION_COOKIE_SECURE",
        "SESSION_COOKIE_HTTPONLY",
        "SESSION_COOKIE_SAMESITE",
        "SESSION_COOKIE_PATH",
        "SECURE_HSTS_SECONDS",
        "SECURE_HSTS_INCLUDE_SUBDOMAINS",
    )
    script = (
        "import json, sys, django; django.setup(); from django.conf import settings as s; "
        "print(json.dumps([getattr(s, n) for n in sys.argv[1:]]))"
    )
    tls = {**TLS, "HSTS_SUBDOMAINS": "yes", "HSTS_SECONDS": "600"}
    ran = start("-c", script, *names, data=tmp_path, **REAL, **IMPORT, **tls)
    assert json.loads(ran.stdout) == ["__Host-sessionid", True, True, "Lax", "/", 600, True], (
        ran.stderr
    )
    ran = start("-c", script, *names, data=tmp_path, **REAL, **IMPORT)
    assert json.loads(ran.stdout) == ["sessionid", False, True, "Lax", "/", 0, False], ran.stderr


def test_the_run_sheet_reads_the_name_that_is_set(tmp_path):
    """What a device sends later takes the token from the cookie, whatever its name here."""
    program = (ROOT / "static/js/run-post.js").read_text()
    plain = settings_of("DEBUG", data=tmp_path, SECRET_KEY=KEY, ALLOWED_HOSTS="a.example")
    tls = settings_of("CSRF_COOKIE_NAME", data=tmp_path, **TLS, **REAL)
    assert plain == {"DEBUG": False}
    assert f'cookie("{tls["CSRF_COOKIE_NAME"]}") || cookie("csrftoken")' in program
