"""Who may see what: every URL of the house, for every standing, GET and POST."""

import dataclasses

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver

from sites.actions.house_work import add_work
from sites.actions.invitations import invite
from sites.actions.own_address import ask
from sites.actions.papers import freeze
from sites.actions.pilot import make_link
from sites.actions.proofs import keep
from sites.actions.records import add_record, make_site, remove_record
from sites.actions.stages import give_answer
from sites.demo.drawn import drawn_photo
from sites.models import Host, Person, Site
from tests.people import by_standing, house_staff, larkfield, outsider

STANDINGS = ("nobody", "outsider", "reader", "editor", "lead", "staff")
IN, OUT, NO, GONE, WRONG = "in", "sign-in", 403, 404, 405
AGAIN = "password once more"
# What each standing gets: (GET, POST). "in" is any answer of the view itself: 200, 302, 409, 422.
READ_PAGE = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (IN, WRONG), (IN, WRONG), (IN, WRONG), (IN, WRONG)], strict=True)
)
EDIT_POST = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (WRONG, IN), (WRONG, IN), (WRONG, IN)], strict=True)
)
LEAD_POST = dict(zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (NO, NO), (WRONG, IN), (WRONG, IN)], strict=True))
EDIT_ONLY = dict(zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (IN, IN), (IN, IN), (IN, IN)], strict=True))
EDIT_BOTH = dict(zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (IN, NO), (IN, IN), (IN, IN), (IN, IN)], strict=True))
LEAD_ONLY = dict(zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (NO, NO), (IN, IN), (IN, IN)], strict=True))
HOUSE = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(IN, IN)], strict=True))
HOUSE_READ = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(IN, WRONG)], strict=True))
HOUSE_POST = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(WRONG, IN)], strict=True))
HOUSE_AGAIN = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(AGAIN, AGAIN)], strict=True))
HOUSE_POST_AGAIN = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(WRONG, AGAIN)], strict=True))
EVERYBODY_READ = dict(zip(STANDINGS, [(IN, WRONG)] * 6, strict=True))
EVERYBODY = dict(zip(STANDINGS, [(IN, IN)] * 6, strict=True))
READ_BOTH = dict(zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (IN, IN), (IN, IN), (IN, IN), (IN, IN)], strict=True))
SIGNED_IN_READ = dict(zip(STANDINGS, [(OUT, OUT)] + [(IN, WRONG)] * 5, strict=True))
SIGNED_IN_GONE = dict(zip(STANDINGS, [(OUT, OUT)] + [(WRONG, GONE)] * 5, strict=True))
SIGNED_IN_POST = dict(zip(STANDINGS, [(OUT, OUT)] + [(WRONG, IN)] * 5, strict=True))
EVERYBODY_POST = dict(zip(STANDINGS, [(WRONG, IN)] * 6, strict=True))
SIGNED_IN = dict(zip(STANDINGS, [(OUT, OUT)] + [(IN, IN)] * 5, strict=True))
WITH_PASSWORD = SIGNED_IN | {"staff": (AGAIN, AGAIN)}  # asked for first; here only staff have one
MATRIX = {
    "home": SIGNED_IN, "health": EVERYBODY, "run-worker": EVERYBODY_READ,
    "customer-add": HOUSE, "customer": READ_PAGE, "site-add": EDIT_POST,
    "members": LEAD_POST, "record-add": EDIT_POST, "record-change": EDIT_POST, "record-remove": EDIT_POST,
    "stage": READ_PAGE, "sign": LEAD_POST, "answer": EDIT_BOTH, "paste": EDIT_ONLY, "book": READ_PAGE, "sheet": READ_PAGE,  # noqa: E501
    "config": READ_PAGE, "dates": READ_PAGE,
    "accept": LEAD_ONLY, "withdraw": LEAD_POST, "freeze": LEAD_POST, "differences": READ_PAGE, "changes": READ_PAGE,
    "removals": READ_PAGE,
    "you": SIGNED_IN_READ, "watch": READ_PAGE, "customer-change": LEAD_POST, "member": LEAD_POST,
    "site-back": LEAD_POST, "invitation-again": LEAD_POST, "invitation-take-back": LEAD_POST,
    "invitation": EVERYBODY_READ, "invitation-accept": SIGNED_IN_POST, "invitation-come-in": EVERYBODY_POST,
    "you-address": WITH_PASSWORD, "you-address-proof": SIGNED_IN,
    "assumptions": READ_PAGE, "assume": EDIT_ONLY, "assume-back": EDIT_POST,
    "you-sessions": SIGNED_IN_READ, "you-sessions-end": SIGNED_IN_POST, "you-session-end": SIGNED_IN_GONE,
    "customer-factor": LEAD_POST,
    "house-people": HOUSE_READ, "house-invite": HOUSE_AGAIN, "house-person": HOUSE_READ,
    "house-person-name": HOUSE_POST, "house-person-address": HOUSE_POST_AGAIN, "house-person-end": HOUSE_POST_AGAIN,
    "house-person-open": HOUSE_POST_AGAIN, "house-person-not-staff": HOUSE_POST_AGAIN,
    "house-person-lost-factor": HOUSE_POST_AGAIN, "house-person-sessions-end": HOUSE_POST,
    "house-person-session-end": HOUSE | {"staff": (WRONG, GONE)},
    "house-invitation-take-back": HOUSE_POST,
    "house-customers": HOUSE_READ, "house-customer": HOUSE,
    "house-assumptions": HOUSE_READ, "house-assume": HOUSE, "house-assume-back": HOUSE_POST,
    "house-work": HOUSE_READ, "house-work-add": HOUSE, "house-work-change": HOUSE, "house-work-stop": HOUSE,
    "house-work-again": HOUSE_POST, "house-times": HOUSE_READ, "house-time": HOUSE, "house-time-back": HOUSE_POST,
    "day": READ_PAGE, "pilot-sheet": EVERYBODY, "pilot-links": EDIT_BOTH,
    "pilot-end": EDIT_POST, "pilot-take": EDIT_POST,
    "handover": READ_PAGE,
    "built-over": EDIT_POST, "what-if": READ_PAGE, "what-if-keep": EDIT_POST, "question": READ_PAGE,
    "site-export": READ_PAGE, "site-schema": EVERYBODY_READ, "bring-in": EDIT_ONLY,
    "read-back": EDIT_ONLY,
    "run": READ_PAGE, "run-whole": READ_PAGE, "run-item": EDIT_BOTH, "proof": READ_PAGE, "proof-small": READ_PAGE,
    "ready": READ_PAGE, "step-plans": EDIT_BOTH, "excuse": EDIT_ONLY,
    "probe": READ_PAGE, "probe-script": READ_PAGE, "probe-results": EDIT_ONLY,
    "address-find": READ_PAGE, "address-take": EDIT_POST, "address-lay-out": EDIT_BOTH, "address-carve": EDIT_BOTH,
    "address-ranges": EDIT_BOTH,
    "site-copy": READ_BOTH, "site-remove": LEAD_ONLY, "bring-back": EDIT_POST, "mend": EDIT_POST, "chapter": READ_PAGE,
}  # fmt: skip


