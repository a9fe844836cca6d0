"""Everything the house shows and prints, kept in a folder, to be compared after the inside was changed.

``python -m tests.long.every_page walk FOLDER [--data FOLDER]`` signs in to the demo house as several people, follows
every link from the home page, and keeps each answer: pages as they are, papers as their text, workbooks as their
cells. ``python -m tests.long.every_page compare BEFORE AFTER`` then tells every difference that somebody could see:
white space that shows nothing and what differs each time are passed over. The clock stands still at noon of a set
day; to compare two states of the code, give each a copy of the same demo database.
"""

from __future__ import annotations

import argparse
import collections
import datetime
import difflib
import hashlib
import html
import io
import os
import pathlib
import re
import subprocess
import sys
import zipfile
from urllib.parse import urljoin, urlsplit

from tests.long.seen import lines_seen

PEOPLE = ("ida@house.example", "noor@larkfield.example", "eve@larkfield.example")
MOST_OF_A_KIND = 60  # addresses of one named route, for each person
NOON = datetime.datetime(2026, 11, 30, 12, tzinfo=datetime.UTC)
PAPERS = re.compile(
    r"/(?:print|configs|export|handover|pack)/"
)  # the same for everybody who may: the first asks
LINK = re.compile(r'(?:href|hx-get|src|action|data-whole|data-poll)="(/[^"#]*)')
LEFT_ALONE = re.compile(r"^/(?:static/|sign-in/sessions|health)")
TEXTS = ("text/", "application/json", "image/svg")


# -- walking -------------------------------------------------------------------------------------------------------


def told(kind: str, content: bytes) -> str:
    """What a page, a paper or a file says, as text."""
    if kind.startswith(TEXTS):
        return content.decode("utf-8", "replace")
    if kind.startswith("application/pdf"):
        run = subprocess.run(
            ["pdftotext", "-layout", "-", "-"], input=content, capture_output=True, check=True
        )
        return run.stdout.decode()
    if "spreadsheetml" in kind:
        return _cells(content)
    if kind.startswith("application/zip"):
        return _unpacked(content)
    return hashlib.sha256(content).hexdigest() + "\n"


def _cells(content: bytes) -> str:
    from openpyxl import load_workbook

    lines = []
    for sheet in load_workbook(io.BytesIO(content)):
        for row in sheet.iter_rows(values_only=True):
            lines.append(repr([sheet.title, *row]))
    return "\n".join(lines)


def _unpacked(content: bytes) -> str:
    kinds = {"pdf": "application/pdf", "xlsx": "spreadsheetml"}
    lines = []
    with zipfile.ZipFile(io.BytesIO(content)) as pack:
        for name in sorted(pack.namelist()):
            kind = kinds.get(name.rpartition(".")[2], "text/plain")
            lines.append(f"== {name}\n{told(kind, pack.read(name))}")
    return "\n".join(lines)


def kept_name(address: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9.-]+", "_", address).strip("_") or "home"
    return f"{plain[:120]}-{hashlib.sha256(address.encode()).hexdigest()[:8]}.txt"


def leads_to(address: str, response, text: str) -> list[str]:
    """The addresses of this house that an answer links or leads to."""
    links = []
    if response.headers.get("Content-Type", "").startswith("text/html"):
        links = LINK.findall(text)
    if "Location" in response.headers:
        links.append(response.headers["Location"])
    addresses = []
    for link in links:
        parts = urlsplit(urljoin(address, html.unescape(link)))
        addresses.append(f"{parts.path}?{parts.query}" if parts.query else parts.path)
    return addresses


def walk(client, folder: pathlib.Path, papers: bool) -> collections.Counter:
    """Every answer that links lead to; gives how many of each status."""
    from django.urls import Resolver404, resolve

    seen, waiting = {"/"}, collections.deque(["/"])
    of_a_kind, statuses = collections.Counter(), collections.Counter()
    folder.mkdir(parents=True, exist_ok=True)
    while waiting:
        address = waiting.popleft()
        try:
            route = resolve(urlsplit(address).path).route
        except Resolver404:
            continue
        if LEFT_ALONE.match(address):
            continue
        of_a_kind[route] += 1
        if of_a_kind[route] > MOST_OF_A_KIND:
            continue
        if not papers and PAPERS.search(address):
            continue
        response = client.get(address)
        statuses[response.status_code] += 1
        kind = response.headers.get("Content-Type", "")
        content = b"".join(response.streaming_content) if response.streaming else response.content
        text = told(kind, content) if content else ""
        first = f"{address}\n{response.status_code} {kind} {response.headers.get('Location', '')}\n"
        (folder / kept_name(address)).write_text(first + text)
        for found in leads_to(address, response, text):
            if found not in seen:
                seen.add(found)
                waiting.append(found)
    return statuses


def take(folder: pathlib.Path, data: str) -> None:
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    os.environ["DESKWRIGHT_DEMO"] = "yes"
    os.environ["DESKWRIGHT_DATA"] = data
    import django

    django.setup()
    from django.conf import settings
    from django.core.management import call_command
    from django.test import Client
    from django.utils import timezone

    from sites.models import Person

    timezone.now = lambda: NOON
    settings.ALLOWED_HOSTS = ["*"]
    call_command("prepare", demo=True)
    for email in PEOPLE:
        client = Client(raise_request_exception=False)
        client.force_login(Person.objects.get(email=email), "sites.web.accounts.HouseBackend")
        print(
            email,
            dict(walk(client, folder / email.partition("@")[0], email == PEOPLE[0])),
            file=sys.stderr,
        )


# -- comparing -----------------------------------------------------------------------------------------------------


def seen_in(file: pathlib.Path) -> list[str]:
    if not file.exists():
        return []
    text = file.read_text()
    address, status, content = text.split("\n", 2)
    if " text/html" in status:
        return [address, status, *lines_seen(content)]
    return text.splitlines()


def compare(before: pathlib.Path, after: pathlib.Path) -> int:
    """Prints what differs, page by page; gives the number of pages."""
    names = set()
    for folder in (before, after):
        names.update(file.relative_to(folder) for file in folder.rglob("*.txt"))
    differ = 0
    for name in sorted(names):
        was, now = seen_in(before / name), seen_in(after / name)
        if was != now:
            differ += 1
            print(f"\n=== {name}: {was[0] if was else 'new'}")
            for line in difflib.unified_diff(was[1:], now[1:], lineterm="", n=3):
                print(line)
    print(f"{differ} of {len(names)} differ", file=sys.stderr)
    return differ


def main() -> None:
    choices = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    kinds = choices.add_subparsers(dest="what", required=True)
    walking = kinds.add_parser("walk")
    walking.add_argument("folder", type=pathlib.Path)
    walking.add_argument(
        "--data", help="the demo house's folder of data; made when it is not there"
    )
    comparing = kinds.add_parser("compare")
    comparing.add_argument("before", type=pathlib.Path)
    comparing.add_argument("after", type=pathlib.Path)
    given = choices.parse_args()
    if given.what == "walk":
        take(given.folder, given.data or f"{given.folder}.data")
    else:
        sys.exit(compare(given.before, given.after) > 0)


if __name__ == "__main__":
    main()
