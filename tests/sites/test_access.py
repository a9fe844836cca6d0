"""Who may see what: every URL of the house, for every standing and method; and no key of elsewhere opens anything."""

from __future__ import annotations

import dataclasses

import pytest
from django.db import transaction
from django.urls import URLPattern, get_resolver

from planner.papers.configs import CONFIGS
from planner.record.chapters import BY_SECTION, chapter_of, fields_of
from sites.actions.house_work import add_work
from sites.actions.invitations import invite
from sites.actions.own_address import ask
from sites.actions.papers import freeze
from sites.actions.pilot import make_link
from sites.actions.proofs import keep
from sites.actions.records import add_record, change_record, make_site, remove_record, remove_site
from sites.actions.stages import give_answer
from sites.demo.drawn import drawn_photo
from sites.models import RECORD_MODELS, Host, Person, Site, StepDone
from sites.pages.standing import plan_of
from sites.web import let_in
from tests.door import reauthenticated
from tests.every_row import snapshot
from tests.people import by_standing, house_staff, larkfield, outsider

LOOKED = ("Session", "Presence", "Person")  # who is signed in, who is here, when somebody last came
STANDINGS = ("nobody", "outsider", "reader", "editor", "lead", "staff")
IN, OUT, NO, GONE, WRONG = "in", "sign-in", 403, 404, 405
AGAIN = "password once more"
# What each standing gets: (GET, POST). "in" is any answer of the view itself: 200, 302, 409, 422.
READ_PAGE = dict(
    zip(
        STANDINGS,
        [(OUT, OUT), (GONE, GONE), (IN, WRONG), (IN, WRONG), (IN, WRONG), (IN, WRONG)],
        strict=True,
    )
)
EDIT_POST = dict(
    zip(
        STANDINGS,
        [(OUT, OUT), (GONE, GONE), (NO, NO), (WRONG, IN), (WRONG, IN), (WRONG, IN)],
        strict=True,
    )
)
LEAD_POST = dict(
    zip(
        STANDINGS,
        [(OUT, OUT), (GONE, GONE), (NO, NO), (NO, NO), (WRONG, IN), (WRONG, IN)],
        strict=True,
    )
)
EDIT_ONLY = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (IN, IN), (IN, IN), (IN, IN)], strict=True)
)
EDIT_BOTH = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (IN, NO), (IN, IN), (IN, IN), (IN, IN)], strict=True)
)
LEAD_ONLY = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (NO, NO), (NO, NO), (IN, IN), (IN, IN)], strict=True)
)
HOUSE = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(IN, IN)], strict=True))
HOUSE_READ = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(IN, WRONG)], strict=True))
HOUSE_POST = dict(zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(WRONG, IN)], strict=True))
HOUSE_AGAIN = dict(
    zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(AGAIN, AGAIN)], strict=True)
)
HOUSE_POST_AGAIN = dict(
    zip(STANDINGS, [(OUT, OUT)] + [(GONE, GONE)] * 4 + [(WRONG, AGAIN)], strict=True)
)
EVERYBODY_READ = dict(zip(STANDINGS, [(IN, WRONG)] * 6, strict=True))
EVERYBODY = dict(zip(STANDINGS, [(IN, IN)] * 6, strict=True))
READ_BOTH = dict(
    zip(STANDINGS, [(OUT, OUT), (GONE, GONE), (IN, IN), (IN, IN), (IN, IN), (IN, IN)], strict=True)
)
SIGNED_IN_READ = dict(zip(STANDINGS, [(OUT, OUT)] + [(IN, WRONG)] * 5, strict=True))
SIGNED_IN_GONE = dict(zip(STANDINGS, [(OUT, OUT)] + [(WRONG, GONE)] * 5, strict=True))
SIGNED_IN_POST = dict(zip(STANDINGS, [(OUT, OUT)] + [(WRONG, IN)] * 5, strict=True))
EVERYBODY_POST = dict(zip(STANDINGS, [(WRONG, IN)] * 6, strict=True))
SIGNED_IN = dict(zip(STANDINGS, [(OUT, OUT)] + [(IN, IN)] * 5, strict=True))
WITH_PASSWORD = SIGNED_IN | {"staff": (AGAIN, AGAIN)}  # asked for first; here only staff have one
MATRIX = {
    "home": SIGNED_IN,
    "health": EVERYBODY,
    "run-worker": EVERYBODY_READ,
    "customer-add": HOUSE,
    "customer": READ_PAGE,
    "site-add": EDIT_POST,
    "members": LEAD_POST,
    "record-add": EDIT_POST,
    "record-change": EDIT_POST,
    "record-remove": EDIT_POST,
    "stage": READ_PAGE,
    "sign": LEAD_POST,
    "answer": EDIT_BOTH,
    "paste": EDIT_ONLY,
    "book": READ_PAGE,
    "sheet": READ_PAGE,
    "config": READ_PAGE,
    "dates": READ_PAGE,
    "accept": LEAD_ONLY,
    "withdraw": LEAD_POST,
    "freeze": LEAD_POST,
    "differences": READ_PAGE,
    "changes": READ_PAGE,
    "removals": READ_PAGE,
    "you": SIGNED_IN_READ,
    "watch": READ_PAGE,
    "customer-change": LEAD_POST,
    "member": LEAD_POST,
    "site-back": LEAD_POST,
    "invitation-again": LEAD_POST,
    "invitation-take-back": LEAD_POST,
    "invitation": EVERYBODY_READ,
    "invitation-accept": SIGNED_IN_POST,
    "invitation-come-in": EVERYBODY_POST,
    "you-address": WITH_PASSWORD,
    "you-address-proof": SIGNED_IN,
    "assumptions": READ_PAGE,
    "assume": EDIT_ONLY,
    "assume-back": EDIT_POST,
    "you-sessions": SIGNED_IN_READ,
    "you-sessions-end": SIGNED_IN_POST,
    "you-session-end": SIGNED_IN_GONE,
    "customer-factor": LEAD_POST,
    "house-people": HOUSE_READ,
    "house-invite": HOUSE_AGAIN,
    "house-person": HOUSE_READ,
    "house-person-name": HOUSE_POST,
    "house-person-address": HOUSE_POST_AGAIN,
    "house-person-end": HOUSE_POST_AGAIN,
    "house-person-open": HOUSE_POST_AGAIN,
    "house-person-not-staff": HOUSE_POST_AGAIN,
    "house-person-lost-factor": HOUSE_POST_AGAIN,
    "house-person-let-in": HOUSE_POST_AGAIN,
    "let-in": dict(zip(STANDINGS, [(IN, OUT)] * 6, strict=True)),  # leads on to the sign-in
    "house-person-sessions-end": HOUSE_POST,
    "house-person-session-end": HOUSE | {"staff": (WRONG, GONE)},
    "house-invitation-take-back": HOUSE_POST,
    "house-customers": HOUSE_READ,
    "house-customer": HOUSE,
    "house-assumptions": HOUSE_READ,
    "house-assume": HOUSE,
    "house-assume-back": HOUSE_POST,
    "house-work": HOUSE_READ,
    "house-work-add": HOUSE,
    "house-work-change": HOUSE,
    "house-work-stop": HOUSE,
    "house-work-again": HOUSE_POST,
    "house-times": HOUSE_READ,
    "house-time": HOUSE,
    "house-time-back": HOUSE_POST,
    "day": READ_PAGE,
    "pilot-sheet": EVERYBODY,
    "pilot-links": EDIT_BOTH,
    "pilot-end": EDIT_POST,
    "pilot-take": EDIT_POST,
    "handover": READ_PAGE,
    "built-over": EDIT_POST,
    "what-if": READ_PAGE,
    "what-if-keep": EDIT_POST,
    "question": READ_PAGE,
    "site-export": READ_PAGE,
    "site-schema": EVERYBODY_READ,
    "bring-in": EDIT_ONLY,
    "read-back": EDIT_ONLY,
    "run": READ_PAGE,
    "run-whole": READ_PAGE,
    "run-item": EDIT_BOTH,
    "proof": READ_PAGE,
    "proof-small": READ_PAGE,
    "ready": READ_PAGE,
    "step-plans": EDIT_BOTH,
    "excuse": EDIT_ONLY,
    "probe": READ_PAGE,
    "probe-script": READ_PAGE,
    "probe-results": EDIT_ONLY,
    "address-find": READ_PAGE,
    "address-take": EDIT_POST,
    "address-lay-out": EDIT_BOTH,
    "address-carve": EDIT_BOTH,
    "address-ranges": EDIT_BOTH,
    "site-copy": READ_BOTH,
    "site-remove": LEAD_ONLY,
    "bring-back": EDIT_POST,
    "mend": EDIT_POST,
    "chapter": READ_PAGE,
}


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
    """What every test here finds there: laid once, and what a test does to it is taken back.

    ``here`` is the site, ``near`` another of the same customer, ``far`` another customer's.
    """

    people: dict
    site: int
    host: int
    own: int
    removal: int
    here: Furnished
    near: Furnished
    far: Furnished


