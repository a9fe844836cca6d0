"""A site of another Deskwright becomes one of ours."""

from __future__ import annotations

import dataclasses

from django.db import transaction

from planner.record import kinds
from planner.record.chapters import Field
from planner.record.choices import NumberScope
from planner.record.facts import Answer, Assumed, SiteFacts
from sites.actions.copying import put_answers, put_records
from sites.actions.counter import touch
from sites.actions.records import make_site
from sites.models import Assumed as AssumedRow
from sites.models import Customer, HouseAssumption, Person, Site

OWN = ("name", "code", "purpose")  # the new site's own, said by whoever brings it in


@transaction.atomic
def bring_in(
    *,
    by: Person,
    customer: Customer,
    facts: SiteFacts,
    name: str,
    code: str,
    purpose: str,
    may_excuse: bool = False,
) -> Site:
    """Makes a new site of tidied facts, with everything they plan.

    Revisions, signatures and acceptances stay where they were made. Answers come as when a site is copied:
    nothing is proven here yet.
    """
    made = make_site(by=by, customer=customer, code=code, name=name, purpose=purpose)
    copied = put_records(
        by=by, made=made, olds=[(r.kind, r.id, r) for r in facts.records()], stays=_stays
    )
    for own in settled(facts).assumed:
        AssumedRow.objects.create(
            site=made,
            key=own.key,
            value=own.value,
            origin=own.origin,
            note=own.note,
            set_on=own.set_on,
        )
    answers = [
        one for one in facts.answers if not one.check.startswith("house@")
    ]  # that house asks elsewhere
    said = [(one.check[:160], one.state, _words(facts, one)) for one in answers]
    put_answers(by=by, made=made, said=said, copied=copied, may_excuse=may_excuse)
    touch(made)
    return made


def _stays(kind: str, field: Field) -> bool:
    return field.kind is kinds.SITES or (kind == "site" and field.name in OWN)


def _words(facts: SiteFacts, answer: Answer) -> str:
    where = ", ".join(filter(None, (facts.customer, facts.site.name)))
    whose = answer.by or "somebody"
    return f"Brought in from {where or 'elsewhere'}, where {whose} answered: {answer.proof}".rstrip(
        ": "
    )


def settled(facts: SiteFacts) -> SiteFacts:
    """The facts with the planning numbers that the new site sets: its own, and those of the house it comes
    from where this house has another value."""
    here = {row.key: row.value for row in HouseAssumption.objects.all()}
    own = {one.key: one for one in facts.assumed if one.scope == NumberScope.SITE}
    for one in facts.assumed:
        if one.scope == NumberScope.HOUSE and one.key not in own and here.get(one.key) != one.value:
            note = f"House rule where this site comes from. {one.note}".strip()
            own[one.key] = Assumed(
                key=one.key, value=one.value, origin=one.origin, note=note, set_on=one.set_on
            )
    return dataclasses.replace(facts, assumed=tuple(own.values()))
