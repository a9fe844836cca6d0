"""How long the build book takes beside plain reportlab. Run: python -m tests.bench.book

Yardstick: the same headings, texts, table rows and drawings in reportlab's own Paragraph and Table, with the same
fonts, in the same run. It has no page heads and feet, outline, contents, links, marks or lines to write on; the book
has them. The plan is worked out before both: what is measured is the paper alone.
"""

from __future__ import annotations

import datetime as dt
import gc
import io
import os
import sys
import time
from collections.abc import Callable
from typing import Any
from xml.sax.saxutils import escape

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "planner.settings")

import pypdf
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Paragraph, SimpleDocTemplate, Table, TableStyle

from planner.papers import fonts
from planner.papers.book import PARTS, build_book, ledger, parts, pictures, run_sheet
from planner.papers.book.bands import Flow
from planner.papers.book.look import (
    BOTTOM,
    CELL,
    FAINT,
    LEFT,
    RIGHT,
    SECTION,
    SMALL,
    TEXT,
    TOP,
    Style,
    sheet,
)
from planner.papers.book.words import clean
from planner.papers.drawings import to_reportlab
from planner.plan import Plan
from tests.papers.demo_facts import demo

TIMES = 5
PRINTED = dt.date(2027, 1, 12)
URL = "https://plan.example.org/at/x/y/"
RULE = [
    ("LINEBELOW", (0, 0), (-1, -1), 0.4, (FAINT, FAINT, FAINT)),
    ("VALIGN", (0, 0), (-1, -1), "TOP"),
]
Item = tuple[str, Any]


class Recorder:
    """Notes what a book says while it is made, in order; inside a recorded call nothing is noted twice."""

    def __init__(self) -> None:
        self.found: list[Item] = []
        self.deep = 0
        self.undo: list[tuple[Any, str, Any]] = []

    def watch(self, owner: Any, name: str, note: Callable[..., list[Item]]) -> None:
        real = getattr(owner, name)

        def watched(*args: Any, **kwds: Any) -> Any:
            if not self.deep:
                self.found += note(*args, **kwds)
            self.deep += 1
            try:
                return real(*args, **kwds)
            finally:
                self.deep -= 1

        self.undo.append((owner, name, real))
        setattr(owner, name, watched)

    def __enter__(self) -> Recorder:
        real = ledger.ledger
        for module in [
            one for name, one in sys.modules.items() if name.startswith("planner.papers.book")
        ]:
            if getattr(module, "ledger", None) is real:
                self.watch(module, "ledger", _table)
        self.watch(
            parts,
            "pairs",
            lambda flow, rows, *a, **k: [("table", [[one.label, one.value] for one in rows])],
        )
        self.watch(
            parts, "section", lambda flow, number, title, *a, **k: [("head", f"{number} {title}")]
        )
        self.watch(
            parts,
            "chapter",
            lambda flow, number, name, intro="", **k: [("head", name), ("text", intro)],
        )
        self.watch(pictures, "put", lambda flow, drawing, **k: [("drawing", drawing)])
        self.watch(
            run_sheet.RunSheet, "_value", lambda _, one: [("text", f"{one.value_name} {one.value}")]
        )
        self.watch(
            run_sheet.RunSheet, "_title", lambda _, one: [("head", f"{one.number} {one.title}")]
        )
        self.watch(Flow, "text", lambda _, text, *a, lead="", **k: [("text", f"{lead} {text}")])
        return self

    def __exit__(self, *_: object) -> None:
        for owner, name, real in reversed(self.undo):
            setattr(owner, name, real)


def _table(flow: Flow, columns: Any, rows: Any, *_: Any, **__: Any) -> list[Item]:
    made: list[list[str]] = [[one.head for one in columns]]
    for row in rows[: ledger.MOST_ROWS]:
        made.append(
            [cell if isinstance(cell, str) else cell.text for cell in row.cells[: len(columns)]]
        )
        for under in row.under:
            runs = under.entries if isinstance(under, ledger.Grid) else (under,)
            made.append([" ".join(text for run in runs for text, _ in run)])
    return [("table", made)]


def recorded(build: Callable[[], bytes]) -> list[Item]:
    with Recorder() as recorder:
        build()
    return recorder.found


# -- the yardstick -------------------------------------------------------------------------------


def _style(name: str, style: Style) -> ParagraphStyle:
    return ParagraphStyle(
        name, fontName=style.font, fontSize=style.size, leading=style.leading, splitLongWords=1
    )


def plain(items: list[Item], paper: str) -> bytes:
    """The same words as plain reportlab paragraphs and tables."""
    fonts.register()
    page = sheet(paper)
    styles = {
        name: _style(name, one)
        for name, one in (("t", TEXT), ("c", CELL), ("h", SECTION), ("s", SMALL))
    }

    def paragraph(text: str, style: str) -> Paragraph:
        return Paragraph(escape(clean(text)), styles[style])

    story: list[Any] = []
    for kind, what in items:
        if kind == "drawing":
            story.append(to_reportlab(what, min(page.measure, what.width * pictures.LARGEST)))
        elif kind == "table":
            story.append(_plain_table(what, page.measure, paragraph))
        elif what.strip():
            story.append(paragraph(what, "h" if kind == "head" else "t"))
    stream = io.BytesIO()
    margins = {"leftMargin": LEFT, "rightMargin": RIGHT, "topMargin": TOP, "bottomMargin": BOTTOM}
    made = [
        one for one in story if getattr(one, "height", 0) < page.room - 20 or isinstance(one, Table)
    ]
    SimpleDocTemplate(stream, pagesize=(page.wide, page.high), **margins).build(made)
    return stream.getvalue()


def _plain_table(
    rows: list[list[str]], wide: float, paragraph: Callable[[str, str], Paragraph]
) -> Table:
    columns = max(len(row) for row in rows)
    cells, rules = [], list(RULE)
    for at, row in enumerate(rows):
        style = "s" if len(row) == 1 and columns > 1 else "c"
        cells.append([paragraph(text, style) for text in row] + [""] * (columns - len(row)))
        if len(row) == 1 and columns > 1:
            rules.append(("SPAN", (0, at), (-1, at)))
    return Table(cells, colWidths=[wide / columns] * columns, repeatRows=1, style=TableStyle(rules))


# -- measuring -----------------------------------------------------------------------------------


def timed(work: Callable[[], bytes]) -> float:
    gc.collect()
    before = time.perf_counter()
    work()
    return time.perf_counter() - before


def main() -> None:
    for name in ("harbour", "mill", "large"):
        plan = Plan(demo(name))
        for part in PARTS if name != "large" else PARTS[:1]:

            def book(plan: Plan = plan, part: Any = part) -> bytes:
                return build_book(
                    plan, printed_on=PRINTED, site_url=URL, parts=part.slug, previous=plan.facts
                )

            items = recorded(book)  # and the plan is worked out
            yardstick = lambda items=items, plan=plan: plain(items, plan.facts.site.paper)  # noqa: E731
            pairs = [(timed(book), timed(yardstick)) for _ in range(TIMES)]
            ours, theirs = (sorted(one)[TIMES // 2] for one in zip(*pairs, strict=True))
            made, other = book(), yardstick()
            pages, plainly = (len(pypdf.PdfReader(io.BytesIO(one)).pages) for one in (made, other))
            print(
                f"{name}, {part.title.lower()}: {ours:.2f} s, {pages} pages, {len(made):,} bytes; plain reportlab "
                f"{theirs:.2f} s, {plainly} pages, {len(other):,} bytes; ratio {ours / theirs:.2f}"
            )


if __name__ == "__main__":
    main()
