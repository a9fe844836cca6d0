"""A small house in which things happen at random, through the actions; its kept plans beside fresh ones."""

from __future__ import annotations

import datetime as dt
import itertools
import random
import re
from collections.abc import Callable

from django.db import transaction
from django.utils import timezone

from planner import work_out
from planner.engine.provenance import listed, rests_of
from planner.plan import ROOMS, Plan
from sites.actions import (
    assumptions,
    customers,
    house_work,
    papers,
    people,
    records,
    stages,
    step_plans,
)
from sites.loading import read_site
from sites.models import (
    RECORD_MODELS,
    Acceptance,
    HouseAssumption,
    HouseEstimate,
    HouseWork,
    Person,
    Removal,
    Site,
)
from sites.pages.plans import kept_plan
from tests.people import house_staff, larkfield

BEGUN = dt.datetime(2026, 3, 2, 9, tzinfo=dt.UTC)
ZONES = ("", "Europe/Dublin", "Pacific/Auckland", "America/Lima")
KINDS = ("host", "network", "contact", "image", "device", "owncheck")
KEYS = ("host.vcpu-per-core", "schedule.people", "storage.free-share")
CHECKS = ("room-seen", "scope-agreed", "people-counted")


class TakenBack(Exception):
    """Raised within a transaction, so that nothing of it ever was."""


def words(said: object) -> str:
    """What a thing says of itself, but for where it lies in memory."""
    return re.sub(r" at 0x[0-9a-f]+", "", repr(said))


def told(plan: Plan) -> dict[str, str]:
    """All that a plan says, in words that can be held against another's."""
    plan.everything()
    rooms = {name: words(getattr(plan, name)) for name in ROOMS if name != "asked"}
    numbers = [stage.number for stage in plan.stages.stages]
    rooms["asked"] = words([(plan.asked.checks(one), plan.asked.outlines(one)) for one in numbers])
    steps = {stage.key: words(stage.steps) for stage in plan.stages.stages}
    rests = {room: words(rests_of(plan, room)) for room in listed()}
    return {"facts": words(plan.facts), **rooms, **steps, **rests}


def differences(site: Site) -> list[str]:
    """The rooms in which the kept plan of a site says something else than one that is worked out afresh."""
    asked = Site.objects.select_related("customer").get(pk=site.pk)
    kept, fresh = told(kept_plan(asked)), told(work_out(read_site(asked)))
    return [name for name in fresh if kept[name] != fresh[name]]


class House:
    """Two sites of a customer, staff, an editor; ``now`` is the time that its clock tells."""

    def __init__(self, seed: int):
        self.by_chance, self.pack = random.Random(seed), []
        self.now, self.names = BEGUN, (f"n{number}" for number in itertools.count())
        self.staff = house_staff()
        self.customer = larkfield(self.staff)
        for code in ("mill", "barn"):
            made = records.make_site(by=self.staff, customer=self.customer, code=code, name=code)
            network = self.add(made, "network", cidr=f"10.4.{made.pk % 200}.0/24")
            self.add(made, "host", network_id=network.pk, memory_gib=96.0, sockets=2)

    @property
    def sites(self) -> list[Site]:
        return list(Site.objects.select_related("customer").order_by("pk"))

    def site(self) -> Site:
        return self.by_chance.choice(self.sites)

    def add(self, site: Site, kind: str, **values):
        said = {"name": next(self.names), **values}
        return records.add_record(by=self.staff, site=site, kind=kind, values=said)

    def change(self, record, **values) -> None:
        kind = record.facts.kind
        records.change_record(
            by=self.staff, kind=kind, pk=record.pk, opened_at=record.edits, values=values
        )

    def record(self):
        rows = RECORD_MODELS[self.by_chance.choice(KINDS)].objects.filter(removal=None)
        return self.by_chance.choice(list(rows)) if rows else None

    def happen(self) -> str:
        """One thing that happens; gives its name. As of a shuffled pack, none comes again before all came."""
        if not self.pack:
            self.pack = self.by_chance.sample(ACTS, len(ACTS))
        act = self.pack.pop()
        act(self)
        return act.__name__


def add_a_record(house: House) -> None:
    house.add(house.site(), house.by_chance.choice(KINDS))


def rename_a_record(house: House) -> None:
    record = house.record()
    if record:
        house.change(record, name=next(house.names))


def set_memory(house: House) -> None:
    for host in RECORD_MODELS["host"].objects.filter(removal=None)[:1]:
        house.change(host, memory_gib=float(house.by_chance.choice((64, 96, 128))))


def remove_a_record(house: House) -> None:
    record = house.record()
    if record:
        records.remove_record(by=house.staff, record=record)


def bring_a_record_back(house: House) -> None:
    for removal in Removal.objects.filter(undone_at=None)[:1]:
        records.bring_back(by=house.staff, removal=removal)


def answer(house: House) -> None:
    by = house.by_chance.choice(list(Person.objects.filter(is_active=True).order_by("pk")))
    state = house.by_chance.choice(("proven", "trust", "failed", "open"))
    key = house.by_chance.choice(CHECKS)
    stages.give_answer(by=by, site=house.site(), key=key, state=state, proof=next(house.names))


def accept_a_finding(house: House) -> None:
    site = house.site()
    finding = house.by_chance.choice(work_out(read_site(site)).review.findings)
    look_again = house.now.date() + dt.timedelta(days=house.by_chance.choice((0, 1, 30)))
    papers.accept(by=house.staff, site=site, finding=finding, reason="so", look_again=look_again)