@dataclasses.dataclass(frozen=True)
class Furnished:
    """A site with one record of every kind, by kind, and one of whatever else has a key."""

    site: Site
    records: dict
    removal: int
    proof: int
    link: int
    token: str


def furnish(by, site, first):
    """Its records' keys begin at ``first`` and are no other record's of any kind."""
    records = {"site": site}
    for number, (kind, model) in enumerate(RECORD_MODELS.items(), first):
        if kind in ("directory", "service"):
            records[kind] = model.objects.get(site=site)
        elif kind != "site":
            name = {"name": f"{kind} of {site.code}"} if "name" in fields_of(kind) else {}
            records[kind] = model.objects.create(
                pk=number, site=site, made_by=by, changed_by=by, **name
            )
    for kind, values in TOLD.items():
        change_record(by=by, kind=kind, pk=records[kind].pk, opened_at=1, values=values)
    built = {"target": records["host"].anchor, "field": "memory_gib", "value": "48"}
    change_record(by=by, kind="built", pk=records["built"].pk, opened_at=1, values=built)
    gone = RECORD_MODELS["host"].objects.create(
        pk=first + 90, site=site, made_by=by, changed_by=by, name="gone"
    )
    link, _ = make_link(by=by, site=site, person="Eve", days=2)
    removal = remove_record(by=by, record=gone)
    token = f"host-memory-unknown:{records['host'].anchor}:memory_gib"
    return Furnished(site, records, removal.pk, kept_photo(site, by).pk, link.pk, token)


