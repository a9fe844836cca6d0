"""What of a page can be seen: its tags and words in order, without the white space that shows nothing.

A browser shows a run of white space as one space, and none at all at the beginning and end of a line or beside a box
that stands on lines of its own. Beside words and tags within a line it shows: there a space too many or too few is a
difference. Which elements are boxes follows from their tag and from the style sheets (``BOXES``, ``LAID_OUT``).
"""

from __future__ import annotations

import html
import re
from dataclasses import dataclass, field

TOKEN = re.compile(
    r"<!--.*?-->|<!doctype[^>]*>|</?[a-zA-Z](?:[^<>\"']|\"[^\"]*\"|'[^']*')*>", re.S | re.I
)
NAME = re.compile(r"</?([a-zA-Z][\w-]*)")
ATTRIBUTE = re.compile(r"([^\s=\"'<>/]+)(?:\s*=\s*(\"[^\"]*\"|'[^']*'|[^\s\"'>]+))?")
SPACE = re.compile(r"[ \t\n\r\f]+")


def words(text: str) -> frozenset[str]:
    return frozenset(text.split())


VOID = words("area base br col embed hr img input link meta source track wbr")
AS_IT_IS = {"pre", "textarea", "script", "style"}
ASIDE = {"script", "style", "template", "meta", "link"}  # they show nothing where they stand
BLOCKS = words(
    "html head title body header footer main nav aside section article div p h1 h2 h3 h4 h5 h6 ul ol li dl dt dd table "
    "caption colgroup col thead tbody tfoot tr th td form fieldset legend details summary figure figcaption hr br "
    "blockquote pre option optgroup progress"
)
IN_LINE_BUT_OWN = {
    "button",
    "select",
    "textarea",
    "svg",
}  # a box within a line; inside begins a line of its own
# from static/css: elements that stand on lines of their own whatever their tag, as ancestors and element
BOXES = (
    ".beneath",
    ".under",
    ".input",
    ".run-field",
    ".big-value span",
    ".clash label",
    ".answers label",
)
# ... and those whose children do: display flex or grid, at every width
LAID_OUT = (
    ".head",
    ".in-row",
    ".note-do",
    ".actions",
    ".ledger-fields",
    ".choices",
    ".choose",
    ".input",
    ".removed",
    ".search",
    ".given",
    ".proofs",
    ".within",
    ".answers label",
    ".rail a",
    ".group .step",
    ".openings li",
    ".ticks .tick",
    ".run-head",
    ".run-kind",
    ".run-value",
    ".run-photos",
    ".run-two",
    ".run-next",
    ".run-step",
    ".run-answers",
    ".run-answers button",
    ".run-lines a",
)
EMPTY_MATTERS = {"watch", "more"}  # hidden while :empty


@dataclass
class Element:
    tag: str
    classes: set[str]
    box: bool = False
    own: bool = False
    inside_from: int = 0

    def fits(self, selector: str) -> bool:
        tag, *classes = selector.split(".")
        return tag in ("", self.tag) and self.classes.issuperset(classes)


@dataclass
class Line:
    """Where a line of words stands: whether it shows something yet, and the space that shows if more follows."""

    open: bool = False
    space_at: int | None = None


