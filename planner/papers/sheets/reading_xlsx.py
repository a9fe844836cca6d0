"""XLSX, from people we do not know: looked through first, then read by openpyxl.

An XLSX file is a ZIP archive of XML parts, and both can be made to burst whoever opens them. So before
openpyxl sees it, every part is unpacked once in small pieces, against the limits of what may come out of
it, and its XML is walked: a part with a document type (where entities come from; none of the format's parts
may have one), or that is nested or large beyond measure, refuses the file.
Source: ECMA-376-2, XML Usage, M1.18 (no DTD declarations; their presence is an error).
"""

from __future__ import annotations

import datetime as dt
import io
import warnings
import zipfile
import zlib
from xml.parsers import expat

from openpyxl import Workbook, load_workbook
from openpyxl.utils.escape import unescape
from openpyxl.worksheet._read_only import ReadOnlyWorksheet

from planner.papers.sheets.table import MIB, Gatherer, Limits, Table, Unreadable

PIECE = 64 * 1024
SILENT = 5 * PIECE  # bytes within which something must begin or end: one tag is never longer
LAST_ROW = 1_048_576  # Source: the row numbers a sheet has in common spreadsheets; common practice
MANY = frozenset(
    ("row", "c", "v", "f", "is", "t", "si", "r", "rPr")
)  # elements that a sheet has by the thousand
SHRINKS = (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED)
BROKEN = (
    "The file is damaged, or no XLSX file. "
    "Open it in a spreadsheet program and save it once more as XLSX, or as CSV."
)
BOMB = "The file unpacks to far more than a sheet holds. It was not opened."


def read_xlsx(data: bytes, wanted: tuple[str, ...], limits: Limits) -> Table:
    """As :func:`planner.papers.sheets.reading.read_table`, for a ZIP archive."""
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            _look_through(archive, limits)
    except (
        zipfile.BadZipFile,
        zipfile.LargeZipFile,
        zlib.error,
        EOFError,
        OSError,
        NotImplementedError,
    ) as error:
        raise Unreadable(BROKEN) from error
    except (
        RuntimeError,
        KeyError,
        IndexError,
        UnicodeError,
    ) as error:  # what a broken directory leads to
        raise Unreadable(BROKEN) from error
    return _read(data, wanted, limits)


# -- looking through -------------------------------------------------------------------------------


def _look_through(archive: zipfile.ZipFile, limits: Limits) -> None:
    parts = archive.infolist()
    if len(parts) > limits.parts:
        raise Unreadable(f"The file has more than {limits.parts} parts. It was not opened.")
    if len({part.filename for part in parts}) < len(parts):
        raise Unreadable(BROKEN)
    if any(part.flag_bits & 1 for part in parts):
        raise Unreadable("The file is locked with a password. Save it without one.")
    if any(part.compress_type not in SHRINKS for part in parts):
        raise Unreadable(BROKEN)
    if sum(part.file_size for part in parts) > limits.unpacked_bytes:
        raise Unreadable(BOMB)
    if any(_blown_up(part.file_size, part.compress_size, limits) for part in parts):
        raise Unreadable(BOMB)
    if not any(part.filename.lower() == "[content_types].xml" for part in parts):
        raise Unreadable(
            "This is a packed file, but no XLSX file. Take the sheet itself: XLSX or CSV."
        )
    left = _Left(limits)
    for part in parts:
        _unpack(archive, part, left, limits)
    if left.tabs * left.largest > limits.readings:  # many tabs may name one large part
        raise Unreadable(BOMB)


def _blown_up(size: int, packed: int, limits: Limits) -> bool:
    return size > MIB and size > limits.ratio * max(1, packed)


class _Left:
    """What may still come, over all parts, and what makes openpyxl read parts more than once."""

    def __init__(self, limits: Limits):
        self.bytes, self.elements, self.others = (
            limits.unpacked_bytes,
            limits.elements,
            limits.others,
        )
        self.tabs = self.largest = 0


def _unpack(archive: zipfile.ZipFile, part: zipfile.ZipInfo, left: _Left, limits: Limits) -> None:
    """Unpacks a part, whatever its directory says of its size, and walks it if it is XML."""
    size, walk = 0, None
    with archive.open(part) as stream:
        while piece := stream.read(PIECE):
            size += len(piece)
            left.bytes -= len(piece)
            if left.bytes < 0 or _blown_up(size, part.compress_size, limits):
                raise Unreadable(BOMB)
            if size == len(piece) and _is_xml(piece):
                walk = _Walk(left, limits)
            if walk:
                walk.feed(piece)
    if walk:
        walk.end()
        left.largest = max(left.largest, walk.elements)