TOLD = {"network": {"cidr": "10.44.20.0/24"}, "owncheck": {"stage": 1}, "ownstep": {"stage": 1}}


@pytest.fixture(scope="module")
def ground(django_db_setup, django_db_blocker):
    with django_db_blocker.unblock(), transaction.atomic():
        staff = house_staff()
        site = make_site(
            by=staff, customer=larkfield(staff), code="mill", name="Mill Street", purpose="live"
        )
        people = by_standing(staff, outsider(staff))
        freeze(by=staff, site=site, reason="first")
        host = add_record(by=staff, site=site, kind="host", values={"name": "mill-h1"})
        gone = add_record(by=staff, site=site, kind="host", values={"name": "mill-h2"})
        own = add_record(
            by=staff, site=site, kind="owncheck", values={"name": "The chair has its own network"}
        )
        near = make_site(by=staff, customer=site.customer, code="hall", name="Hall", purpose="live")
        far = make_site(
            by=staff,
            customer=people["outsider"].memberships.get().customer,
            code="yard",
            name="Yard",
        )
        furnished = [
            furnish(staff, one, first) for one, first in ((site, 1100), (near, 1200), (far, 1300))
        ]
        for letter in "AB":  # revision B is there alone
            freeze(by=staff, site=near, reason=letter)
        removal = remove_record(by=staff, record=gone)
        for one in Site.objects.all():
            plan_of(one)  # or the first page would leave what the home page shows of it
        yield Ground(people, site.pk, host.pk, own.pk, removal.pk, *furnished)
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