@dataclass
class Page:
    seen: list[str] = field(default_factory=list)
    elements: list[Element] = field(default_factory=list)
    lines: list[Line] = field(default_factory=lambda: [Line()])

    @property
    def line(self) -> Line:
        return self.lines[-1]

    def space(self) -> None:
        if self.line.open and self.line.space_at is None:
            self.line.space_at = len(self.seen)
            self.seen.append(" ")

    def words(self, text: str) -> None:
        folded = SPACE.sub(" ", text)
        words = folded.strip(" ")
        if folded.startswith(" "):
            self.space()
        if words:
            self.show(words)
            if folded.endswith(" "):
                self.space()

    def show(self, what: str) -> None:
        self.seen.append(what)
        self.line.open, self.line.space_at = True, None

    def aside(self, what: str) -> None:
        """Something that shows nothing: before or after a space is all the same."""
        if self.line.space_at is None:
            self.seen.append(what)
        else:
            self.seen.insert(self.line.space_at, what)
            self.line.space_at += 1

    def end_line(self) -> None:
        if self.line.space_at is not None:
            del self.seen[self.line.space_at]
        self.line.open, self.line.space_at = False, None

    def opened(self, token: str, at: int) -> None:
        tag = NAME.match(token)[1].lower()
        shown, given = attributes(token[len(tag) + 1 : -1])
        element = Element(tag, set(given.get("class", "").split()), inside_from=at)
        element.box = tag in BLOCKS or self.is_box(element)
        element.own = not element.box and (
            tag in IN_LINE_BUT_OWN or bool(element.classes & {"button", "answer"})
        )
        told = f"<{tag}{shown}>"
        if tag in ASIDE or given.get("type") == "hidden":
            self.aside(told)
        elif element.box:
            self.end_line()
            self.seen.append(told)
        elif element.own or tag in VOID:
            self.show(told)
        else:
            self.seen.append(told)
        if tag not in VOID:
            self.elements.append(element)
            if element.own:
                self.lines.append(Line())

    def is_box(self, element: Element) -> bool:
        if self.elements and any(
            self.stands(self.elements[:-1], self.elements[-1], one) for one in LAID_OUT
        ):
            return True
        return any(self.stands(self.elements, element, one) for one in BOXES)

    @staticmethod
    def stands(above: list[Element], element: Element, selector: str) -> bool:
        """Whether an element is what a selector of tags and classes, outermost first, says."""
        *outer, last = selector.split()
        if not element.fits(last):
            return False
        rest = iter(above)
        return all(any(one.fits(part) for one in rest) for part in outer)

    def closed(self, token: str, page: str, at: int) -> None:
        tag = NAME.match(token)[1].lower()
        if not any(one.tag == tag for one in self.elements):
            self.seen.append(f"{token} closes nothing")
            return
        while True:
            element = self.elements.pop()
            if element.own:
                self.end_line()
                self.lines.pop()
            if element.box:
                self.end_line()
            if element.classes & EMPTY_MATTERS and page[element.inside_from : at].isspace():
                self.seen.append("(not empty)")
            if element.tag == tag:
                break
        if tag in ASIDE:
            self.aside(f"</{tag}>")
        else:
            self.seen.append(f"</{tag}>")


def attributes(text: str) -> tuple[str, dict[str, str]]:
    """A tag's attributes in the order of their names, as text and as they are."""
    found = {}
    for name, value in ATTRIBUTE.findall(text):
        value = html.unescape(value[1:-1] if value[:1] in "\"'" else value)
        if name == "class":
            value = " ".join(value.split())
        found[name.lower()] = value
    if "accept" in found:
        found["accept"] = found["accept"].replace(", ", ",")
    for name in ("nonce", "data-made"):
        if name in found:
            found[name] = "…"
    if found.get("name") in ("csrfmiddlewaretoken", "once", "token"):
        found["value"] = "…"
    if "hx-headers" in found:
        found["hx-headers"] = re.sub(r'(?<="X-CSRFToken": ")[^"]*', "…", found["hx-headers"])
    shown = "".join(f' {name}="{value}"' for name, value in sorted(found.items()))
    return shown, found


def lines_seen(text: str) -> list[str]:
    page, at = Page(), 0
    while at < len(text):
        last = page.elements[-1].tag if page.elements else ""
        if last in AS_IT_IS:
            end = re.compile(rf"</{last}\s*>", re.I).search(text, at)
            stop = end.start() if end else len(text)
            page.seen.append(repr(html.unescape(text[at:stop]).removeprefix("\n")))
            page.closed(f"</{last}>", text, stop)
            at = end.end() if end else len(text)
            continue
        token = TOKEN.search(text, at)
        if token is None:
            page.words(html.unescape(text[at:]))
            break
        if token.start() > at:
            page.words(html.unescape(text[at : token.start()]))
        at = token.end()
        if token[0].startswith("</"):
            page.closed(token[0], text, token.start())
        elif token[0].lower().startswith("<!doctype"):
            page.seen.append("<!doctype html>")
        elif not token[0].startswith("<!--"):
            page.opened(token[0], at)
    return page.seen
