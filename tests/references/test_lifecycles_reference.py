"""Published ends of support against tables that others keep, and against the calendar.

Source: endoflife.date (MIT licence), products/windows.md at commit ed9e2eb, windows-server.md at 027c7cc, ubuntu.md at
021ca13, debian.md at 007fc5a, rhel.md at 06362a0: rows as data, under its own cycle names.
Source: github.com/altrhombus/DataForGeeks, lifecycle-client.json of 23 November 2024: dates read off the publisher's
pages by a program. The pages end a day at 22:59:59 Pacific time; as universal time every date comes out a day late.
Source: Microsoft Lifecycle FAQ, Windows: 24 months for Home and Pro, 36 for Enterprise and Education of Windows 11.
"""

from __future__ import annotations

import collections
import datetime as dt
import pathlib

import pytest

from planner.engine.upkeep.lifecycles import FROM_MEMORY, listed

ROWS = {row.key: row for row in listed()}
PUBLISHER = collections.Counter(row.publisher for row in ROWS.values()).most_common(1)[0][
    0
]  # the big one
DAY = dt.timedelta(days=1)

KEPT_BY_OTHERS = {  # Source: endoflife.date; rows here that were read at the publisher's
    "desktop-7": ("7-sp1", "2020-01-14"),
    "desktop-8.1": ("8.1", "2023-01-10"),
    "desktop-10-22h2": ("10-22h2", "2025-10-14"),
    "desktop-10-21h2-pro": ("10-21h2-w", "2023-06-13"),
    "desktop-10-ltsb-2016": ("10-1607-e-lts", "2026-10-13"),
    "desktop-10-ltsc-2019": ("10-1809-e-lts", "2029-01-09"),
    "desktop-10-ltsc-2021": ("10-21h2-e-lts", "2027-01-12"),
    "desktop-11-21h2-pro": ("11-21h2-w", "2023-10-10"),
    "desktop-11-21h2-enterprise": ("11-21h2-e", "2024-10-08"),
    "desktop-11-22h2-enterprise": ("11-22h2-e", "2025-10-14"),
    "server-2012-r2": ("2012-r2", "2023-10-10"),
    "server-2016": ("2016", "2027-01-12"),
    "server-2019": ("2019", "2029-01-09"),
    "server-2022": ("2022", "2031-10-14"),
    "debian-11": ("11", "2024-08-14"),
    "ubuntu-24.04": ("24.04", "2029-05-31"),
}
A_DAY_LATE = {  # Source: DataForGeeks; rows here that were read elsewhere
    "desktop-10-21h2-enterprise": "2024-06-12",
    "desktop-11-22h2-pro": "2024-10-09",
    "desktop-11-23h2-pro": "2025-11-12",
    "desktop-11-23h2-enterprise": "2026-11-11",
    "desktop-11-24h2-pro": "2026-10-14",
    "desktop-11-24h2-enterprise": "2027-10-13",
}


def second_tuesday(day: dt.date) -> bool:
    return day.isoweekday() == 2 and 8 <= day.day <= 14


def test_every_date_of_the_big_publisher_is_the_second_tuesday_of_its_month():
    """Source: Microsoft, Windows monthly updates: the second Tuesday of each month is the day of security updates."""
    of_it = [row for row in ROWS.values() if row.publisher == PUBLISHER]
    assert len(of_it) > 25
    assert [row.key for row in of_it if not second_tuesday(row.ends)] == []


@pytest.mark.parametrize(
    "wrong",
    [
        "2024-10-14",  # Source: MicrosoftDocs/lifecycle-data-pr.de-de, windows-11-home-and-pro.yml of September 2022
        "2028-10-09",  # Source: Atliso-Dev/win11-eos-audit, release notes 1.1.1: its own table was a day early
        *A_DAY_LATE.values(),
    ],
)
def test_that_day_of_the_week_catches_dates_which_others_had_wrong(wrong):
    assert not second_tuesday(dt.date.fromisoformat(wrong))


@pytest.mark.parametrize("key", KEPT_BY_OTHERS)
def test_dates_as_another_table_has_them(key):
    assert "endoflife" not in ROWS[key].seen  # else it would be held against itself
    assert ROWS[key].ends.isoformat() == KEPT_BY_OTHERS[key][1]


@pytest.mark.parametrize("key", A_DAY_LATE)
def test_dates_as_a_program_read_them_a_day_late(key):
    assert (ROWS[key].ends + DAY).isoformat() == A_DAY_LATE[key]


def test_the_larger_editions_are_mended_a_year_longer():
    """Source: Microsoft Lifecycle FAQ, Windows: 36 months against 24, so 52 or 53 weeks from Tuesday to Tuesday."""
    pairs = [
        key.removesuffix("-pro")
        for key in ROWS
        if key.endswith("-pro") and f"{key[:-4]}-enterprise" in ROWS
    ]
    assert len(pairs) >= 6
    for key in pairs:
        assert (ROWS[f"{key}-enterprise"].ends - ROWS[f"{key}-pro"].ends).days in (364, 371)


@pytest.mark.parametrize(
    ("key", "theirs"),
    [
        ("debian-12", "2026-06-10"),
        ("ubuntu-20.04", "2025-05-31"),
        ("ubuntu-22.04", "2027-04-01"),
        ("ubuntu-26.04", "2031-04-30"),
    ],
)
def test_where_the_day_differs_the_season_does_not(key, theirs):
    """Source: endoflife.date, as above: some publishers name a month, and tables fill in a day."""
    assert abs((ROWS[key].ends - dt.date.fromisoformat(theirs)).days) <= 62


def test_the_enterprise_releases_end_with_may():
    """Source: dev.to/endoflifeai, RHEL End of Life Dates: 8 until 31 May 2029, 9 until 31 May 2032, 10 through 2035."""
    assert [ROWS[f"rhel-{n}"].ends.isoformat() for n in (8, 9)] == ["2029-05-31", "2032-05-31"]
    assert ROWS["rhel-10"].ends.year == 2035 and ROWS["rhel-10"].read == FROM_MEMORY


def test_a_publishers_name_stands_only_in_the_rows_and_in_citations():
    """The vocabulary's rule: a vendor's name has two places."""
    root = pathlib.Path(__file__).resolve().parents[2]
    names = {row.publisher.casefold() for row in ROWS.values()}
    names |= {row.words[0].split("|")[0] for row in ROWS.values()}  # what people call the systems
    assert {len(name) > 3 for name in names} == {True}
    files = [
        root / "planner" / "engine" / "upkeep" / "lifecycles.py",
        root / "planner" / "review" / "lifecycles.py",
        root / "fixtures" / "catalogue" / "findings" / "lifecycles.toml",
    ]
    for path in files:
        for line in path.read_text(encoding="utf-8").splitlines():
            if "ource:" not in line and not line.startswith("source ="):
                assert not any(name in line.casefold() for name in names), f"{path.name}: {line}"
