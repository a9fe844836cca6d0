"""Every address of the house with keys of records that are really there."""

from __future__ import annotations

from collections.abc import Iterator

from allauth.account.forms import default_token_generator
from allauth.account.utils import user_pk_to_url_str
from django.urls import URLPattern, URLResolver, get_resolver, reverse

from planner.catalogue.assumptions import listed
from planner.comparing.whatif import QUESTIONS
from planner.papers.configs import CONFIGS
from planner.papers.probe import probe_of
from planner.plan import Plan
from planner.record.chapters import CHAPTERS, SECTIONS
from planner.stages.reading import read
from sites.actions.invitations import invite
from sites.actions.own_address import ask
from sites.actions.papers import freeze
from sites.actions.pilot import make_link
from sites.actions.records import add_record, make_site, remove_record, remove_site
from sites.models import (
    RECORD_MODELS,
    HouseWork,
    Invitation,
    Person,
    PilotLink,
    Proof,
    Removal,
    Site,
)
from sites.pages.standing import plan_of
from sites.views.prints import SHEETS
from sites.web import let_in

INVITED = ("invitation-again", "invitation-take-back")
FEW = 6  # keys of one kind that are walked


def every_url() -> list[URLPattern]:
    """Every address the house answers, of the libraries too."""
    return list(_below(get_resolver()))


def _below(found: URLResolver) -> Iterator[URLPattern]:
    for one in found.url_patterns:
        if isinstance(one, URLResolver):
            yield from _below(one)
        else:
            yield one


def furnish(staff: Person, site: Site) -> dict[str, str]:
    """What the demo house has none of, so that every address leads somewhere; gives the secrets of some addresses."""
    gone = add_record(by=staff, site=site, kind="host", values={"name": "gone"})
    remove_record(by=staff, record=gone)
    remove_site(
        by=staff, site=make_site(by=staff, customer=site.customer, code="gone", name="Gone")
    )
    owner = site.customer.memberships.filter(role="lead").first()
    add_record(
        by=staff, site=site, kind="owncheck", values={"name": "Odd \U0001f600 <b>", "stage": 7}
    )
    add_record(by=staff, site=site, kind="ownstep", values={"name": "Odd step", "stage": 3})
    host = RECORD_MODELS["host"].objects.filter(site=site, removal=None).first()
    built = {"target": host.anchor, "field": "memory_gib", "value": "48"}
    add_record(by=staff, site=site, kind="built", values=built)
    freeze(by=owner.person, site=site, reason="first")
    _, pilot = make_link(by=staff, site=site, person="Eve", days=3)
    _, invited = invite(
        by=staff, customer=site.customer, email="new@larkfield.example", role="reader"
    )
    return {
        "pilot": pilot,
        "invitation": invited,
        "address": ask(by=owner.person, email="noor@new.example"),
        "let-in": let_in.make(owner.person),
    }


def addresses(site: Site, secrets: dict[str, str]) -> dict[str, list[str]]:
    """Addresses by the name of their pattern."""
    plan = plan_of(site)
    house, customer = _house(), [site.customer.code]
    here = [site.customer.code, site.code]
    found = {**house, **_of_customer(customer, site)}
    for name, keys in {**_of_records(site), **_of_plan(plan, site)}.items():
        found[name] = [reverse(name, args=[*here, *key]) for key in keys]
    found["pilot-sheet"] = [reverse("pilot-sheet", args=[secrets["pilot"]])]
    found["you-address-proof"] = [reverse("you-address-proof", args=[secrets["address"]])]
    found["let-in"] = [reverse("let-in", args=[secrets["let-in"]])]
    for name in ("invitation", "invitation-accept", "invitation-come-in"):
        found[name] = [reverse(name, args=[secrets["invitation"]])]
    for pattern in every_url():
        if pattern.name not in found:
            found[pattern.name] = [_reversed(pattern, site)]
    return found


