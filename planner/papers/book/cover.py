"""The cover: whose book, of which plan, and how to tell whether the plan has moved since."""

from __future__ import annotations

from typing import Any

from planner import __version__
from planner.papers.book import codes
from planner.papers.book.bands import Band, Flow, Piece, Shape, baseline, line_shape
from planner.papers.book.circles import frame_shape
from planner.papers.book.edition import DRAFT, Book
from planner.papers.book.look import (
    FAINT,
    HEAD,
    INK,
    SOFT,
    TEXT,
    TEXT_SOFT,
    Style,
)
from planner.papers.book.selection import WHOLE
from planner.papers.book.words import clean, lines, shortened, width
from planner.papers.fonts import SANS, SANS_BOLD, SERIF, SERIF_BOLD
from planner.record.chapters import show_date
from planner.record.choices import SitePurpose

PRODUCT = Style(SERIF_BOLD, 11, 14)
RELEASE = f"Deskwright {__version__}"
CUSTOMER = Style(SERIF_BOLD, 34, 39)
SITE = Style(SERIF, 19, 25, SOFT)
SIGNS = Style(SANS_BOLD, 38, 46)
EDITION = Style(SERIF_BOLD, 19, 25)
LINE = Style(SANS, 10.5, 17)
LISTED = (WHOLE, "run-sheets")  # parts with a list of the open stoppers
HIGHEST_WHITE = 100.0  # above the customer's name
CELL = (
    26.0  # each sign of the fingerprint stands in the middle of one, so that all are equally wide
)
CODE = 112.0  # points the code is wide, with its quiet zone


def cover(flow: Flow, book: Book) -> None:
    """Fills the first page."""
    _top(flow, book)
    after = len(flow.bands)
    for line in lines(book.customer, flow.measure, CUSTOMER, most=3):
        flow.add(_line(line, CUSTOMER))
    for line in lines(book.site, flow.measure, SITE, most=2):
        flow.add(_line(line, SITE))
    for part in str(book.facts.site.street_address or "").splitlines()[:3]:
        flow.text(part, TEXT_SOFT, most=1)
    if book.part.slug != WHOLE:
        flow.add(Band(16), _line(shortened(book.part.title, flow.measure, EDITION), EDITION))
        flow.text(book.part.holds, TEXT_SOFT, room=flow.measure * 0.8)
    flow.add(Band(34))
    _edition(flow, book)
    flow.add(Band(22))
    _dates(flow, book)
    flow.add(Band(26))
    _how_to_use(flow, book)
    left = flow.sheet.room - sum(band.height for band in flow.bands)
    flow.bands.insert(after, Band(min(max(left - 12, 12), HIGHEST_WHITE)))


def _line(text: str, style: Style, x: float = 0) -> Band:
    return Band(style.leading, (Piece(x, baseline(style), text, style),))


def _top(flow: Flow, book: Book) -> None:
    purpose = (
        SitePurpose.words_of(book.facts.site.purpose, clean(book.facts.site.purpose, 40))
        or "No purpose chosen"
    )
    wide = width(purpose, TEXT) + 18
    left = flow.measure - wide
    style = TEXT._replace(font=SANS_BOLD)
    pieces = (
        Piece(0, baseline(PRODUCT), RELEASE, PRODUCT),
        Piece(
            width(RELEASE, PRODUCT) + 7,
            baseline(PRODUCT),
            book.part.title,
            Style(SERIF, 11, 14, SOFT),
        ),
        Piece(left + (wide - width(purpose, style)) / 2, baseline(PRODUCT), purpose, style),
    )
    flow.add(Band(PRODUCT.leading + 4, pieces, (frame_shape(left, flow.measure, -2, 18),)))