@pytest.fixture
def url_of(ground, people, site, customer, staff, trial_rule):
    """The address of a name, with keys of what is there, for somebody of a standing."""

    def found(name, standing):
        return _url_of(name, standing, ground, people, site, customer, staff, trial_rule)

    return found


def _url_of(name, standing, ground, people, site, customer, staff, trial_rule):
    host = Host.objects.get(pk=ground.host)
    words = {
        "customer": "larkfield",
        "site": "mill",
        "section": "hosts",
        "pk": host.pk,
        "slug": "hosts",
        "token": trial_rule(site),
        "number": 1,
        "name": "port-sheet",
        "ending": "csv",
        "key": f"own@owncheck-{ground.own}",
        "removal": ground.removal,
    }
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
        words["pk"] = add_work(
            by=staff, what="check", values={"name": "The rack is photographed"}
        ).pk
    if name.startswith("house-time"):
        words["key"] = "carry-host"
    if name == "house-invitation-take-back":
        words["pk"] = invite(by=staff, customer=None, email="new@house.example", role="staff")[0].pk
    if name.startswith("house-person"):
        words["pk"], words["session"] = people["reader"].pk, 0
    if name == "member":
        words["pk"] = site.customer.memberships.get(person=people["reader"]).pk
    if name.startswith("invitation"):
        made, words["secret"] = invite(
            by=staff, customer=customer, email="new@larkfield.example", role="reader"
        )
        words["pk"] = made.pk
    if name == "let-in":
        words["secret"] = let_in.make(people["reader"])
    if name == "you-address-proof":
        words["secret"] = ask(by=people[standing] or staff, email="mine@larkfield.example")
    pattern = next(p for p in own_urls() if p.name == name)
    url = "/" + str(pattern.pattern)
    for converter in pattern.pattern.converters:
        url = url.replace(f"<slug:{converter}>", str(words[converter])).replace(
            f"<int:{converter}>", str(words[converter])
        )
        url = url.replace(f"<str:{converter}>", str(words[converter]))
    return url + ("?from=A" if name == "differences" else "")


@pytest.mark.parametrize("name", sorted(MATRIX))
@pytest.mark.parametrize("standing", STANDINGS)
def test_matrix(name, standing, people, enter, url_of):
    url, client = url_of(name, standing), enter(people[standing])
    if standing == "staff":
        nothing_is_done_but_by_post(client, url)
    assert (outcome(client.get(url)), outcome(client.post(url))) == MATRIX[name][standing]


BEHIND = sorted(name for name, row in MATRIX.items() if AGAIN in row["staff"])


@pytest.mark.parametrize("name", BEHIND)
@pytest.mark.parametrize("standing", ("outsider", "lead", "staff"))
def test_behind_the_password_once_more(name, standing, people, enter, url_of):
    """It is no right: who had none before has none after it, and house staff get to the page itself."""
    url, client = url_of(name, standing), enter(people[standing])
    reauthenticated(client, people[standing])
    if standing == "staff":
        nothing_is_done_but_by_post(client, url)
    wanted = tuple(IN if one == AGAIN else one for one in MATRIX[name][standing])
    assert (outcome(client.get(url)), outcome(client.post(url))) == wanted


def test_there_is_something_behind_it():
    assert {"house-invite", "house-person-end", "you-address"} <= set(BEHIND)


def nothing_is_done_but_by_post(client, url):
    """Only POST changes anything; a page that is read leaves at most that it was read."""
    for site in Site.objects.filter(code="mill"):
        plan_of(site)  # or the first page would leave what the home page shows of it
    before = snapshot(but=LOOKED)
    for method in ("HEAD", "OPTIONS", "PUT", "PATCH", "DELETE", "TRACE", "ODD"):
        response = client.generic(
            method, url, b"reason=so&role=lead", "application/x-www-form-urlencoded"
        )
        assert response.status_code in (200, 204, 302, 404, 405), (method, response.status_code)
    assert snapshot(but=LOOKED) == before


# -- keys of elsewhere ---------------------------------------------------------------------------

HERE = "/at/larkfield/mill/"
EDITORS = ("editor", "lead", "staff")