def _reversed(pattern: URLPattern, site: Site) -> str:
    """An address that takes no keys, but the site's own or those of a letter."""
    wanted = {*pattern.pattern.converters, *pattern.pattern.regex.groupindex}
    person = Person.objects.filter(is_staff=False).order_by("pk").first()
    known = {
        "customer": site.customer.code,
        "site": site.code,
        "version": 1,
        "pk": person.pk,
        "uidb36": user_pk_to_url_str(person),
        "key": default_token_generator.make_token(person),
    }
    return reverse(pattern.name, kwargs={name: known.get(name, 1) for name in wanted})


def _house() -> dict[str, list[str]]:
    works = list(HouseWork.objects.all()[:FEW])
    keys: dict[str, list] = {"house-work-add": ["step", "check"]}
    for name in ("house-work-change", "house-work-stop", "house-work-again"):
        keys[name] = [one.pk for one in works]
    for name in ("house-assume", "house-assume-back"):
        keys[name] = list(listed())[:FEW]
    for name in ("house-time", "house-time-back"):
        keys[name] = list(read().steps)[:FEW]
    return {name: [reverse(name, args=[key]) for key in found] for name, found in keys.items()}


def _of_customer(customer: list[str], site: Site) -> dict[str, list[str]]:
    members = [one.pk for one in site.customer.memberships.all()]
    gone = Removal.objects.filter(
        site__customer=site.customer, undone_at=None, what__startswith="site"
    )
    invited = Invitation.objects.filter(customer=site.customer)
    return {
        **{name: [reverse(name, args=[*customer, one.pk]) for one in invited] for name in INVITED},
        "member": [reverse("member", args=[*customer, pk]) for pk in members],
        "site-back": [reverse("site-back", args=[*customer, one.pk]) for one in gone],
    }


def _of_records(site: Site) -> dict[str, list[tuple]]:
    records = []
    for section in SECTIONS:
        rows = (
            [site]
            if section.kind == "site"
            else RECORD_MODELS[section.kind].objects.filter(site=site, removal=None)
        )
        records += [(section.slug, one.pk) for one in rows[:2]]
    ledgers = [(section.slug,) for section in SECTIONS]
    gone = [(one.pk,) for one in Removal.objects.filter(site=site, undone_at=None)]
    proofs = [(one.pk,) for one in Proof.objects.filter(site=site)[:FEW]]
    links = [(one.pk,) for one in PilotLink.objects.filter(site=site)]
    built = [(one.pk,) for one in RECORD_MODELS["built"].objects.filter(site=site, removal=None)]
    return {
        "record-change": records,
        "record-remove": records,
        "record-add": ledgers,
        "paste": ledgers,
        "bring-back": gone,
        "proof": proofs,
        "proof-small": proofs,
        "pilot-end": links,
        "pilot-take": links,
        "built-over": built,
    }


def _of_plan(plan: Plan, site: Site) -> dict[str, list[tuple]]:
    checks, steps = list(plan.stages.checks.values()), list(plan.stages.steps.values())
    tokens = [(one.token,) for one in plan.review.findings]
    mends = [(one.token,) for one in plan.review.findings if one.mend] or tokens
    numbers = [(one.number,) for one in plan.stages.stages]
    spread = max(1, len(checks) // FEW)
    items = [(one.stage, "check", one.key) for one in checks[::spread]]
    items += [(one.stage, "step", one.key) for one in steps[:: max(1, len(steps) // FEW)]]
    return {
        "chapter": [(chapter.slug,) for chapter in CHAPTERS],
        "question": [(key,) for key in QUESTIONS],
        "assume": [(key,) for key in list(listed())[:FEW]],
        "assume-back": [(key,) for key in list(listed())[:FEW]],
        "config": [(slug,) for slug in CONFIGS],
        "sheet": [(name, end) for name, ends in SHEETS.items() for end in ends],
        "accept": tokens[:FEW],
        "withdraw": tokens[:FEW],
        "mend": mends[:FEW],
        "stage": numbers,
        "sign": numbers,
        "excuse": numbers,
        "run": numbers,
        "run-whole": numbers,
        "run-item": items,
        "answer": [(one.key,) for one in checks[::spread]],
        "probe-script": [(id,) for id in probe_of(plan).by_network][:2],
    }
