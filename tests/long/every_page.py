"""Everything the house shows and prints, kept in a folder, to be compared after the inside was changed.

``python -m tests.long.every_page FOLDER [--data FOLDER]`` signs in to the demo house as several people, follows every
link from the home page, and keeps each answer: pages with their white space folded and what differs each time taken
out, papers as their text, workbooks as their cells. ``diff -r BEFORE AFTER`` then tells every difference. The clock
stands still at noon of a set day; to compare two states of the code, give both a copy of the same demo database.
"""

from __future__ import annotations

import argparse
import collections
import datetime
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

PEOPLE = ("ida@house.example", "noor@larkfield.example", "eve@larkfield.example")
MOST_OF_A_KIND = 60  # addresses of one named route, for each person
NOON = datetime.datetime(2026, 11, 30, 12, tzinfo=datetime.UTC)
PAPERS = re.compile(
    r"/(?:print|configs|export|handover|pack)/"
)  # the same for everybody who may: the first asks
LINK = re.compile(r'(?:href|hx-get|src|action|data-whole|data-poll)="(/[^"#]*)')
CHANGES = re.compile(
    r'(?:name="(?:csrfmiddlewaretoken|once)" value="[^"]*")|(?:"X-CSRFToken": "[^"]*")|(?:nonce="[^"]*")'
)
BLOCKS = (
    "html|head|meta|link|title|script|style|body|header|footer|main|nav|aside|section|article|div|p|h[1-6]|ul|ol|li|dl|dt|dd|"
    "table|caption|colgroup|col|thead|tbody|tfoot|tr|th|td|form|fieldset|legend|details|summary|figure|figcaption|hr|br|"
    "blockquote|pre|option|optgroup|template"
)
LEFT_ALONE = re.compile(r"^/(?:static/|sign-in/sessions|health)")


def settled(page: str) -> str:
    """A page without what differs each time, one tag a line.

    White space beside a block's tag shows nothing and goes; beside a tag within a line of text it is told as one
    space, and its absence as none: there it can be seen.
    """
    page = CHANGES.sub("", html.unescape(page))
    page = re.sub(r"\s+", " ", page)
    page = re.sub(r"<([^<>]*?) ?/?>", r"<\1>", page)
    page = re.sub(rf" ?(</?(?:{BLOCKS})\b[^>]*>) ?", r"\n\1\n", page)
    page = re.sub(r"(</?[a-zA-Z][^>]*>)", r"\n\1\n", page)
    return re.sub(r"\n+", "\n", page).strip() + "\n"


def told(kind: str, content: bytes) -> str:
    """What a paper or a file says, as lines of text."""
    if kind.startswith("text/html"):
        return settled(content.decode())
    if kind.startswith("application/pdf"):
        run = subprocess.run(
            ["pdftotext", "-layout", "-", "-"], input=content, capture_output=True, check=True
        )
        return run.stdout.decode()
    if "spreadsheetml" in kind:
        from openpyxl import load_workbook

        book = load_workbook(io.BytesIO(content))
        return "\n".join(
            repr([sheet.title, *row]) for sheet in book for row in sheet.iter_rows(values_only=True)
        )
    if kind.startswith("application/zip"):
        return zipped(content)
    if kind.startswith(("text/", "application/json", "image/svg")):
        return content.decode("utf-8", "replace")
    return hashlib.sha256(content).hexdigest() + "\n"


def zipped(content: bytes) -> str:
    lines = []
    with zipfile.ZipFile(io.BytesIO(content)) as pack:
        for name in sorted(pack.namelist()):
            kind = {"pdf": "application/pdf", "html": "text/html", "xlsx": "spreadsheetml"}.get(
                name.rpartition(".")[2]
            )
            lines.append(f"== {name}\n{told(kind or 'text/plain', pack.read(name))}")
    return "\n".join(lines)


def kept_name(address: str) -> str:
    plain = re.sub(r"[^A-Za-z0-9.-]+", "_", address).strip("_") or "home"
    return f"{plain[:120]}-{hashlib.sha256(address.encode()).hexdigest()[:8]}.txt"


def walk(client, folder: pathlib.Path, papers: bool) -> collections.Counter:
    """Every answer that links lead to; gives how many of each status."""
    from django.urls import Resolver404, resolve

    seen, waiting, of_a_kind, statuses = (
        {"/"},
        collections.deque(["/"]),
        collections.Counter(),
        collections.Counter(),
    )
    folder.mkdir(parents=True, exist_ok=True)
    while waiting:
        address = waiting.popleft()
        try:
            route = resolve(urlsplit(address).path).route
        except Resolver404:
            continue
        of_a_kind[route] += 1
        if of_a_kind[route] > MOST_OF_A_KIND or LEFT_ALONE.match(address):
            continue
        if not papers and PAPERS.search(address):
            continue
        response = client.get(address)
        kind = response.headers.get("Content-Type", "")
        content = b"".join(response.streaming_content) if response.streaming else response.content
        statuses[response.status_code] += 1
        where = response.headers.get("Location", "")
        text = told(kind, content) if content else ""
        (folder / kept_name(address)).write_text(
            f"{address}\n{response.status_code} {kind} {where}\n{text}"
        )
        links = (
            LINK.findall(content.decode("utf-8", "replace")) if kind.startswith("text/html") else []
        )
        for link in [*links, where] if where else links:
            path = urlsplit(urljoin(address, html.unescape(link)))
            found = path.path + (f"?{path.query}" if path.query else "")
            if found not in seen:
                seen.add(found)
                waiting.append(found)
    return statuses


def main() -> None:
    choices = argparse.ArgumentParser(description=__doc__.partition("\n")[0])
    choices.add_argument("folder", type=pathlib.Path)
    choices.add_argument(
        "--data", help="the demo house's folder of data; made when it is not there"
    )
    given = choices.parse_args()
    os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")
    os.environ["DESKWRIGHT_DEMO"] = "yes"
    os.environ["DESKWRIGHT_DATA"] = given.data or str(given.folder) + ".data"
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
            dict(walk(client, given.folder / email.partition("@")[0], email == PEOPLE[0])),
            file=sys.stderr,
        )


if __name__ == "__main__":
    main()