def keys_of(kind, ground):
    """Keys of elsewhere: of another site, of another customer's, of another kind, of nothing."""
    other = "network" if kind != "network" else "host"
    strange = [
        ground.near.records[kind].pk,
        ground.far.records[kind].pk,
        ground.here.records[other].pk,
        999_999,
    ]
    return strange if kind != "site" else strange[:2]


@pytest.mark.parametrize("slug", sorted(BY_SECTION))
def test_a_record_is_opened_and_changed_only_at_its_own_site(slug, ground, people, enter):
    part = BY_SECTION[slug]
    own, page = ground.here.records[part.kind], f"{HERE}{chapter_of(part).slug}/"
    strange = keys_of(part.kind, ground)
    before = snapshot(but=LOOKED)
    for who in STANDINGS:
        client, may = enter(people[who]), who in EDITORS
        shut = {"nobody": OUT, "outsider": GONE, "reader": NO}.get(who, GONE)
        for pk in strange:
            for does in ("change", "remove"):
                sent = {f"{part.kind}-{pk}-name": "taken over", f"{part.kind}-{pk}-edits": "1"}
                assert outcome(client.post(f"{HERE}{does}/{slug}/{pk}", sent)) == shut
        for pk in strange[:2] if who in ("editor", "staff") else ():
            for does in ("edit",) if part.single else ("edit", "remove"):
                assert client.get(f"{page}?{does}={slug}:{pk}").status_code == GONE
        if who in ("editor", "reader"):
            shown = client.get(f"{page}?edit={slug}:{own.pk}").content.decode()
            assert (f"change/{slug}/{own.pk}" in shown) == may
    assert snapshot(but=LOOKED) == before
    assert outcome(client.post(f"{HERE}change/{slug}/{own.pk}", {})) == IN
    assert outcome(client.post(f"{HERE}remove/{slug}/{own.pk}")) == (GONE if part.single else IN)


@pytest.mark.parametrize("slug", sorted(BY_SECTION))
def test_a_record_never_names_one_of_elsewhere(slug, ground, people, enter):
    """What may be chosen is what is there: a key of elsewhere is refused, whoever sends it."""
    part = BY_SECTION[slug]
    own, client = ground.here.records[part.kind], enter(people["staff"])
    for one in part.fields:
        wanted = {"record": one.to, "records": one.to, "any-record": "host", "sites": "site"}.get(
            one.kind
        )
        for place in (ground.near, ground.far) if wanted else ():
            if one.kind == "sites" and place is ground.near:
                continue  # a site may be joined to another of its customer
            named = place.records[wanted]
            value = named.anchor if one.kind == "any-record" else str(named.pk)
            edits = type(own).objects.get(pk=own.pk).edits
            response = client.post(
                f"{HERE}change/{slug}/{own.pk}", {f"{own.anchor}-{one.name}": value}
            )
            own.refresh_from_db()
            assert (response.status_code, own.edits) == (422, edits), one.name
            assert getattr(own, one.name) in (None, [], "", ground.here.records["host"].anchor), (
                one.name
            )


def of_elsewhere(place):
    """Ways to what has a key of its own at another site: method, and address below this site. Revision B is there."""
    at = place.records
    check, step = f"own@{at['owncheck'].anchor}", f"own@{at['ownstep'].anchor}"
    for way in (
        f"answer/{check}",
        f"run/1/check/{check}/",
        f"run/1/step/{step}/",
        f"accept/{place.token}",
    ):
        yield "GET", way
        yield "POST", way
    yield "POST", f"bring-back/{place.removal}"
    yield "POST", f"pilot/{place.link}/end"
    yield "POST", f"pilot/{place.link}/take"
    yield "POST", f"built/{at['built'].pk}/take-over"
    yield "GET", f"proof/{place.proof}"
    yield "GET", f"proof/{place.proof}/small"
    yield "GET", f"probe/{at['network'].pk}.py"
    yield "GET", "differences?from=B"
    yield "GET", "differences?from=A&to=B"
    for paper in (
        "build-book.pdf",
        "site.json",
        "dates.ics",
        "port-sheet.csv",
        f"config/{next(iter(CONFIGS))}",
    ):
        yield "GET", f"print/{paper}?revision=B"


