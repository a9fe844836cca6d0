"""The on-site day on screen: laid out by the plan, and anew on the day itself from what has happened."""

import datetime as dt

import pytest
from django.utils import timezone

from sites.actions.steps import lines_of
from sites.models import Person, Site, StepDone
from sites.pages import on_site
from sites.pages.standing import plan_of
from tests import demo_house


@pytest.fixture
def mill(db):
    demo_house.put_in_place()
    return Site.objects.select_related("customer").get(code="mill")


@pytest.fixture
def noor(mill, enter):
    return enter(Person.objects.get(email="noor@larkfield.example"))


def test_the_day_names_people_times_and_what_the_end_hangs_on(mill, noor):
    page = noor.get("/at/larkfield/mill/day").content.decode()
    assert "Thu 14 Jan 2027" in page and "Ida Fenn" in page and "the end hangs on it" in page
    assert "<svg" in page and "07:30" in page


def test_an_empty_site_says_what_is_missing(site, people, enter):
    page = enter(people["reader"]).get("/at/larkfield/mill/day").content.decode()
    assert "It is not laid out yet" in page


def test_on_the_day_it_is_laid_out_anew(mill, monkeypatch):
    plan = plan_of(mill)
    planned, real = on_site.laid_out(mill, plan, {})
    assert not real and planned.bars
    first = planned.bars[0]
    began = dt.datetime(2027, 1, 14, 8, 45, tzinfo=dt.UTC)  # 09:45 at the site, two hours late
    line = StepDone(
        site=mill, step_key=first.key, started_at=began, done_at=began + dt.timedelta(minutes=20)
    )
    monkeypatch.setattr(timezone, "now", lambda: began + dt.timedelta(minutes=20))
    plan = plan_of(Site.objects.select_related("customer").get(pk=mill.pk))
    late, real = on_site.laid_out(mill, plan, {first.key: line})
    bar = next(one for one in late.bars if one.key == first.key)
    assert (
        real
        and bar.state == "done"
        and late.clock(bar.start) == "09:45"
        and late.clock(bar.finish) == "10:05"
    )
    assert late.finish > planned.finish
    assert all(one.start >= bar.finish - 1e-6 for one in late.bars if one.state == "planned")


def test_lines_are_read_in_one_query(mill, django_assert_num_queries):
    with django_assert_num_queries(1):
        lines_of(mill)
