"""The demo house: three customers, five sites, each telling one part of the story."""

import dataclasses
import datetime as dt
import ipaddress
import re

import pytest
from django.apps import apps
from django.core.management import CommandError, call_command
from django.db import transaction

from planner import work_out
from planner.comparing.as_built import as_built, drift
from planner.record.chapters import CHAPTERS
from sites.actions.customers import make_customer
from sites.demo import FOLDER, DemoError, load_house, load_people, load_site, read_house
from sites.loading import read_site
from sites.models import Acceptance, Answer, Customer, Host, Printed, Revision, Signature, Site
from sites.pages.workbook import fullness

AS_OF = dt.date(2026, 11, 25)  # the demo's own present: its days lie before and after it


@dataclasses.dataclass
class Loaded:
    """What the tests ask of the loaded house, read once."""

    plans: dict
    customers: int
    members: dict
    again: tuple[dict, dict]
    answers: dict
    revisions: list
    printed: list
    kept: dict


def rows() -> dict:
    """Every row of every table of the app, history and all."""
    models = apps.get_app_config("sites").get_models()
    return {model.__name__: list(model.objects.order_by("pk").values()) for model in models}


@pytest.fixture(scope="module")
def house(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        load_house()
        before = rows()
        load_house()
        sites = list(Site.objects.select_related("customer"))
        facts = {site.code: dataclasses.replace(read_site(site), today=AS_OF) for site in sites}
        loaded = Loaded(
            plans={code: work_out(found) for code, found in facts.items()},
            customers=Customer.objects.count(),
            members={
                one.code: {m.role for m in one.memberships.all()} for one in Customer.objects.all()
            },
            again=(before, rows()),
            answers={
                site.code: list(Answer.objects.filter(site=site).order_by("pk")) for site in sites
            },
            revisions=list(Revision.objects.filter(site__code="harbour").order_by("number")),
            printed=list(Printed.objects.filter(site__code="harbour")),
            kept={site.code: (site.stoppers, site.standing["passed"]) for site in sites},
        )
        transaction.set_rollback(True)
    return loaded


def open_keys(plan, weight: str = "") -> set[str]:
    return {finding.key for finding in plan.review.open(weight)}


def test_there_are_three_customers_and_five_sites(house):
    assert house.customers == 3
    assert {code: plan.facts.customer_code for code, plan in house.plans.items()} == {
        "bench": "larkfield",
        "mill": "larkfield",
        "harbour": "larkfield",
        "workshop": "brackenhythe",
        "campus": "northmere",
    }
    assert {code for code, plan in house.plans.items() if not plan.facts.site.live} == {"bench"}
    assert (
        house.members["larkfield"] == {"lead", "editor", "reader"}
        and "lead" in house.members["brackenhythe"]
    )


def test_loading_twice_changes_nothing_at_all(house):
    before, after = house.again
    assert before == after and sum(map(len, before.values())) > 900


def test_the_home_page_knows_every_site_without_opening_it(house):
    assert house.kept["harbour"] == (0, 8) and house.kept["workshop"][0] > 0


def test_the_bench_is_a_mess_of_many_kinds(house):
    assert len({finding.key for finding in house.plans["bench"].review.findings}) >= 25


def test_the_mill_is_ready_for_its_day(house):
    plan = house.plans["mill"]
    assert plan.review.findings == ()
    assert [stage.gate.state for stage in plan.stages.stages[:3]] == ["signed", "signed", "shut"]
    assert plan.facts.site.on_site_date > AS_OF


# -- half-filled ---------------------------------------------------------------------------------


def test_the_workshop_is_half_filled(house):
    facts = house.plans["workshop"].facts
    found = [percent for chapter in CHAPTERS if (percent := fullness(chapter, facts)) is not None]
    assert 20 <= sum(found) / len(found) <= 80
    assert found[0] >= 80  # the brief and its contacts are there
    assert facts.networks and all(net.vlan is None for net in facts.networks)
    assert [host.state for host in facts.hosts].count("to-buy") == 1
    assert not facts.images and open_keys(house.plans["workshop"], "stopper") >= {
        "image-none",
        "check-failed",
    }


def test_the_workshop_has_answers_of_several_kinds_and_no_signature(house):
    plan = house.plans["workshop"]
    counts = plan.stages.stages[0].counts
    assert counts["proven"] and counts["trust"] and counts["failed"] and counts["open"]
    assert sum(stage.answered for stage in plan.stages.stages[1:]) == 0
    assert not plan.facts.signatures and plan.stages.passed == 0
    of_one = [one.state for one in house.answers["workshop"] if one.check_key == "people-counted"]
    assert of_one == ["trust", "proven"]  # first said, then looked at: both are kept


# -- finished ------------------------------------------------------------------------------------


def test_every_gate_of_harbour_lane_is_signed_and_stands(house):
    plan = house.plans["harbour"]
    assert [stage.gate.state for stage in plan.stages.stages] == ["signed"] * 8
    assert {check.state for check in plan.stages.checks.values()} == {"proven", "excused"}
    assert plan.stages.gone == ()
    assert all(check.answer.proof for check in plan.stages.checks.values())
    later = {
        check.key
        for stage in plan.stages.stages
        for check in stage.checks
        if check.answer.at > stage.gate.signature.at
    }
    assert later == {
        "flows-open"
    }  # a label printer moved lines of the port sheet after gate 2 was signed
    moments = [one.at for one in sorted(plan.facts.signatures, key=lambda one: one.stage)]
    assert moments == sorted(moments) and moments[-1].date() < AS_OF


def test_harbour_lane_stands_well_as_planned_and_as_built(house):
    plan = house.plans["harbour"]
    built = work_out(as_built(plan.facts))
    assert open_keys(plan, "stopper") == open_keys(built, "stopper") == set()
    assert len(plan.review.open()) <= 3
    accepted = [finding for finding in plan.review.findings if finding.accepted]
    assert accepted and all(
        one.acceptance.reason and one.acceptance.look_again > AS_OF for one in accepted
    )


def test_what_was_built_otherwise_at_harbour_lane_has_reasons(house):
    found = drift(house.plans["harbour"].facts)
    assert len(found) >= 3 and all(one.differs and one.reason and one.planned for one in found)
    assert {one.field.kind.word for one in found} >= {"address", "number", "length", "choice"}


def test_harbour_lane_has_two_revisions_and_a_book_of_the_last(house):
    first, second = house.revisions
    assert (first.letter, second.letter) == ("A", "B") and first.at < second.at
    assert first.fingerprint != second.fingerprint == house.plans["harbour"].fingerprint
    assert {one.paper for one in house.printed} >= {"build book"}
    assert all((one.letter, one.fingerprint) == ("B", second.fingerprint) for one in house.printed)
    proof = house.plans["harbour"].stages.checks["book-printed"].answer.proof
    assert second.fingerprint in proof


def test_harbour_lane_keeps_the_answer_that_failed_first(house):
    states = [one.state for one in house.answers["harbour"] if one.check_key == "flows-open"]
    assert states == ["failed", "proven", "proven"]  # and was tried again once the lines had moved


def test_the_large_site_is_large(house):
    facts = house.plans["campus"].facts
    sizes = (
        len(facts.hosts),
        len(facts.networks),
        len(facts.templates),
        sum(g.people for g in facts.seat_groups),
    )
    assert sizes == (12, 25, 20, 600)


# -- invented, and through the same doors --------------------------------------------------------

RESERVED = re.compile(
    r"(^|\.)(example|test|example\.(com|net|org))$"
)  # Source: RFC 2606 sections 2 and 3
NAMES = re.compile(r"@([\w.-]+)|\b((?:[\w-]+\.)+(?:com|net|org|example|test|at|uk|eu|io))\b")


@pytest.mark.parametrize("path", sorted(FOLDER.glob("*.toml")), ids=lambda path: path.stem)
def test_names_and_addresses_are_nobodys(path):
    """Private and link-local addresses, or those for documentation. Source: RFC 1918, RFC 3927, RFC 5737."""
    text = path.read_text(encoding="utf-8")
    nets = (
        "10.0.0.0/8",
        "172.16.0.0/12",
        "192.168.0.0/16",
        "169.254.0.0/16",
        "192.0.2.0/24",
        "198.51.100.0/24",
    )
    for found in re.findall(r"\b\d{1,3}(?:\.\d{1,3}){3}\b", text):
        assert any(ipaddress.ip_address(found) in ipaddress.ip_network(net) for net in nets), found
    found = {email or name for email, name in NAMES.findall(text)}
    assert [name for name in found if "." in name and not RESERVED.search(name)] == []


def content(**more) -> dict:
    return {
        "customer": {"name": "Larkfield Vets", "code": "larkfield"},
        "members": {"tom@larkfield.example": "editor", "noor@larkfield.example": "lead"},
        "site": {"code": "trial", "name": "Trial", "purpose": "trial"},
        **more,
    }


def happened(by: str = "noor@larkfield.example", **more) -> dict:
    return {"at": dt.datetime(2026, 11, 2, 9, 0, tzinfo=dt.UTC), "by": by, **more}


@pytest.fixture
def people(db):
    return load_people(read_house())


@pytest.mark.parametrize(
    ("entry", "says"),
    [
        (happened(sign=[1]), "gate 1"),
        (happened(by="tom@larkfield.example", sign=[1]), "may not"),
        (happened(by="eve@larkfield.example", proven={"scope-agreed": "x"}), "may not"),
        (happened(proven={"scope-agreed": " "}), "proof"),
        (happened(proven={"scope-agreed": "password: hunter2"}), "password"),
        (happened(proven={"no-such-check": "x"}), "no check no-such-check"),
        (happened(freeze=" "), "reason"),
        (
            happened(
                accepted=[{"finding": "scope-empty", "reason": "x", "look_again": "1 Jan 2020"}]
            ),
            "still to come",
        ),
        (
            happened(accepted=[{"finding": "no-such", "reason": "x", "look_again": "1 Jan 2030"}]),
            "0 such",
        ),
        (happened(changed={"hosts": [{"of": "nobody", "memory_gib": 1}]}), "nobody"),
        (happened(added={"hosts": [{"name": "h", "address": "upstairs"}]}), "IPv4"),
        (happened(added={"hosts": [{"colour": "blue"}]}), "no field colour"),
        (happened(wished={}), "wished"),
    ],
)
def test_the_demo_may_do_no_more_than_a_person(people, entry, says):
    with pytest.raises(DemoError, match=re.escape(says)):
        load_site(content(happened=[entry]), people)
    assert not Site.objects.exists() and not Answer.objects.exists()  # nothing is left half loaded


def test_what_happened_bears_its_own_moment(people):
    entries = [
        happened(
            trust={"scope-agreed": ""},
            proven={"people-counted": {"measured": "8", "note": "Counted."}},
        ),
        happened(changed={"site": {"people_count": 9}}, freeze="for trying"),
    ]
    entered = {"by": "tom@larkfield.example", "at": dt.datetime(2026, 10, 1, 8, 0, tzinfo=dt.UTC)}
    site = load_site(content(entered=entered, hosts=[{"name": "h1"}], happened=entries), people)
    at = entries[0]["at"]
    assert [(one.check_key, one.at) for one in Answer.objects.order_by("pk")] == [
        ("scope-agreed", at),
        ("people-counted", at + dt.timedelta(minutes=3)),
    ]
    assert (
        Revision.objects.get().at == at
        and not Signature.objects.exists()
        and not Acceptance.objects.exists()
    )
    assert site.changed_at == at and site.history.latest("history_id").history_date == at
    (host,) = read_site(site).hosts
    kept = Host.objects.get(pk=host.id)
    assert (kept.made_at.month, kept.changed_at.month, kept.made_by.name) == (10, 10, "Tom Reed")
    assert kept.history.get().history_date.month == 10


def test_members_that_were_changed_since_stay_changed(people):
    load_site(content(), people)
    customer = Customer.objects.get(code="larkfield")
    customer.memberships.filter(person__email="tom@larkfield.example").delete()
    assert load_site(content(), people) is None
    assert not customer.memberships.filter(person__email="tom@larkfield.example").exists()


def test_a_real_house_never_gets_the_demo(db, settings, staff):
    settings.PLAIN_START = False
    make_customer(by=staff, values={"name": "Real", "code": "real"})
    with pytest.raises(CommandError, match="known passwords"):
        call_command("demo")
    assert Customer.objects.count() == 1
