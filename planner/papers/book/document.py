"""The document: page head and foot, outline, page numbers that are known only at the end.

The book is laid out and drawn once. A page number that is not known yet (of how many pages; on which
page a chapter begins) is drawn as a small named form, and the forms are filled in when all pages stand.
"""

from __future__ import annotations

import calendar
import datetime as dt
import io
import time
from dataclasses import dataclass
from typing import Any

from reportlab import rl_config
from reportlab.platypus.doctemplate import BaseDocTemplate, PageTemplate
from reportlab.platypus.frames import Frame

from planner.papers import fonts
from planner.papers.book.bands import Anchor, Piece
from planner.papers.book.ink import InkCanvas
from planner.papers.book.look import (
    BOTTOM,
    FAINT,
    LEFT,
    RIGHT,
    SMALL,
    SMALL_BOLD,
    SMALL_SOFT,
    TOP,
    Sheet,
    Style,
)
from planner.papers.book.words import shortened, width

HEADING = 40.0  # a heading so near the top of the page is the first thing on it
BETWEEN = " · "
rl_config.useA85 = 0  # plain binary streams: a fifth smaller, and quicker


@dataclass(frozen=True, kw_only=True)
class Imprint:
    """What stands on every page, and in the file's own description."""

    customer: str
    site: str
    fingerprint: str
    edition: str  # "Revision C" or "Draft, not a revision"
    printed: str
    printed_on: dt.date
    title: str
    subject: str
    keywords: str
    author: str


class BookCanvas(InkCanvas):
    """A canvas that remembers where things stand, and fills in page numbers at the end."""

    def __init__(self, *args: Any, **kwds: Any):
        fonts.register()
        super().__init__(*args, **kwds)
        self.places: dict[str, int] = {}
        self.wanted: dict[str, tuple[str, Style, bool]] = {}
        self.running = ""  # what the page's first words belong to
        self.begun: list[str] = []  # what begins on this page

    def _make_preamble(self) -> None:
        self._preamble = "1 0 0 1 0 0 cm"  # reportlab's own would name a font that is not embedded

    def put_anchor(self, anchor: Anchor, top: float) -> None:
        _, y = self.absolutePosition(0, top)
        self.bookmarkPage(anchor.key, fit="XYZ", left=0, top=y + 6)
        self.places.setdefault(anchor.key, self.getPageNumber())
        if anchor.title:
            self.addOutlineEntry(
                anchor.title, anchor.key, anchor.level, closed=1 if anchor.level else 0
            )
        if anchor.running:
            if not self.begun and y > self._pagesize[1] - TOP - HEADING:
                self.running = ""  # nothing of what came before is on this page
            self.begun.append(anchor.running)

    def page_names(self) -> str:
        """What the page belongs to, and what begins on it."""
        names = [name for name in (self.running, *self.begun) if name]
        if self.begun:
            self.running = self.begun[-1]
        self.begun = []
        if len(names) < 3:
            return BETWEEN.join(names[:2])
        return f"{names[0]} – {names[-1]}"

    def put_page_of(self, key: str, x: float, y: float, style: Style, ends: bool = True) -> None:
        """The number of the page where ``key`` stands; it ends at ``x``, or begins there."""
        form = f"page-{key}-{style.font}-{style.size:g}-{'r' if ends else 'l'}"
        self.wanted.setdefault(form, (key, style, ends))
        self.put_form(form, x, y)

    def save(self) -> None:
        pages = self.getPageNumber() - 1
        for form, (key, style, ends) in self.wanted.items():
            self._fill_in(form, str(self.places.get(key, "")), style, ends)
        for page in range(1, pages + 1):
            self._fill_in(f"foot-{page}", f"Page {page} of {pages}", SMALL)
        super().save()

    def _fill_in(self, form: str, words: str, style: Style, ends: bool = True) -> None:
        """Draws the named form: words that end, or begin, at its origin."""
        self.beginForm(form, -120, -6, 120, 20)
        self.put_pieces((Piece(-width(words, style) if ends else 0, 0, words, style),), 0, 0)
        self.endForm()


class BookDocument(BaseDocTemplate):
    """Puts head and foot on each page."""

    def __init__(self, stream: io.BytesIO, sheet: Sheet, imprint: Imprint):
        super().__init__(
            stream,
            pagesize=(sheet.wide, sheet.high),
            title=imprint.title,
            author=imprint.author,
            subject=imprint.subject,
            keywords=imprint.keywords,
            creator="Deskwright",
            producer="Deskwright",
            lang="en",
            displayDocTitle=True,
            initialFontName=fonts.SANS,
            invariant=1,
            pageCompression=1,
        )
        self.sheet, self.imprint = sheet, imprint
        frame = Frame(
            LEFT,
            BOTTOM,
            sheet.measure,
            sheet.room,
            leftPadding=0,
            rightPadding=0,
            topPadding=0,
            bottomPadding=0,
        )
        self.addPageTemplates(PageTemplate("page", [frame], onPageEnd=self._page_end))

    def _makeCanvas(self, filename: Any = None, canvasmaker: type = BookCanvas) -> Any:
        canvas = super()._makeCanvas(filename, BookCanvas)
        canvas.showOutline()
        canvas.addPageLabel(0, prefix="Cover")
        canvas.addPageLabel(1, style="ARABIC", start=2)  # as at the foot of each page
        stamp = canvas._doc._timeStamp  # the day it was printed, not the computer's clock
        stamp.t = calendar.timegm(self.imprint.printed_on.timetuple())
        stamp.lt = time.gmtime(stamp.t)
        stamp.YMDhms = tuple(stamp.lt)[:6]
        return canvas

    def _page_end(self, canvas: Any, document: Any) -> None:
        imprint, sheet = self.imprint, self.sheet
        right = sheet.wide - RIGHT
        page = canvas.getPageNumber()
        if page > 1:
            running = canvas.page_names()
            canvas.put_line(
                LEFT, sheet.high - TOP + 17, right, sheet.high - TOP + 17, FAINT, 0.5, ()
            )
            whose = f"{imprint.customer} · {imprint.site}"
            name = shortened(running, sheet.measure * 0.45, SMALL)
            room = sheet.measure - width(name, SMALL) - 14
            _put(
                canvas, LEFT, sheet.high - TOP + 22, shortened(whose, room, SMALL_BOLD), SMALL_BOLD
            )
            _put(canvas, right - width(name, SMALL), sheet.high - TOP + 22, name, SMALL)
        self._foot(canvas, page, right)

    def _foot(self, canvas: Any, page: int, right: float) -> None:
        imprint = self.imprint
        y = BOTTOM - 24
        canvas.put_line(LEFT, y + 12, right, y + 12, FAINT, 0.5, ())
        _put(canvas, LEFT, y, imprint.edition, SMALL_BOLD)
        x = LEFT + width(imprint.edition, SMALL_BOLD) + 12
        _put(canvas, x, y, "Fingerprint", SMALL_SOFT)
        x += width("Fingerprint", SMALL_SOFT) + 4
        _put(canvas, x, y, imprint.fingerprint, SMALL_BOLD)
        x += width(imprint.fingerprint, SMALL_BOLD) + 12
        _put(canvas, x, y, shortened(imprint.printed, right - 76 - x, SMALL_SOFT), SMALL_SOFT)
        canvas.put_form(f"foot-{page}", right, y)


def _put(canvas: Any, x: float, y: float, text: str, style: Style) -> None:
    canvas.put_pieces((Piece(x, 0, text, style),), 0, y)