def _is_xml(piece: bytes) -> bool:
    """Whether a part may be XML in any character set: openpyxl would read it then, whatever it is called."""
    return piece.lstrip(b"\xef\xbb\xbf\xff\xfe\0 \t\r\n").startswith(b"<")


class _Walk:
    """Walks XML without keeping any of it."""

    def __init__(self, left: _Left, limits: Limits):
        self.left, self.limits = left, limits
        self.depth = self.elements = self.events = self.silent = 0
        self.parser = expat.ParserCreate()
        self.parser.StartDoctypeDeclHandler = self._doctype
        self.parser.StartElementHandler = self._start
        self.parser.EndElementHandler = self._stop

    def feed(self, piece: bytes, last: bool = False) -> None:
        before = self.events
        try:
            self.parser.Parse(piece, last)
        except expat.ExpatError as error:
            raise Unreadable(BROKEN) from error
        except (ValueError, LookupError) as error:  # a character set that nobody knows
            raise Unreadable(BROKEN) from error
        self.silent = 0 if self.events > before else self.silent + len(piece)
        if self.silent > SILENT:
            raise Unreadable(BROKEN)

    def end(self) -> None:
        self.feed(b"", last=True)

    def _doctype(self, *_words: object) -> None:
        raise Unreadable(
            "A part of the file declares a document type, which no sheet does. It was not opened."
        )

    def _start(self, name: str, attributes: dict[str, str]) -> None:
        self.events += 1
        self.elements += 1
        self.depth += 1
        word = name.rpartition(":")[2]
        if word in MANY:
            self.left.elements -= 1
        else:
            self.left.others -= 1
            self.left.tabs += word == "sheet"
        if (
            self.depth > self.limits.depth
            or min(self.left.elements, self.left.others) < 0
            or len(attributes) > 100
        ):
            raise Unreadable(BOMB)

    def _stop(self, name: str) -> None:
        self.events += 1
        self.depth -= 1


# -- reading ---------------------------------------------------------------------------------------


def _read(data: bytes, wanted: tuple[str, ...], limits: Limits) -> Table:
    """The first tab that has the headings."""
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # of what openpyxl leaves out: none of it is ours
            book = load_workbook(io.BytesIO(data), read_only=True, data_only=True, keep_links=False)
            try:
                gatherer = _gather(book, wanted, limits)
            finally:
                book.close()
    except Unreadable:
        raise
    except (
        Exception
    ) as error:  # openpyxl raises what it likes on a file that is not as it should be
        raise Unreadable(BROKEN) from error
    return gatherer.table("XLSX")


def _gather(book: Workbook, wanted: tuple[str, ...], limits: Limits) -> Gatherer:
    seen = 0
    for tab in book.worksheets:
        if not isinstance(tab, ReadOnlyWorksheet):
            continue  # a tab with a chart alone
        gatherer = Gatherer(wanted, limits)
        tab.reset_dimensions()  # what a file says of its own size is not believed
        rows = tab.iter_rows(min_col=1, max_col=limits.columns, max_row=LAST_ROW, values_only=True)
        for number, cells in enumerate(rows, 1):
            if not gatherer.searching(number):
                break
            seen += 1
            if seen > LAST_ROW:
                raise Unreadable(BROKEN)
            if cells.count(None) < len(cells):
                gatherer.take(number, [_text(cell) for cell in cells])
        if gatherer.headings:
            return gatherer
    return Gatherer(wanted, limits)


def _text(value: object) -> str:
    """A cell as a person reads it: 40, not 40.0; a day as ISO 8601."""
    if value is None:
        return ""
    if isinstance(value, bool):
        if value:
            return "yes"
        return "no"
    if isinstance(value, float):
        if value.is_integer() and abs(value) < 1e15:
            return str(int(value))
        return repr(value)
    if isinstance(value, dt.datetime):
        if value.time() == dt.time():
            return value.date().isoformat()
        return value.isoformat(" ")
    if isinstance(value, dt.date | dt.time):
        return value.isoformat()
    return unescape(value) if isinstance(value, str) else str(value)