def _edition(flow: Flow, book: Book) -> None:
    """The revision and the fingerprint, large enough to be read out; the code that leads to the site beside them."""
    code = clean(book.plan.fingerprint)
    link = codes.address(book.site_url)
    room = flow.measure - (CODE + 16 if link else 0)
    pieces = tuple(
        Piece(at * CELL + (CELL - width(sign, SIGNS)) / 2, baseline(SIGNS), sign, SIGNS)
        for at, sign in enumerate(code)
    )
    flow.add(Band(2, shapes=(line_shape(0, flow.measure, 1, INK, 1.2),)), Band(12))
    start = len(flow.bands)
    flow.add(_line(shortened(book.edition, room, EDITION), EDITION))
    if book.part.people:
        reason = clean(book.reason, 400)
    else:
        reason = ""
    if book.edition == DRAFT:
        reason = "Nobody has frozen this plan. It may change at any moment, and it is nothing to build or to sign from."
    flow.text(reason, TEXT_SOFT, room=min(room, flow.measure * 0.8))
    flow.add(Band(14), _line("Fingerprint", HEAD), Band(SIGNS.leading, pieces))
    if link:
        first = flow.bands[start]
        first.shapes = (codes.code_shape(link, flow.measure - CODE + CODE / 12, -4, CODE),)
        flow.add(Band(max(CODE - 8 - sum(band.height for band in flow.bands[start:]), 0)))
    flow.add(Band(10), Band(2, shapes=(line_shape(0, flow.measure, 1, INK, 1.2),)))


def _dates(flow: Flow, book: Book) -> None:
    site, people = book.facts.site, book.part.people
    rows = [
        ("On-site day", show_date(site.on_site_date) if site.on_site_date else ""),
        ("Go-live", show_date(site.go_live_date) if site.go_live_date else ""),
        (
            "Issued",
            _on_by(
                show_date(book.issued_on) if book.issued_on else "",
                book.issued_by if people else "",
            ),
        ),
        ("Printed", _on_by(show_date(book.printed_on), book.printed_by if people else "")),
        ("Made by", clean(book.house, 200)),
    ]
    open_stoppers = len(book.whole.review.open("stopper"))
    listed = book.part.slug in LISTED
    for label, value in rows:
        if not value and label in ("Issued", "Made by"):
            continue
        if value:
            style = LINE
        else:
            style = LINE._replace(grey=SOFT)
        flow.add(_row(label, shortened(value or "not known yet", flow.measure - 110, LINE), style))
    if open_stoppers == 1:
        word = "stopper"
    else:
        word = "stoppers"
    if open_stoppers:
        text = f"‡ {open_stoppers} open {word}{', page' if listed else ''}"
    else:
        text = "No stopper is open"
    band = _row("State", text, LINE._replace(font=SANS_BOLD if open_stoppers else SANS))
    if open_stoppers and listed:
        band.shapes = (
            _page_of("open-stoppers", 110 + width(text, LINE._replace(font=SANS_BOLD)) + 3),
        )
    flow.add(band)


def _row(label: str, value: str, style: Style) -> Band:
    soft = LINE._replace(grey=SOFT)
    return Band(
        LINE.leading,
        (Piece(0, baseline(LINE), label, soft), Piece(110, baseline(LINE), value, style)),
    )


def _page_of(key: str, left: float) -> Shape:
    def draw(canvas: Any, x: float, top: float) -> None:
        canvas.put_page_of(
            key, x + left, top - baseline(LINE), LINE._replace(font=SANS_BOLD), ends=False
        )

    return draw


def _on_by(on: str, by: str) -> str:
    by = clean(by, 200)
    if on and by:
        return f"{on}, by {by}"
    return on or by


def _how_to_use(flow: Flow, book: Book) -> None:
    flow.add(Band(1, shapes=(line_shape(0, flow.measure, 0, FAINT, 0.7),)), Band(8))
    if book.part.slug == WHOLE:
        name = "this book"
    else:
        name = "these pages"
    flow.text(f"How to use {name}", Style(SERIF_BOLD, 12, 18))
    for text in book.part.use:
        flow.text(text, TEXT, room=flow.measure * 0.86)
        flow.add(Band(4))
