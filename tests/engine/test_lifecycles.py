"""Published ends of support: which row a text finds, and what it means. The dates themselves: tests/references."""

from __future__ import annotations

import datetime as dt

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from planner.catalogue import files as catalogue
from planner.engine.upkeep import lifecycles
from planner.engine.upkeep.lifecycles import listed, rows_for
from planner.record import facts as f
from tests.factories import TODAY, make, plan_of

ROWS = {row.key: row for row in listed()}
PLAIN = "desktop system, business edition, release 2"


def named(key: str) -> str:
    """A row's system with its first edition, as somebody would write it."""
    row = ROWS[key]
    return f"{row.name} {row.edition.split(',')[0]}"


def keys(text: str) -> list[str]:
    return [row.key for row in rows_for(text)[0]]


@pytest.mark.parametrize("key", ROWS)
def test_every_row_is_found_by_its_own_words(key):
    rows, certain = rows_for(named(key))
    assert [row.key for row in rows] == [key] and certain
    for word in named(key).split():  # written otherwise, it is the same system
        assert keys(named(key).replace(word, word.upper())) == [key]


@pytest.mark.parametrize(
    "text",
    [
        PLAIN,
        "",
        "release 8.2",
        "desktop system, 64 bit",
        "11",
        "24h2",
        "server 2022",
        "{",
        "a\nb",
        "\x00",
        "🖥" * 500,
    ],
)
def test_words_without_a_publisher_find_nothing(text):
    assert rows_for(text) == ((), False)


def test_an_edition_that_nobody_named_is_not_guessed():
    rows, certain = rows_for(ROWS["desktop-11-24h2-pro"].name)
    assert {row.key for row in rows} == {
        "desktop-11-24h2-pro",
        "desktop-11-24h2-enterprise",
    } and not certain
    both = f"{ROWS['desktop-11-24h2-pro'].name} Pro or Enterprise"
    assert len(rows_for(both)[0]) == 2 and not rows_for(both)[1]
    assert not rows_for(ROWS["desktop-11-26h2-pro"].name)[1]


def test_two_systems_in_one_text_find_neither():
    assert rows_for(f"{named('desktop-11-24h2-pro')}, before {named('desktop-10')}") == ((), False)
    assert rows_for(f"{named('ubuntu-24.04')} on {named('server-2022')}") == ((), False)


def test_the_whole_product_steps_back_behind_its_version():
    assert keys(named("desktop-10")) == ["desktop-10"]
    assert keys(named("desktop-10-22h2")) == ["desktop-10-22h2"]
    older = named("desktop-10").replace(
        "Home", "Home 1809"
    )  # a version without a row: it ended sooner than the product
    assert "1809" in older and rows_for(older) == ((), False)


def test_a_longer_or_a_bought_life_is_another_matter():
    assert keys(f"{ROWS['desktop-10'].name} LTSC") == []
    assert keys(f"{ROWS['desktop-10-22h2'].name} Pro, ESU") == []
    assert keys(ROWS["desktop-10-iot-ltsc-2021"].name) == ["desktop-10-iot-ltsc-2021"]
    assert keys(ROWS["desktop-10-ltsc-2021"].name) == ["desktop-10-ltsc-2021"]


def test_minor_releases_and_words_written_together():
    assert keys(ROWS["ubuntu-24.04"].name.replace("24.04", "24.04.3")) == ["ubuntu-24.04"]
    assert keys(ROWS["rhel-9"].name.replace("9", "9.4")) == ["rhel-9"]
    assert keys(ROWS["debian-12"].name.replace(" ", "")) == ["debian-12"]
    assert keys(ROWS["debian-12"].name.replace("12", "120")) == []


# -- Against go-live ------------------------------------------------------------------------------

LIVE = dt.date(2026, 6, 1)
ENDS = ROWS["desktop-11-24h2-enterprise"].ends  # 12 October 2027