def withdraw_an_acceptance(house: House) -> None:
    for one in Acceptance.objects.filter(withdrawn_at=None)[:1]:
        papers.withdraw(site=one.site, token=one.finding)


def plan_a_step(house: House) -> None:
    site, likely = house.site(), float(house.by_chance.choice((10, 20, 30)))
    seen = {row.step: row.edits for row in RECORD_MODELS["stepplan"].objects.filter(site=site)}
    step_plans.plan_steps(
        by=house.staff, site=site, keys=["carry-host"], values={"likely_minutes": likely}, seen=seen
    )


def assume(house: House) -> None:
    key, value = house.by_chance.choice(KEYS), house.by_chance.choice((0.2, 1.0, 2.0, 3.0))
    site = house.by_chance.choice((None, house.site()))
    said = {"origin": "measured", "note": "", "on": house.now.date()}
    assumptions.assume(by=house.staff, site=site, key=key, value=value, **said)


def assume_no_more(house: House) -> None:
    for one in HouseAssumption.objects.all()[:1]:
        assumptions.assume_no_more(by=house.staff, site=None, key=one.key)


def ask_of_all(house: House) -> None:
    what = house.by_chance.choice(("step", "check"))
    house_work.add_work(by=house.staff, what=what, values={"name": next(house.names), "stage": 3})


def ask_no_more(house: House) -> None:
    for work in HouseWork.objects.filter(ended_at=None)[:1]:
        house_work.stop_asking(by=house.staff, pk=work.pk)


def estimate(house: House) -> None:
    likely = float(house.by_chance.choice((10, 20, 30)))
    three = {"least_minutes": 5.0, "likely_minutes": likely, "longest_minutes": 60.0, "note": ""}
    house_work.estimate(by=house.staff, step="carry-host", values=three, on=house.now.date())


def estimate_no_more(house: House) -> None:
    for one in HouseEstimate.objects.all()[:1]:
        house_work.estimate_no_more(by=house.staff, step=one.step)


def rename_a_person(house: House) -> None:
    person = house.by_chance.choice(list(Person.objects.order_by("pk")))
    people.change_name(by=house.staff, person=person, name=next(house.names))


def move_a_person(house: House) -> None:
    person = Person.objects.exclude(pk=house.staff.pk).order_by("pk").last()
    email = f"{next(house.names)}@larkfield.example"
    people.change_address(by=house.staff, person=person, email=email)


def rename_the_customer(house: House) -> None:
    house.customer.refresh_from_db()
    opened_at, values = house.customer.edits, {"name": next(house.names)}
    customers.change_customer(
        by=house.staff, customer=house.customer, opened_at=opened_at, values=values
    )


def join_or_part(house: House) -> None:
    first, second = house.sites[:2]
    house.change(first, joined=[] if first.joined else [second.pk])


def remove_or_bring_back_a_neighbour(house: House) -> None:
    second = house.sites[1]
    if second.removal is None:
        records.remove_site(by=house.staff, site=second)
    else:
        records.bring_back(by=house.staff, removal=second.removal)


def move_a_neighbours_network(house: House) -> None:
    network = RECORD_MODELS["network"].objects.filter(removal=None).order_by("-site", "pk").first()
    if network:
        house.change(network, cidr=f"10.7.{house.by_chance.randrange(200)}.0/24")


def turn_the_purpose(house: House) -> None:
    site = house.site()
    house.change(site, purpose="trial" if site.purpose == "live" else "live")


def move_the_site(house: House) -> None:
    house.change(house.site(), time_zone=house.by_chance.choice(ZONES))


def let_time_pass(house: House) -> None:
    house.now += dt.timedelta(hours=house.by_chance.choice((7, 16, 24)))


def think_better_of_it(house: House) -> None:
    """Written, looked at, and taken back: it never was."""
    site = house.site()
    try:
        with transaction.atomic():
            house.add(site, "host")
            assumptions.assume(
                by=house.staff,
                site=None,
                key=KEYS[0],
                value=4.0,
                origin="measured",
                note="",
                on=house.now.date(),
            )
            site.refresh_from_db()
            assert told(kept_plan(site)) == told(work_out(read_site(site)))
            raise TakenBack
    except TakenBack:
        pass


ACTS: tuple[Callable[[House], None], ...] = (
    add_a_record,
    rename_a_record,
    set_memory,
    remove_a_record,
    bring_a_record_back,
    answer,
    accept_a_finding,
    withdraw_an_acceptance,
    plan_a_step,
    assume,
    assume_no_more,
    ask_of_all,
    ask_no_more,
    estimate,
    estimate_no_more,
    rename_a_person,
    move_a_person,
    rename_the_customer,
    join_or_part,
    remove_or_bring_back_a_neighbour,
    move_a_neighbours_network,
    turn_the_purpose,
    move_the_site,
    let_time_pass,
    think_better_of_it,
)


def play(seed: int, times: int, patch) -> list[str]:
    """Lets so many things happen; after each, what all kept plans say is what fresh ones say. Gives what happened."""
    house = House(seed)
    patch.setattr(timezone, "now", lambda: house.now)
    happened: list[str] = []
    for _ in range(times):
        happened.append(house.happen())
        for site in house.sites:
            wrong = differences(site)
            assert not wrong, f"seed {seed}: after {happened[-1]}, {site.code} differs in {wrong}"
    return happened
