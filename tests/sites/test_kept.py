"""What a device may keep of run sheets: the worker's program, the files it names, and whose a page is."""

import json
import pathlib
import re

import pytest
from django.contrib.staticfiles import finders
from django.core.management import call_command

from sites.web import offline as kept
from sites.web.middleware import POLICY

RUN = "/at/larkfield/mill/run/1/"


def released(response) -> dict:
    return json.loads(re.match(r"const RELEASE = (\{.*\});\n", response.content.decode())[1])


def test_the_workers_headers(client, db):
    response = client.get("/run-worker.js")
    assert response["Content-Type"] == "text/javascript; charset=utf-8"
    assert response["Service-Worker-Allowed"] == "/at/"
    assert response["Cache-Control"] == "no-cache"
    assert response["Content-Security-Policy"] == POLICY and "'unsafe" not in POLICY
    assert not response.cookies
    assert (
        client.get("/run-worker.js", headers={"If-None-Match": response["ETag"]}).status_code == 304
    )
    assert client.post("/run-worker.js").status_code == 405


def test_every_file_of_a_run_sheet_is_named(site, people, enter):
    """What the page asks for, and what its styles ask for in turn."""
    client = enter(people["editor"])
    page = client.get(RUN).content.decode()
    asked = set(re.findall(r'(?:src|href)="(/static/[^"]+)"', page))
    for sheet in [one for one in asked if one.endswith(".css")]:
        text = pathlib.Path(finders.find(sheet.removeprefix("/static/"))).read_text()
        asked |= {
            "/static/" + one.removeprefix("../") for one in re.findall(r'url\("([^"]+)"\)', text)
        }
    assert len(asked) > 10 and any(one.endswith(".ttf") for one in asked)
    assert sorted(released(client.get("/run-worker.js"))["files"]) == sorted(asked)


def test_the_name_follows_every_byte_that_is_kept(client, db, monkeypatch, tmp_path):
    name = kept.made()[0]
    assert kept.made()[0] == name == released(client.get("/run-worker.js"))["name"]
    found = finders.find
    other = tmp_path / "other"
    for changed in ("css/run.css", "fonts/SourceSansPro-Bold.ttf", "js/run-worker.js"):
        other.write_bytes(pathlib.Path(found(changed)).read_bytes() + b"\n")
        monkeypatch.setattr(
            finders,
            "find",
            lambda one, changed=changed: str(other) if one == changed else found(one),
        )
        assert kept.made()[0] != name, changed
    monkeypatch.setattr(finders, "find", found)
    assert kept.made()[0] == name


def test_the_whole_sheet_alone_says_whose_it_is(site, people, enter):
    client = enter(people["reader"])
    whole = client.get(RUN + "whole")
    assert whole["Deskwright-Person"] == str(people["reader"].pk)
    assert whole["Deskwright-Release"] == kept.made()[0]
    assert f'<main id="content" class="run at-list" data-run="{RUN}"' in whole.content.decode()
    for url in (
        RUN,
        RUN + "check/scope-agreed/",
        "/",
        "/you",
        "/at/larkfield/mill/stages/1/",
        RUN + "check/no-such/",
    ):
        assert not client.get(url).has_header("Deskwright-Person"), url
    assert not enter(None).get(RUN + "whole").has_header("Deskwright-Person")
    assert not enter(people["outsider"]).get(RUN + "whole").has_header("Deskwright-Person")


def test_a_sheet_fetched_to_be_kept_takes_no_message_away(site, people, enter):
    client = enter(people["editor"])
    client.post(
        RUN + "check/scope-agreed/", {"state": "trust", "note": "", "seen": 0, "token": "t1"}
    )
    assert "is answered" not in client.get(RUN + "whole").content.decode()
    assert "is answered: on trust" in client.get(RUN).content.decode()


@pytest.mark.parametrize("url", ["/you", RUN, "/at/larkfield/mill/hosts/"])
def test_pages_say_for_whom_they_are(site, people, enter, url):
    """The device takes away what it kept for anybody else."""
    person = people["editor"].pk
    assert re.search(
        rf'<body [^>]*data-person="{person}">', enter(people["editor"]).get(url).content.decode()
    )
    signed_out = enter(None).get(url, follow=True).content.decode()
    assert re.search(r'<body [^>]*data-person="">', signed_out) and "run-shelf" in signed_out


def test_a_page_that_does_not_know_for_whom_it_is_says_nothing(client, db):
    assert "data-person" not in released(client.get("/run-worker.js"))["noLine"]


def test_signing_out_ends_on_a_page_of_the_house(staff, enter):
    response = enter(staff).post("/sign-in/logout/", follow=True)
    assert 'data-person=""' in response.content.decode()


def test_in_a_real_house_the_files_bear_the_names_of_their_content(
    client, db, settings, tmp_path, monkeypatch
):
    """Under the names that a page of this release asks for."""
    settings.STATIC_ROOT = tmp_path
    settings.STORAGES = {
        **settings.STORAGES,
        "staticfiles": {"BACKEND": "sites.web.static_files.NamedByContent"},
    }
    call_command("collectstatic", interactive=False, verbosity=0)
    monkeypatch.setattr(kept, "_made_once", kept.made)
    found = released(client.get("/run-worker.js"))
    assert len(found["files"]) == len(kept.files())
    for one in found["files"]:
        assert (
            re.search(r"\.[0-9a-f]{12}\.\w+$", one)
            and (tmp_path / one.removeprefix("/static/")).exists()
        ), one
    text = (
        tmp_path / next(one for one in found["files"] if "tokens" in one).removeprefix("/static/")
    ).read_text()
    fonts = {"/static/" + one.removeprefix("../") for one in re.findall(r'url\("([^"]+)"\)', text)}
    assert fonts and fonts <= set(found["files"])
    page = client.get("/", follow=True).content.decode()
    asked = set(re.findall(r'(?:src|href)="(/static/js/[^"]+)"', page))
    assert len(asked) > 3 and asked <= set(found["files"])
    modules = {one for one in found["files"] if one.startswith("/static/js/")}
    imported = set()
    for one in modules:
        text = (tmp_path / one.removeprefix("/static/")).read_text()
        imported |= {"/static/js/" + name for name in re.findall(r' from "\./([^"]+)"', text)}
    assert (
        len(imported) > 10 and imported <= modules
    )  # under the same names: no module is there twice