def life(text=named("desktop-11-24h2-enterprise"), go_live=LIVE, today=TODAY, **values):
    image = make(f.Image, name="office", operating_system=text, **values)
    return plan_of(f.Site(id=1, go_live_date=go_live), image, today=today).lifecycles.of(image.id)


@pytest.mark.parametrize(
    ("go_live", "days", "state"),
    [
        (ENDS, 0, "soon"),  # mended for the last time on the very day
        (ENDS + dt.timedelta(days=1), -1, "ended"),
        (ENDS - dt.timedelta(days=364), 364, "soon"),
        (ENDS - dt.timedelta(days=365), 365, "enough"),
        (dt.date(2020, 1, 1), (ENDS - TODAY).days, "enough"),  # live long ago: counted from today
        (None, (ENDS - TODAY).days, "enough"),
    ],
)
def test_a_year_on_is_wanted(go_live, days, state):
    found = life(go_live=go_live)
    assert (found.published, found.ends, found.days, found.state) == (ENDS, ENDS, days, state)


def test_what_is_typed_counts_before_what_is_published():
    typed = dt.date(2026, 6, 2)
    found = life(support_ends=typed)
    assert (found.ends, found.days, found.state, found.differs) == (typed, 1, "soon", True)
    assert not life(support_ends=ENDS).differs
    assert not life(text=PLAIN, support_ends=typed).differs


def test_nothing_known_is_said_as_nothing():
    found = life(text=PLAIN)
    assert (found.rows, found.published, found.ends, found.days, found.state) == (
        (),
        None,
        None,
        None,
        "",
    )
    assert plan_of().lifecycles.images == () and plan_of().lifecycles.of(None) is None


# -- The catalogue --------------------------------------------------------------------------------


def test_every_row_says_where_it_is_from():
    for row in ROWS.values():
        assert row.source.count("https://") == 1 and row.publisher
        assert row.read == lifecycles.FROM_MEMORY or (dt.date.fromisoformat(row.read) and row.seen)
        assert all(word == word.casefold() for word in (*row.words, *row.editions, *row.unlike))


WHOLE = {
    **dict.fromkeys(("name", "edition", "publisher", "source", "read", "seen"), "x"),
    "ends": TODAY,
    "words": ["x"],
}


@pytest.mark.parametrize(
    "entry", [{"name": "x"}, {**WHOLE, "words": []}, {**WHOLE, "seen": ""}, {**WHOLE, "ends": "x"}]
)
def test_a_row_that_is_not_whole_is_refused(monkeypatch, entry):
    monkeypatch.setattr(catalogue, "load", lambda name: {"odd": entry})
    with pytest.raises(catalogue.CatalogueError, match="odd"):
        lifecycles.listed.__wrapped__()


@settings(max_examples=200, deadline=None)
@given(
    st.text(max_size=60),
    st.lists(st.sampled_from(sorted({w for r in ROWS.values() for w in r.words})), max_size=6),
)
def test_any_text_finds_rows_of_one_system_or_none(text, words):
    rows, certain = rows_for(" ".join([text, *words]))
    assert len({row.name for row in rows}) <= 1
    assert certain <= bool(rows)
    assert not certain or len({row.ends for row in rows}) == 1


def test_a_very_long_text_is_read_at_its_beginning():
    assert rows_for(f"{named('desktop-10')} {'x' * 100_000}")[1]
    assert rows_for(f"{'x ' * 100_000} {named('desktop-10')}") == ((), False)


@pytest.mark.parametrize(
    ("text", "ends"),
    [
        ("Windows Server 2025 Standard", dt.date(2034, 11, 14)),
        ("Windows 11 Enterprise, version 26H2", dt.date(2029, 10, 9)),
        ("Windows 11 Pro, version 26H2", dt.date(2028, 10, 10)),
    ],
)
def test_the_newest_systems_and_the_editions_that_hosted_desktops_need(text, ends):
    """Source: as the rows say; the first announcement of the server system was 10 October 2034, a stale table's day."""
    rows, certain = rows_for(text)
    assert certain and {row.ends for row in rows} == {ends}