@pytest.mark.parametrize("where", ("near", "far"))
def test_what_has_a_key_is_found_only_at_its_own_site(where, ground, people, enter):
    before = snapshot(but=LOOKED)
    for who in EDITORS:
        client = enter(people[who])
        for method, way in of_elsewhere(getattr(ground, where)):
            path, _, query = way.partition("?")
            response = client.generic(method, HERE + path, QUERY_STRING=query)
            assert response.status_code == (NO if who == "editor" and "accept" in way else GONE), (
                way
            )
    assert snapshot(but=LOOKED) == before


@pytest.mark.parametrize("where", ("near", "far"))
def test_what_is_sent_along_names_only_what_is_here(where, ground, people, enter):
    """Keys that stand in a form or a query, not in the path: they are passed over or refused."""
    place, client = getattr(ground, where), enter(people["staff"])
    host, step = place.records["host"], f"own@{place.records['ownstep'].anchor}"
    client.get(HERE + "brief/")  # the first page of a day leaves what the home page shows
    before = snapshot(but=LOOKED)
    take = {"at": host.anchor, "field": "address", "value": "10.44.20.1"}
    values = f"address=10.44.20.1|{host.edits}"
    for way, sent in (
        ("addresses/take", take),
        ("addresses/lay-out", {"take": f"{host.anchor}|{values}"}),
        ("addresses/ranges", {"take": f"{place.records['network'].anchor}|{values}"}),
        (f"mend/{place.token}", {}),
        ("what-if/keep", {f"{host.anchor}-memory_gib": "1"}),
        ("what-if/keep", {f"{host.anchor}-more": "1"}),
        ("owners", {"step": step, "likely_minutes": "5"}),
        ("stages/1/excuse", {"check": step, "reason": "so"}),
    ):
        response = client.post(HERE + way, sent)
        assert (
            response.status_code in (302, 409, 422) and host.name not in response.content.decode()
        ), way
    assert snapshot(but=LOOKED) == before
    assert host.name not in client.get(f"{HERE}changes?of={host.anchor}").content.decode()
    client.post(f"{HERE}withdraw/{place.token}")
    assert snapshot(but=LOOKED) == before


def test_what_a_customer_has_is_found_only_there(ground, people, customer, enter, staff):
    """Members, invitations and removed sites of another customer, by a lead of this one and by house staff."""
    other = ground.far.site.customer
    invited, _ = invite(by=staff, customer=other, email="new@other.example", role="reader")
    gone = remove_site(by=staff, site=make_site(by=staff, customer=other, code="gone", name="Gone"))
    before = snapshot(but=LOOKED)
    for who in ("lead", "staff"):
        client = enter(people[who])
        for way in (
            f"member/{other.memberships.get().pk}",
            f"invitation/{invited.pk}/again",
            f"invitation/{invited.pk}/take-back",
            f"site-back/{gone.pk}",
        ):
            assert client.post(f"/at/larkfield/{way}", {"role": "reader"}).status_code == GONE, way
    assert snapshot(but=LOOKED) == before


def test_a_site_is_copied_only_to_where_one_may_make_one(ground, people, enter):
    sent = {"customer": "other", "name": "Copy", "code": "copy"}
    assert enter(people["lead"]).post(f"{HERE}copy", sent).status_code == 422
    assert enter(people["outsider"]).post(f"{HERE}copy", sent).status_code == GONE
    assert not Site.objects.filter(code="copy").exists()


def test_a_step_is_handed_only_to_who_may_edit_here(ground, people, enter):
    way = f"{HERE}run/1/step/own@{ground.here.records['ownstep'].anchor}/"
    for who in ("outsider", "reader"):
        sent = {"does": "hand", "owner": people[who].pk}
        assert enter(people["editor"]).post(way, sent).status_code == 422
    assert not StepDone.objects.filter(site=ground.site).exists()


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
    assert (
        enter(people["editor"]).post(f"/at/larkfield/mill/change/hosts/{host.pk}").status_code
        == 404
    )