def own_urls():
    return [p for p in get_resolver("sites.urls").url_patterns if isinstance(p, URLPattern)]


def test_every_url_is_listed():
    assert {pattern.name for pattern in own_urls()} == set(MATRIX)


def kept_photo(site, by):
    answer = give_answer(by=by, site=site, key="room-seen", state="proven")
    return keep(answer, [drawn_photo("The room")])[0]


def outcome(response):
    if response.status_code == 302 and "/sign-in/reauthenticate/" in response["Location"]:
        return AGAIN
    if response.status_code == 302 and "/sign-in/" in response["Location"]:
        return OUT
    return IN if response.status_code in (200, 204, 302, 409, 422) else response.status_code


@dataclasses.dataclass(frozen=True)
class Ground:
    """What every test here finds there: laid once, and what a test does to it is taken back."""

    people: dict
    site: int
    host: int
    own: int
    removal: int


@pytest.fixture(scope="module")
def ground(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        staff = house_staff()
        site = make_site(by=staff, customer=larkfield(staff), code="mill", name="Mill Street", purpose="live")
        people = by_standing(staff, outsider(staff))
        freeze(by=staff, site=site, reason="first")
        host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
        gone = add_record(by=staff, site=site, kind="host", values={"name": "mill-h2"})
        own = add_record(by=staff, site=site, kind="owncheck", values={"name": "The chair has its own network"})
        yield Ground(people, site.pk, host.pk, own.pk, remove_record(by=staff, record=gone).pk)
        transaction.set_rollback(True)


@pytest.fixture
def people(ground, db):
    return {who: one and Person.objects.get(pk=one.pk) for who, one in ground.people.items()}


@pytest.fixture
def staff(people):
    return people["staff"]


@pytest.fixture
def site(ground, db):
    return Site.objects.select_related("customer").get(pk=ground.site)


@pytest.fixture
def customer(site):
    return site.customer


@pytest.mark.parametrize("name", sorted(MATRIX))
@pytest.mark.parametrize("standing", STANDINGS)
def test_matrix(name, standing, ground, people, site, customer, staff, enter, trial_rule):
    host = Host.objects.get(pk=ground.host)
    words = {
        "customer": "larkfield", "site": "mill", "section": "hosts", "pk": host.pk, "slug": "hosts", "token": trial_rule(site), "number": 1, "name": "port-sheet", "ending": "csv", "key": f"own@owncheck-{ground.own}",  # noqa: E501
        "removal": ground.removal,
    }  # fmt: skip
    if name == "site-schema":
        words["version"] = 1
    if name == "run-item":
        words["kind"] = "check"
    if name.startswith("proof"):
        words["pk"] = kept_photo(site, staff).pk
    if name.startswith("pilot-"):
        link, words["token"] = make_link(by=staff, site=site, person="Eve", days=2)
        words["pk"] = link.pk
    if name == "built-over":
        own = {"target": host.anchor, "field": "memory_gib", "value": "48"}
        words["pk"] = add_record(by=staff, site=site, kind="built", values=own).pk
    if name == "probe-script":
        rooms = {"name": "rooms", "cidr": "10.44.20.0/24"}
        words["network"] = add_record(by=staff, site=site, kind="network", values=rooms).pk
    if name == "question":
        words["key"] = "buy-for-more"
    if "assume" in name:
        words["key"] = "host.vcpu-per-core"
    if name.startswith("house-work"):
        words["what"] = "check"
        words["pk"] = add_work(by=staff, what="check", values={"name": "The rack is photographed"}).pk
    if name.startswith("house-time"):
        words["key"] = "carry-host"
    if name == "house-invitation-take-back":
        words["pk"] = invite(by=staff, customer=None, email="new@house.example", role="staff")[0].pk
    if name.startswith("house-person"):
        words["pk"], words["session"] = people["reader"].pk, 0
    if name == "member":
        words["pk"] = site.customer.memberships.get(person=people["reader"]).pk
    if name.startswith("invitation"):
        made, words["secret"] = invite(by=staff, customer=customer, email="new@larkfield.example", role="reader")
        words["pk"] = made.pk
    if name == "you-address-proof":
        words["secret"] = ask(by=people[standing] or staff, email="mine@larkfield.example")
    pattern = next(p for p in own_urls() if p.name == name)
    url = "/" + str(pattern.pattern)
    for converter in pattern.pattern.converters:
        url = url.replace(f"<slug:{converter}>", str(words[converter])).replace(
            f"<int:{converter}>", str(words[converter])
        )
        url = url.replace(f"<str:{converter}>", str(words[converter]))
    url += "?from=A" if name == "differences" else ""
    client = enter(people[standing])
    assert (outcome(client.get(url)), outcome(client.post(url))) == MATRIX[name][standing]


def test_removed_site_is_not_there(site, staff, enter):
    from sites.models import Removal

    site.removal = Removal.objects.create(site=site, by=staff, what="site")
    site.save()
    assert enter(staff).get("/at/larkfield/mill/hosts/").status_code == 404


def test_member_of_one_customer_sees_only_its_sites_at_home(people, site, enter):
    assert b"Mill Street" in enter(people["reader"]).get("/").content
    assert b"Mill Street" not in enter(people["outsider"]).get("/").content


def test_record_of_another_site_is_not_found(people, site, staff, customer, enter):
    from sites.actions.records import make_site

    other = make_site(by=staff, customer=customer, code="barn", name="Barn")
    host = add_record(by=staff, site=other, kind="host", values={"name": "barn-h1"})
    assert enter(people["editor"]).post(f"/at/larkfield/mill/change/hosts/{host.pk}").status_code == 404
