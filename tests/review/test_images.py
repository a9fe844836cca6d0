"""Findings about images and applications: each raised once and once not."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.record import facts as f
from planner.review import base
from tests.factories import TODAY, make, raised


def image(**values):
    return make(f.Image, **{"name": "office", "disk_gib": 80, **values})


def used(template=(), **values):
    """An image and a template made from it."""
    one = image(**values)
    return [
        one,
        make(f.Template, name="front desk", **{"image_id": one.id, "most": 10, **dict(template)}),
    ]


def site(**values):
    return f.Site(id=1, purpose="live", **values)


def installed(*groups, hosts=(), most=10, rule="", **values):
    """An application in an image, with seat groups (people, share) on a template made from it."""
    one, template = used({"most": most, "reset_rule": rule})
    seats = [
        make(f.SeatGroup, template_id=template.id, people=people, share_at_once=share)
        for people, share in groups
    ]
    machines = [make(f.Host, name=name) for name in hosts]
    return [
        one,
        template,
        *seats,
        *machines,
        make(f.Application, **{"name": "records", "image_id": one.id, **values}),
    ]


LIVE = dt.date(2026, 4, 1)

# what raises it, what does not, where, words of its title or text
CASES = {
    "image-none": (list, lambda: [image()], "", "No image"),
    "image-unused": (
        lambda: [*used(), image(name="old")],
        lambda: used(),
        "",
        "uses the image old",
    ),
    "image-name-twice": (
        lambda: [image(generation=2), image(name="Office", generation=2)],
        lambda: [image(generation=2), image(name="Office", generation=3)],
        "name",
        "Two images are named Office",
    ),
    "image-system-unknown": (
        lambda: [image()],
        lambda: [image(operating_system="desktop system, 64 bit")],
        "operating_system",
        "office",
    ),
    "image-disk-unknown": (lambda: [image(disk_gib=None)], lambda: [image()], "disk_gib", "office"),
    "image-used-over-disk": (
        lambda: [image(used_gib=80.5)],
        lambda: [image(used_gib=80)],
        "used_gib",
        "uses 80.5 GiB of a disk of 80",
    ),
    "image-from-machine": (
        lambda: [image(source_machine="reception-2")],
        lambda: [image()],
        "source_machine",
        "office is copied from a machine in use: reception-2",
    ),
    "image-not-sealed": (
        lambda: [site(on_site_date=TODAY + dt.timedelta(days=3)), *used()],
        lambda: [site(on_site_date=TODAY + dt.timedelta(days=4)), *used()],
        "sealed_on",
        "is in 3 days",
    ),
    "image-support-ended": (
        lambda: [site(go_live_date=LIVE), image(support_ends=LIVE - dt.timedelta(days=1))],
        lambda: [site(go_live_date=LIVE), image(support_ends=LIVE)],
        "support_ends",
        "before go-live, 2026-04-01",
    ),
    "image-support-ends-soon": (
        lambda: [site(go_live_date=LIVE), image(support_ends=LIVE + dt.timedelta(days=364))],
        lambda: [site(go_live_date=LIVE), image(support_ends=LIVE + dt.timedelta(days=365))],
        "support_ends",
        "364 days in",
    ),
    "image-support-unknown": (
        lambda: [image()],
        lambda: [image(support_ends=LIVE)],
        "support_ends",
        "office",
    ),
    "image-time-zone-apart": (
        lambda: [site(time_zone="Europe/Vienna"), image(time_zone="Europe/London")],
        lambda: [site(time_zone="Europe/Vienna"), image(time_zone="Europe/Berlin")],
        "time_zone",
        "set to Europe/London, the site to Europe/Vienna",
    ),
    "directory-time-zone-apart": (
        lambda: [site(time_zone="America/Phoenix"), f.Directory(time_zone="America/Denver")],
        lambda: [site(time_zone="America/Phoenix"), f.Directory()],
        "time_zone",
        "America/Denver",
    ),
    "application-no-image": (
        lambda: [make(f.Application, name="records")],
        lambda: installed(),
        "image_id",
        "records is in no image",
    ),
    "application-basis-unknown": (
        lambda: [make(f.Application, name="records")],
        lambda: installed(licensed_by="free"),
        "licensed_by",
        "records",
    ),
    "application-held-unknown": (
        lambda: installed((12, 0.5), licensed_by="people"),
        lambda: installed((12, 0.5), licensed_by="free"),
        "licences_held",
        "12 are needed, one for every person",
    ),
    "application-devices-rebuilt": (
        lambda: installed(licensed_by="devices", rule="nightly"),
        lambda: installed(licensed_by="devices", rule="kept"),
        "licensed_by",
        "front desk makes new ones again and again",
    ),
}


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not_raised(key):
    bad, good, field, words = CASES[key]
    found = raised(key, *bad())
    assert found and found[0].at.field == field
    assert words in f"{found[0].title} {found[0].text}"
    assert raised(key, *good()) == []


def test_every_rule_of_the_chapter_has_a_case():
    modules = ("planner.review.images", "planner.review.applications")
    assert {
        key for key, rule in base.RULES.items() if rule.__module__ in modules
    } == CASES.keys() | {"application-licences-short"}


@pytest.mark.parametrize(
    ("basis", "needed"),
    # 17 people; at once: P(more than 12) = 0.6 %, P(more than 11) = 2.3 % by scipy; 10 desktops; 2 hosts
    [("people", 17), ("at-once", 12), ("devices", 10), ("hosts", 2)],
)
def test_licences_by_basis(basis, needed):
    def records(held):
        return installed(
            (12, 0.5), (5, 0.3), hosts=("h1", "h2"), licensed_by=basis, licences_held=held
        )

    (found,) = raised("application-licences-short", *records(needed - 1))
    assert f"{needed} licences are needed, {needed - 1} are held" in found.title
    assert raised("application-licences-short", *records(needed)) == []


def test_no_guess_at_licences_where_somebody_is_not_counted():
    assert (
        raised(
            "application-licences-short",
            *installed((None, 0.5), licensed_by="people", licences_held=1),
        )
        == []
    )
    assert (
        raised("application-licences-short", *installed(licensed_by="people", licences_held=0))
        == []
    )


def test_phoenix_keeps_the_clock_of_denver_for_half_the_year_only():
    """Source: IANA time zone database: America/Phoenix has no summer time; Vienna and Berlin agree since 1980."""
    found = raised(
        "image-time-zone-apart",
        site(time_zone="America/Phoenix"),
        image(time_zone="America/Denver"),
    )
    assert found[0].mend.values == (("time_zone", "America/Phoenix"),)


@pytest.mark.parametrize("zone", ["Nowhere/Land", "Europe", "../../etc/passwd", "a\0b", "x" * 5000])
def test_a_zone_nobody_knows_is_apart_and_nothing_breaks(zone):
    assert raised("image-time-zone-apart", site(time_zone="Europe/Vienna"), image(time_zone=zone))
    assert (
        raised("image-time-zone-apart", site(time_zone=zone), image(time_zone=zone.upper())) == []
    )


def test_support_is_counted_from_today_when_go_live_is_past():
    old = site(go_live_date=TODAY - dt.timedelta(days=900))
    (found,) = raised("image-support-ended", old, image(support_ends=TODAY - dt.timedelta(days=1)))
    assert "before today" in found.title
