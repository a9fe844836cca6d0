"""The square codes of the build book, read back as a telephone reads them.

Source: ISO/IEC 18004 (from memory): format bits and their mask, data masks, blocks of level M, alignment patterns; a
fault in any of them would leave a remainder in the check of the codewords.
"""

from __future__ import annotations

import itertools

import pypdf
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.papers.book import codes
from planner.stages.entries import STAGES
from tests.papers.test_book import FULL, SITE_URL, built, entries

BLOCKS = {  # of level M by version: check words a block, then data words of each block
    1: (10, [16]),
    2: (16, [28]),
    3: (26, [44]),
    4: (18, [32] * 2),
    5: (24, [43] * 2),
    6: (16, [27] * 4),
    7: (18, [31] * 4),
    8: (22, [38] * 2 + [39] * 2),
    9: (22, [36] * 3 + [37] * 2),
    10: (26, [43] * 4 + [44]),
}
ALIGNED = {
    1: [],
    2: [6, 18],
    3: [6, 22],
    4: [6, 26],
    5: [6, 30],
    6: [6, 34],
    7: [6, 22, 38],
    8: [6, 24, 42],
    9: [6, 26, 46],
    10: [6, 28, 50],
}
MASKS = (
    lambda r, c: (r + c) % 2 == 0,
    lambda r, c: r % 2 == 0,
    lambda r, c: c % 3 == 0,
    lambda r, c: (r + c) % 3 == 0,
    lambda r, c: (r // 2 + c // 3) % 2 == 0,
    lambda r, c: r * c % 2 + r * c % 3 == 0,
    lambda r, c: (r * c % 2 + r * c % 3) % 2 == 0,
    lambda r, c: ((r + c) % 2 + r * c % 3) % 2 == 0,
)


def read(modules) -> str:
    """The text of a code of level M; asserts that nothing in it contradicts itself."""
    size = len(modules)
    version = (size - 17) // 4
    level, mask = _format(modules)
    assert level == 0  # M
    bits = [modules[r][c] ^ MASKS[mask](r, c) for r, c in _path(size, version)]
    words = [
        sum(bit << 7 - at for at, bit in enumerate(bits[start : start + 8]))
        for start in range(0, len(bits) - 7, 8)
    ]
    checks, lengths = BLOCKS[version]
    data = [[] for _ in lengths]
    found = iter(words)
    for at in range(max(lengths)):
        for block, length in zip(data, lengths, strict=True):
            if at < length:
                block.append(next(found))
    tails = [[] for _ in lengths]
    for _ in range(checks):
        for tail in tails:
            tail.append(next(found))
    for block, tail in zip(data, tails, strict=True):
        assert _remainders(block + tail, checks) == [0] * checks
    stream = "".join(f"{word:08b}" for block in data for word in block)
    assert stream[:4] == "0100"  # bytes
    wide = 8 if version < 10 else 16
    count = int(stream[4 : 4 + wide], 2)
    start = 4 + wide
    return bytes(
        int(stream[start + 8 * at : start + 8 * at + 8], 2) for at in range(count)
    ).decode()


def _format(modules) -> tuple[int, int]:
    places = [
        (8, 0),
        (8, 1),
        (8, 2),
        (8, 3),
        (8, 4),
        (8, 5),
        (8, 7),
        (8, 8),
        (7, 8),
        (5, 8),
        (4, 8),
        (3, 8),
        (2, 8),
        (1, 8),
        (0, 8),
    ]
    bits = sum(modules[r][c] << 14 - at for at, (r, c) in enumerate(places)) ^ 0x5412
    rest = bits
    for shift in range(
        4, -1, -1
    ):  # the ten check bits leave no remainder by x^10+x^8+x^5+x^4+x^2+x+1
        if rest >> shift + 10 & 1:
            rest ^= 0x537 << shift
    assert rest == 0
    return bits >> 13, bits >> 10 & 7


def _path(size: int, version: int):
    """Modules that hold data, in their order: pairs of columns from the right, up and down in turn."""
    kept = _kept(size, version)
    upward = True
    right = size - 1
    while right > 0:
        right -= right == 6  # the column of the timing pattern
        for row in range(size - 1, -1, -1) if upward else range(size):
            for column in (right, right - 1):
                if (row, column) not in kept:
                    yield row, column
        upward = not upward
        right -= 2


def _kept(size: int, version: int) -> set[tuple[int, int]]:
    """Modules that hold no data: finders, format, timing, alignment, version."""
    kept = {(r, c) for r in range(9) for c in range(9)}
    kept |= {(r, c) for r in range(9) for c in range(size - 8, size)}
    kept |= {(c, r) for r in range(9) for c in range(size - 8, size)}
    kept |= {(6, c) for c in range(size)} | {(r, 6) for r in range(size)}
    corners = {(6, 6), (6, size - 7), (size - 7, 6)}
    for r, c in itertools.product(ALIGNED[version], repeat=2):
        if (r, c) not in corners:
            kept |= {(r + y, c + x) for y in range(-2, 3) for x in range(-2, 3)}
    if version >= 7:
        kept |= {(r, size - 11 + c) for r in range(6) for c in range(3)}
        kept |= {(size - 11 + c, r) for r in range(6) for c in range(3)}
    return kept


def _remainders(words: list[int], checks: int) -> list[int]:
    """The syndromes over GF(256), x^8+x^4+x^3+x^2+1."""
    powers = [1]
    for _ in range(254):
        powers.append(powers[-1] << 1 ^ (0x11D if powers[-1] & 0x80 else 0))
    logs = {value: at for at, value in enumerate(powers)}
    found = []
    for root in range(checks):
        value = 0
        for word in words:
            value = (powers[(logs[value] + root) % 255] if value else 0) ^ word
        found.append(value)
    return found


# -- codes ---------------------------------------------------------------------------------------


@settings(max_examples=30, deadline=None)
@given(st.integers(1, 210), st.integers(0, 10**6))
def test_every_code_can_be_read(length, seed):
    text = "".join(chr(33 + (seed * (at + 7) + at * at) % 94) for at in range(length))
    assert read(codes.modules(text)) == text


def test_a_fault_would_be_seen():
    rows = [list(row) for row in codes.modules(SITE_URL)]
    rows[15][15] = not rows[15][15]
    with pytest.raises(AssertionError):
        read(rows)


@pytest.mark.parametrize(
    ("site_url", "path", "told"),
    [
        (SITE_URL, "run/3/", f"{SITE_URL}run/3/"),
        (SITE_URL.rstrip("/"), "", SITE_URL),
        ("", "run/1/", ""),
        ("javascript:alert(1)", "", ""),
        ("https://example.org/" + "x" * 500, "", ""),
        ("\ud800", "", ""),
        ("https://example.org/ä b", "", "https://example.org/%C3%A4%20b/"),
    ],
)
def test_addresses_are_plain_or_not_there(site_url, path, told):
    assert codes.address(site_url, path) == told


def drawn(page: pypdf.PageObject) -> list[list[bool]]:
    """The modules of the code on a page, from the squares in its stream."""
    boxes = [
        [float(one) for one in operands]
        for operands, operator in pypdf.generic.ContentStream(
            page.get_contents(), page.pdf
        ).operations
        if operator == b"re" and float(operands[3]) < 0
    ]
    step = min(-box[3] for box in boxes) / 1.03
    left, top = min(box[0] for box in boxes), max(box[1] for box in boxes)
    size = round((max(box[0] + box[2] for box in boxes) - left) / step)
    rows = [[False] * size for _ in range(size)]
    for x, y, wide, _ in boxes:
        for at in range(round(wide / step)):
            rows[round((top - y) / step)][round((x - left) / step) + at] = True
    assert step * 25.4 / 72 > 0.45  # mm a module: a telephone reads it at arm's length
    return rows


@pytest.fixture(scope="module")
def book():
    return built(FULL, site_url=SITE_URL)


def test_the_cover_leads_to_the_site_and_each_stage_to_its_run_sheet(book):
    assert read(drawn(book.pages[0])) == SITE_URL
    starts = {
        entry.title: book.get_destination_page_number(entry) for _, entry in entries(book.outline)
    }
    for stage in STAGES:
        page = book.pages[starts[f"10.{stage.number} {stage.name}"]]
        link = f"{SITE_URL}run/{stage.number}/"
        assert read(drawn(page)) == link
        notes = [note.get_object() for note in page["/Annots"]]
        assert [note["/A"]["/URI"] for note in notes if "/A" in note] == [link]


def test_without_an_address_there_is_no_code():
    reader = built(FULL)
    for page in reader.pages:
        assert "/Annots" not in page or all(
            "/A" not in note.get_object() for note in page["/Annots"]
        )
    starts = {
        entry.title: reader.get_destination_page_number(entry)
        for _, entry in entries(reader.outline)
    }
    assert "On screen" not in reader.pages[starts["10.1 Survey"]].extract_text()


def test_nothing_overprints_on_the_first_line_of_the_cover(book):
    """Release, part and purpose stand one after the other, as the reader of the file measures them."""
    placed = []

    def seen(text, page, line, font, size):
        if text.strip():
            placed.append((page[4] + line[4], text.strip(), size))

    book.pages[0].extract_text(visitor_text=seen)
    (left, release, size), (following, part, _) = placed[:2]
    assert (release.split()[0], part) == ("Deskwright", "Build book")
    assert left + 0.45 * size * len(release) < following  # bold figures are half as wide as high
