"""Two who press at the same moment: of a secret, an address and a last lead there is one. On PostgreSQL they
really press together."""

import functools

import pytest

from sites.actions.customers import end_membership, make_member
from sites.actions.invitations import accept, come_in, invite
from sites.actions.own_address import ask, prove
from sites.actions.stages import Refused
from sites.models import Invitation, Membership, Person
from tests.at_once import at_once
from tests.people import by_standing, house_staff, larkfield, outsider

pytestmark = pytest.mark.django_db(transaction=True)
PASSWORD = "reeds-by-the-pond"
ROUNDS = 5


@pytest.fixture
def staff(transactional_db):
    return house_staff()


@pytest.fixture
def customer(staff):
    return larkfield(staff)


@pytest.fixture
def people(customer, staff):
    return by_standing(staff, outsider(staff))


def refused(outcomes) -> int:
    assert all(isinstance(one, Refused) or not isinstance(one, Exception) for one in outcomes), (
        outcomes
    )
    return sum(isinstance(one, Refused) for one in outcomes)


def test_two_leads_cannot_end_each_other(customer, people):
    first = people["lead"]
    second = Person.objects.create_user("second@larkfield.example")
    for _ in range(ROUNDS):
        for person in (first, second):
            make_member(customer=customer, person=person, role="lead")
        one, other = (
            Membership.objects.get(customer=customer, person=person) for person in (first, second)
        )
        outcomes = at_once(
            lambda other=other: end_membership(by=first, member=other),
            lambda one=one: end_membership(by=second, member=one),
        )
        assert refused(outcomes) == 1
        assert customer.memberships.filter(role="lead").count() == 1


def test_a_secret_is_accepted_once(customer, people):
    for _ in range(ROUNDS):
        _, secret = invite(
            by=people["lead"], customer=customer, email="ann@larkfield.example", role="editor"
        )
        outcomes = at_once(
            lambda secret=secret: accept(by=people["outsider"], secret=secret),
            lambda secret=secret: accept(by=people["staff"], secret=secret),
        )
        assert refused(outcomes) == 1
        assert (
            customer.memberships.filter(person__in=(people["outsider"], people["staff"])).count()
            == 1
        )
        customer.memberships.filter(person__in=(people["outsider"], people["staff"])).delete()


def test_an_account_is_made_once(customer, people):
    secrets = []
    for name in ("first", "second"):
        made, secret = invite(
            by=people["lead"], customer=customer, email=f"{name}@larkfield.example", role="reader"
        )
        Invitation.objects.filter(pk=made.pk).update(email="ann@larkfield.example")
        secrets.append(secret)
    outcomes = at_once(
        *(lambda one=one: come_in(secret=one, name="Ann", password=PASSWORD) for one in secrets)
    )
    assert refused(outcomes) == 1
    assert Person.objects.filter(email="ann@larkfield.example").count() == 1


def test_an_address_becomes_one_persons(people):
    tom, eve = people["editor"], people["reader"]
    for number in range(ROUNDS):
        email = f"new{number}@larkfield.example"
        secrets = {person.pk: ask(by=person, email=email) for person in (tom, eve)}
        outcomes = at_once(
            *(functools.partial(prove, by=one, secret=secrets[one.pk]) for one in (tom, eve))
        )
        assert refused(outcomes) == 1
        assert Person.objects.filter(email=email, proven_at__isnull=False).count() == 1
        Person.objects.filter(email=email).update(
            email=f"old{number}@larkfield.example", proven_at=None
        )
