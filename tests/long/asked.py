"""What pages ask for: names that the views read of a request, and the forms and links of the pages themselves."""

from __future__ import annotations

import ast
import pathlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from html.parser import HTMLParser
from urllib.parse import parse_qsl, urljoin, urlsplit

SITES = pathlib.Path(__file__).parents[2] / "sites"
READERS = ("get", "getlist", "partition")


def names_read() -> dict[str, set[str]]:
    """The names that each module of the app reads of a query or a form, by the module's name."""
    return {str(path.relative_to(SITES)): set(_names(path)) for path in sorted(SITES.rglob("*.py"))}


def _names(path: pathlib.Path) -> Iterator[str]:
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr in READERS
        ):
            if _is_sent(node.func.value) and node.args:
                yield from _told(node.args[0])
        elif isinstance(node, ast.Subscript) and _is_sent(node.value):
            yield from _told(node.slice)
        elif isinstance(node, ast.Compare) and any(_is_sent(one) for one in node.comparators):
            yield from _told(node.left)


def _is_sent(node: ast.AST) -> bool:
    """``request.GET``, ``request.POST``, ``request.FILES``, or what such a thing is called where it is handed on."""
    if isinstance(node, ast.Attribute):
        return node.attr in ("GET", "POST", "FILES")
    return isinstance(node, ast.Name) and node.id in ("sent", "asked", "data", "GET", "POST")


def _told(node: ast.AST) -> Iterator[str]:
    """A name as written; of one that is put together, its beginning with a key that might follow."""
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.value
    elif isinstance(node, ast.JoinedStr) and isinstance(node.values[0], ast.Constant):
        yield f"{node.values[0].value}1"


@dataclass
class Form:
    """A form as a page holds it: where it goes, what stands in its fields, and what could be chosen."""

    action: str
    method: str
    values: list[tuple[str, str]] = field(default_factory=list)
    files: list[str] = field(default_factory=list)

    @property
    def shape(self) -> tuple:
        """Forms of one shape are one form: their fields but for the numbers in them."""
        letters = {
            "".join(c for c in name if not c.isdigit())
            for name in (*dict(self.values), *self.files)
        }
        return self.method, tuple(sorted(letters))


class Page(HTMLParser):
    """Gathers the forms of a page, and its links."""

    def __init__(self, url: str):
        super().__init__()
        self.url, self.forms, self.links = url, [], []
        self._form: Form | None = None
        self._select, self._area = "", ""

    def handle_starttag(self, tag, attrs):
        said = {name: value or "" for name, value in attrs}
        if tag == "a" and said.get("href"):
            self.links.append(urljoin(self.url, said["href"]))
        elif tag == "form":
            self._form = Form(
                urljoin(self.url, said.get("action", "")), said.get("method", "get").lower()
            )
            self.forms.append(self._form)
        elif (self._form is not None and said.get("name")) or tag == "option":
            self._control(tag, said)

    def _control(self, tag: str, said: dict[str, str]) -> None:
        form = self._form
        if tag == "option":
            if (
                form is not None
                and self._select
                and ("selected" in said or self._select not in dict(form.values))
            ):
                form.values = [one for one in form.values if one[0] != self._select]
                form.values.append((self._select, said.get("value", "")))
        elif tag == "select":
            self._select = said["name"]
        elif tag == "textarea":
            self._area = said["name"]
            form.values.append((said["name"], ""))
        elif said.get("type") == "file":
            form.files.append(said["name"])
        else:
            form.values.append((said["name"], said.get("value", "")))

    def handle_data(self, data):
        if self._area and self._form is not None:
            before = dict(self._form.values)[self._area]
            self._form.values = [one for one in self._form.values if one[0] != self._area]
            self._form.values.append((self._area, before + data.strip()))

    def handle_endtag(self, tag):
        if tag == "form":
            self._form = None
        elif tag == "select":
            self._select = ""
        elif tag == "textarea":
            self._area = ""


def read_page(url: str, content: bytes) -> Page:
    page = Page(url)
    page.feed(content.decode("utf-8", "replace"))
    return page


def asked_of(url: str) -> list[tuple[str, str]]:
    """What an address asks for."""
    return parse_qsl(urlsplit(url).query, keep_blank_values=True)
