"""What somebody else does in the very moment: judged is what is held, and saved is what was changed alone."""

import copy

import pytest
from allauth.mfa.models import Authenticator
from django.db import DatabaseError
from django.test import Client
from django.utils import timezone

from sites.actions import people as people_actions
from sites.actions.customers import change_customer
from sites.actions.invitations import accept, come_in, invite
from sites.actions.stages import Refused
from sites.models import Customer, Person
from sites.models.people import NO_ADDRESS
from tests.door import code_of, give_factor, reauthenticated
from tests.meanwhile import at_every_moment
from tests.sites.test_factor import SET_UP, secret_of

PASSWORD = "reeds-by-the-pond"


@pytest.fixture(autouse=True)
def by_letter(settings):
    settings.SENDS_MAIL = True


def sound(outcome) -> bool:
    """Either it was done, or it was refused in words."""
    return isinstance(outcome, Refused) or not isinstance(outcome, Exception)


@pytest.fixture
def squatter(db):
    return Person.objects.create_user("ann@larkfield.example", PASSWORD)


@pytest.fixture
def secret(people, customer):
    """Of an invitation of ann's."""
    email = "ann@larkfield.example"
    return invite(by=people["lead"], customer=customer, email=email, role="editor")[1]


def taking(secret):
    return lambda: come_in(secret=secret, name="Ann", password=PASSWORD, take_address=True)


def test_an_address_is_not_taken_from_somebody_who_has_just_become_house_staff(squatter, secret):
    act = Person.objects.filter(pk=squatter.pk)

    def judge(outcome):
        assert sound(outcome), outcome
        assert not Person.objects.filter(is_staff=True, email__endswith=NO_ADDRESS).exists()

    at_every_moment(Person, lambda: act.update(is_staff=True), taking(secret), judge)


def test_an_address_is_not_taken_from_somebody_who_has_just_proven_it(squatter, secret):
    def proves():
        Person.objects.filter(pk=squatter.pk).update(proven_at=timezone.now())

    def judge(outcome):
        assert isinstance(outcome, Refused), outcome
        assert Person.objects.get(pk=squatter.pk).has_address

    at_every_moment(Person, proves, taking(secret), judge)


def test_an_address_whose_account_has_just_gone_elsewhere_is_no_error(squatter, secret):
    def goes():
        Person.objects.filter(pk=squatter.pk).update(email="elsewhere@larkfield.example")

    def judge(outcome):
        assert sound(outcome), outcome

    at_every_moment(Person, goes, taking(secret), judge)


def test_of_two_roles_accepted_at_once_the_higher_stays(people, customer):
    offers = {
        role: invite(by=people["lead"], customer=customer, email=f"{role}@x.example", role=role)[1]
        for role in ("lead", "reader")
    }
    mara = people["outsider"]

    def judge(outcome):
        assert not isinstance(outcome, Exception), outcome
        assert customer.memberships.get(person=mara).role == "lead"

    at_every_moment(
        Customer,
        lambda: accept(by=mara, secret=offers["lead"]),
        lambda: accept(by=mara, secret=offers["reader"]),
        judge,
    )


def test_an_account_that_is_just_ended_does_not_become_house_staff(staff, people):
    _, secret = invite(by=staff, customer=None, email="x@house.example", role="staff")
    mara = people["outsider"]

    def ends():
        people_actions.end_account(by=staff, person=Person.objects.get(pk=mara.pk))

    def judge(outcome):
        assert isinstance(outcome, Refused), outcome
        assert not Person.objects.get(pk=mara.pk).is_staff

    at_every_moment(Person, ends, lambda: accept(by=mara, secret=secret), judge)


def test_a_letter_to_the_address_before_proves_no_other(people, customer, squatter, secret):
    def moves():
        Person.objects.filter(pk=squatter.pk).update(email="new@larkfield.example", proven_at=None)

    def accepts():
        accept(by=copy.copy(squatter), secret=secret)

    def judge(outcome):
        assert sound(outcome), outcome
        assert Person.objects.get(pk=squatter.pk).proven_at is None

    at_every_moment(Person, moves, accepts, judge)


# -- customers -------------------------------------------------------------------------------------


@pytest.mark.parametrize("other", [{"factor_required": True}, {"proof_mib": 77}])
def test_saving_a_name_leaves_alone_what_somebody_else_has_just_set(people, customer, other):
    read = Customer.objects.get(pk=customer.pk)

    def saves():
        opened = {"opened_at": read.edits, "values": {"name": "Larkfield Care"}}
        return change_customer(by=people["lead"], customer=read, **opened)

    def sets():
        Customer.objects.filter(pk=customer.pk).update(**other)

    def judge(outcome):
        assert not isinstance(outcome, Exception), outcome
        now = Customer.objects.get(pk=customer.pk)
        assert now.name == "Larkfield Care"
        assert {name: getattr(now, name) for name in other} == other

    at_every_moment(Customer, sets, saves, judge)


def test_an_instance_read_long_before_undoes_nothing(people, customer):
    """Without luck: the row was read, and then a lead asked a factor of everybody."""
    read = Customer.objects.get(pk=customer.pk)
    give_factor(people["lead"])
    people_actions.ask_for_factor(by=people["lead"], customer=customer, wanted=True)
    change_customer(
        by=people["lead"], customer=read, opened_at=1, values={"name": "Larkfield Care"}
    )
    now = Customer.objects.get(pk=customer.pk)
    assert (now.name, now.factor_required) == ("Larkfield Care", True)


# -- the second factor -----------------------------------------------------------------------------


def test_setting_up_a_factor_twice_at_once_is_no_error(people):
    mara = people["outsider"]
    client = reauthenticated(_signed_in(mara), mara)
    seed = secret_of(client.get(SET_UP))
    sent = {"code": code_of(seed=seed)}

    def judge(outcome):
        assert not isinstance(outcome, DatabaseError), outcome
        assert outcome["Location"] == "/sign-in/2fa/recovery-codes/"
        assert Authenticator.objects.filter(user=mara, type="totp").count() == 1

    at_every_moment(Person, lambda: give_factor(mara), lambda: client.post(SET_UP, sent), judge)


def _signed_in(person) -> Client:
    client = Client()
    client.force_login(person)
    return client


def test_the_set_up_pressed_again_leads_to_the_codes(people):
    mara = people["outsider"]
    client = reauthenticated(_signed_in(mara), mara)
    give_factor(mara)
    answer = client.post(SET_UP, {"code": "000000"})
    assert answer["Location"] == "/sign-in/2fa/recovery-codes/"
    assert client.get(SET_UP)["Location"] == "/sign-in/2fa/"
