"""The cover: whose book, of which plan, and how to tell whether the plan has moved since."""

from __future__ import annotations

from typing import Any

from planner.chapters import show_date
from planner.chapters.brief import PURPOSES
from planner.papers.book.bands import Band, Flow, Piece, Shape, baseline, line_shape
from planner.papers.book.circles import frame_shape
from planner.papers.book.edition import DRAFT, Book
from planner.papers.book.look import FAINT, HEAD, INK, SANS, SANS_BOLD, SERIF, SERIF_BOLD, SOFT, TEXT, TEXT_SOFT, Style
from planner.papers.book.words import clean, lines, shortened, width

PRODUCT = Style(SERIF_BOLD, 11, 14)
CUSTOMER = Style(SERIF_BOLD, 34, 39)
SITE = Style(SERIF, 19, 25, SOFT)
CODE = Style(SANS_BOLD, 38, 46)
EDITION = Style(SERIF_BOLD, 19, 25)
LINE = Style(SANS, 10.5, 17)
HIGHEST_WHITE = 100.0  # above the customer's name
CELL = 26.0  # each sign of the fingerprint stands in the middle of one, so that all are equally wide
USE = (
    "Look up the fingerprint. Open the site on screen and compare the code at the head of its page with the one above. "
    "If they are the same, this book is the plan. If not, the plan has moved since this was printed: ask for a new "
    "book, or work only on what both agree on.",
    "Chapters and sections bear the same numbers here as on screen, so two people on the telephone can say “look at "
    "3.2”.",
    "Write what was really built into the column “Built”, answer each check in chapter 10 with one of its circles, "
    "and enter both on screen afterwards. Read the cautions before you touch anything.",
)


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
    purpose = PURPOSES.get(book.facts.site.purpose, clean(book.facts.site.purpose, 40)) or "No purpose chosen"
    wide = width(purpose, TEXT) + 18
    left = flow.measure - wide
    style = TEXT._replace(font=SANS_BOLD)
    pieces = (
        Piece(0, baseline(PRODUCT), "Deskwright", PRODUCT),
        Piece(width("Deskwright", PRODUCT) + 7, baseline(PRODUCT), "Build book", Style(SERIF, 11, 14, SOFT)),
        Piece(left + (wide - width(purpose, style)) / 2, baseline(PRODUCT), purpose, style),
    )
    flow.add(Band(PRODUCT.leading + 4, pieces, (frame_shape(left, flow.measure, -2, 18),)))


def _edition(flow: Flow, book: Book) -> None:
    """The revision and the fingerprint, large enough to be read out."""
    code = clean(book.plan.fingerprint)
    pieces = tuple(
        Piece(at * CELL + (CELL - width(sign, CODE)) / 2, baseline(CODE), sign, CODE) for at, sign in enumerate(code)
    )
    flow.add(Band(2, shapes=(line_shape(0, flow.measure, 1, INK, 1.2),)), Band(12))
    flow.add(_line(shortened(book.edition, flow.measure, EDITION), EDITION))
    reason = clean(book.reason, 400)
    if book.edition == DRAFT:
        reason = "Nobody has frozen this plan. It may change at any moment, and it is nothing to build or to sign from."
    flow.text(reason, TEXT_SOFT, room=flow.measure * 0.8)
    flow.add(Band(14), _line("Fingerprint", HEAD), Band(CODE.leading, pieces), Band(10))
    flow.add(Band(2, shapes=(line_shape(0, flow.measure, 1, INK, 1.2),)))


def _dates(flow: Flow, book: Book) -> None:
    site = book.facts.site
    rows = [
        ("On-site day", show_date(site.on_site_date) if site.on_site_date else ""),
        ("Go-live", show_date(site.go_live_date) if site.go_live_date else ""),
        ("Issued", _on_by(show_date(book.issued_on) if book.issued_on else "", book.issued_by)),
        ("Printed", _on_by(show_date(book.printed_on), book.printed_by)),
        ("Made by", clean(book.house, 200)),
    ]
    open_stoppers = len(book.plan.review.open("stopper"))
    for label, value in rows:
        if not value and label in ("Issued", "Made by"):
            continue
        style = LINE if value else LINE._replace(grey=SOFT)
        flow.add(_row(label, shortened(value or "not known yet", flow.measure - 110, LINE), style))
    word = "stopper" if open_stoppers == 1 else "stoppers"
    text = f"‡ {open_stoppers} open {word}, page" if open_stoppers else "No stopper is open"
    band = _row("State", text, LINE._replace(font=SANS_BOLD if open_stoppers else SANS))
    if open_stoppers:
        band.shapes = (_page_of("open-stoppers", 110 + width(text, LINE._replace(font=SANS_BOLD)) + 3),)
    flow.add(band)


def _row(label: str, value: str, style: Style) -> Band:
    soft = LINE._replace(grey=SOFT)
    return Band(LINE.leading, (Piece(0, baseline(LINE), label, soft), Piece(110, baseline(LINE), value, style)))


def _page_of(key: str, left: float) -> Shape:
    def draw(canvas: Any, x: float, top: float) -> None:
        canvas.put_page_of(key, x + left, top - baseline(LINE), LINE._replace(font=SANS_BOLD), ends=False)

    return draw


def _on_by(on: str, by: str) -> str:
    by = clean(by, 200)
    return f"{on}, by {by}" if on and by else on or by


def _how_to_use(flow: Flow, book: Book) -> None:
    flow.add(Band(1, shapes=(line_shape(0, flow.measure, 0, FAINT, 0.7),)), Band(8))
    flow.text("How to use this book", Style(SERIF_BOLD, 12, 18))
    for text in USE:
        flow.text(text, TEXT, room=flow.measure * 0.86)
        flow.add(Band(4))
