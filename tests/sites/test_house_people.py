"""Pages on which house staff look after people and customers."""

import re

import pytest
from allauth.usersessions.models import UserSession
from django.core import mail
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from sites.actions import people as actions
from sites.actions.customers import make_customer, make_member
from sites.actions.invitations import invite
from sites.actions.own_address import ask, prove
from sites.actions.stages import Refused, give_answer
from sites.models import Answer, Customer, Invitation, Membership, Person, Proof
from tests.door import PASSWORD, give_factor, is_in, reauthenticated, sign_in, somebody
from tests.processes import at_once, bring_back

HTMX = {"HTTP_HX_REQUEST": "true"}
SENSITIVE = ["address", "end", "open", "not-staff", "lost-factor"]


@pytest.fixture
def inside(client, staff):
    """House staff, who has just typed the password once more."""
    client.force_login(staff)
    return reauthenticated(client, staff)


@pytest.fixture
def second(db):
    """Another one of the house."""
    return Person.objects.create_superuser("second@house.example", PASSWORD, name="Second")


@pytest.fixture
def reader(people):
    return people["reader"]


def place(person, what="") -> str:
    return f"/house/people/{person.pk}" + (f"/{what}" if what else "")


# -- the list --------------------------------------------------------------------------------------


def test_the_list_tells_what_opens_to_whom(people, site, inside):
    give_factor(people["editor"])
    Person.objects.filter(pk=people["lead"].pk).update(proven_at=timezone.now(), is_active=False)
    page = inside.get("/house/people/").content.decode()
    rows = {row.split("</a>")[0].rsplit(">", 1)[1]: row for row in page.split("<tr>")[2:]}
    assert set(rows) == {
        "Staff",
        *(f"{role}@larkfield.example" for role in ("reader", "editor", "lead")),
        "lead@other.example",
    }
    assert "house staff" in rows["Staff"]
    lead, editor = rows["lead@larkfield.example"], rows["editor@larkfield.example"]
    assert (
        "not proven" not in lead
        and "ended" in lead
        and "not proven" in editor
        and "ended" not in editor
    )
    assert "Larkfield Vets: editor" in editor and "<td>yes</td>" in editor and "<td>no</td>" in lead


def test_the_list_has_search_and_pages(staff, inside):
    for n in range(60):
        Person.objects.create_user(f"p{n:02}@many.example", name=f"Person {n:02}")
    first = inside.get("/house/people/").content.decode()
    assert "61 people" in first and "Page 1 of 2" in first and "Person 55" not in first
    assert "Person 55" in inside.get("/house/people/", {"page": "2"}).content.decode()
    found = inside.get("/house/people/", {"q": "P33@MANY"}, **HTMX).content.decode()
    assert "<html" not in found and "1 person found" in found and "Person 33" in found


def test_the_lists_cost_the_same_however_long_they_are(staff, inside):
    def cost(url):
        with CaptureQueriesContext(connection) as seen:
            assert inside.get(url).status_code == 200
        return len(seen)

    def fill(numbers):
        for n in numbers:
            made = make_customer(by=staff, values={"name": f"Customer {n}", "code": f"c{n}"})
            make_member(customer=made, person=somebody(f"p{n}@many.example"), role="lead")

    fill(range(2))
    before = [cost("/house/people/"), cost("/house/customers/")]
    fill(range(2, 22))
    assert [cost("/house/people/"), cost("/house/customers/")] == before


def test_home_leads_there(inside):
    page = inside.get("/").content.decode()
    assert 'href="/house/people/"' in page and 'href="/house/customers/"' in page


# -- one person ------------------------------------------------------------------------------------


@pytest.mark.parametrize("what", SENSITIVE)
def test_an_open_session_alone_does_nothing_sensitive(what, staff, second, client):
    give_factor(second)
    before = Person.objects.values().get(pk=second.pk)
    client.force_login(staff)
    answer = client.post(place(second, what), {"email": "mine@evil.example"})
    assert answer["Location"].startswith("/sign-in/reauthenticate/")
    assert Person.objects.values().get(pk=second.pk) == before


def test_a_password_typed_long_ago_is_too_old(staff, second, client):
    client.force_login(staff)
    reauthenticated(client, staff)
    kept = client.session
    kept["account_authentication_methods"] = [
        {**kept["account_authentication_methods"][0], "at": 1.0}
    ]
    kept.save()
    assert client.post(place(second, "end"))["Location"].startswith("/sign-in/reauthenticate/")


def test_a_name_is_changed(reader, inside):
    assert inside.post(place(reader, "name"), {"name": "Rae Dunn"}).status_code == 302
    assert Person.objects.get(pk=reader.pk).name == "Rae Dunn"
    assert inside.post(place(reader, "name"), {"name": ""}).status_code == 422


def test_a_new_address_is_not_proven_and_ends_sessions_and_letters(
    inside, settings, django_capture_on_commit_callbacks
):
    settings.SENDS_MAIL = True
    eve, hers = somebody("eve@larkfield.example", proven_at=timezone.now()), Client()
    sign_in(hers, eve.email)
    Client().post("/sign-in/password/reset/", {"email": eve.email})
    link = next(word for word in mail.outbox[0].body.split() if "reset/key" in word)
    with django_capture_on_commit_callbacks(execute=True):
        inside.post(place(eve, "address"), {"email": " New@Larkfield.example"})
    eve.refresh_from_db()
    assert eve.email == "new@larkfield.example" and eve.proven_at is None and not is_in(hers)
    assert (
        b"does not work"
        in Client().get(link.removeprefix("http://testserver"), follow=True).content
    )
    assert {letter.to[0] for letter in mail.outbox[1:]} == {
        "eve@larkfield.example",
        "new@larkfield.example",
    }


def test_an_address_of_another_is_refused(people, reader, inside):
    page = inside.post(place(reader, "address"), {"email": "EDITOR@larkfield.example"})
    assert page.status_code == 422 and b"Another account has this address" in page.content
    with pytest.raises(Refused):
        actions.change_address(by=people["staff"], person=reader, email=people["editor"].email)


def test_an_ended_account_opens_nothing_and_stays_listed(people, site, reader, inside):
    hers = Client()
    hers.force_login(reader)
    inside.post(place(reader, "end"))
    reader.refresh_from_db()
    assert not reader.is_active and hers.get("/at/larkfield/").status_code == 302
    assert Membership.objects.filter(person=reader).exists()
    page = inside.get(place(reader)).content.decode()
    assert "This account is ended" in page and "Larkfield Vets" in page
    inside.post(place(reader, "open"))
    assert Person.objects.get(pk=reader.pk).is_active
    assert hers.get("/at/larkfield/").status_code == 302  # the session from before stays ended
    hers.force_login(reader)
    assert hers.get("/at/larkfield/").status_code == 200


def test_ending_an_account_changes_nothing_that_it_answered(people, site, inside):
    lead = people["lead"]
    give_answer(by=lead, site=site, key="room-seen", state="trust")
    inside.post(place(lead, "end"))
    assert Answer.objects.get(site=site).by == lead


def test_invitations_end_with_whoever_made_them(staff, second, customer, inside):
    made, _ = invite(by=second, customer=customer, email="new@larkfield.example", role="lead")
    other, _ = invite(by=staff, customer=customer, email="also@larkfield.example", role="lead")
    inside.post(place(second, "not-staff"))
    standing = Invitation.objects.standing(timezone.now())
    assert list(standing) == [other] and made not in standing


def test_the_page_says_which_customers_lose_their_lead(people, customer, inside):
    assert "Then without a lead" in inside.get(place(people["lead"])).content.decode()
    assert "Then without a lead" not in inside.get(place(people["editor"])).content.decode()
    make_member(customer=customer, person=people["editor"], role="lead")
    assert "Then without a lead" not in inside.get(place(people["lead"])).content.decode()


# -- house staff -----------------------------------------------------------------------------------


def test_somebody_new_of_the_house_is_invited(staff, inside, client, settings):
    settings.SENDS_MAIL = True
    assert inside.post("/house/people/invite", {"email": "nobody"}).status_code == 422
    page = inside.post(
        "/house/people/invite", {"email": "New@House.example", "name": "Nia"}, follow=True
    )
    made = Invitation.objects.get()
    assert (made.customer, made.role, made.email, made.inviter) == (
        None,
        "staff",
        "new@house.example",
        staff,
    )
    assert b"on its way to new@house.example" in page.content and mail.outbox[0].to == [
        "new@house.example"
    ]
    assert not Person.objects.filter(email="new@house.example").exists()


def test_without_letters_the_invitation_is_handed_over(inside, settings):
    settings.SENDS_MAIL = False
    page = inside.post(
        "/house/people/invite", {"email": "new@house.example"}, follow=True
    ).content.decode()
    assert "Hand this link to new@house.example yourself" in page and "/invitation/" in page
    made = Invitation.objects.get()
    assert "new@house.example" in inside.get("/house/people/").content.decode()
    inside.post(f"/house/people/invitation/{made.pk}/take-back")
    assert not Invitation.objects.standing(timezone.now()).exists()
    assert (
        "new@house.example"
        not in inside.get("/house/people/", follow=True).content.decode().split("<h1>")[1]
    )


def test_an_invitation_of_a_customer_is_not_taken_back_here(people, customer, inside):
    made, _ = invite(
        by=people["lead"], customer=customer, email="new@larkfield.example", role="lead"
    )
    assert inside.post(f"/house/people/invitation/{made.pk}/take-back").status_code == 404


@pytest.mark.parametrize("what", ["end", "not-staff"])
def test_nobody_ends_or_demotes_himself(what, staff, second, inside):
    page = inside.post(place(staff, what), follow=True).content.decode()
    staff.refresh_from_db()
    assert staff.is_active and staff.is_staff and "not you yourself" in page
    assert f'action="{place(staff, what)}"' not in page


def test_another_of_the_house_is_demoted_and_keeps_memberships(second, customer, inside):
    make_member(customer=customer, person=second, role="reader")
    theirs = Client()
    theirs.force_login(second)
    inside.post(place(second, "not-staff"))
    second.refresh_from_db()
    assert not second.is_staff and not second.is_superuser
    assert (
        theirs.get("/house/people/").status_code == 404
        and theirs.get("/at/larkfield/").status_code == 200
    )


def test_the_last_one_of_the_house_stays(staff, second):
    """Told of somebody whom a race, or a program, makes the last."""
    Person.objects.filter(pk=staff.pk).update(is_staff=False)
    for action in (actions.end_account, actions.end_staff):
        with pytest.raises(Refused):
            action(by=staff, person=second)
    second.refresh_from_db()
    assert second.is_active and second.is_staff


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("action", ["end_account", "end_staff"])
def test_two_who_end_each_other_leave_one(action, tmp_path):
    both = [Person.objects.create_superuser(f"{n}@house.example", PASSWORD) for n in range(2)]
    program = f"""
        from sites.actions import people
        from sites.actions.stages import Refused
        from sites.models import Person
        one, other = Person.objects.filter(pk__in={[one.pk for one in both]!r}).order_by("pk")
        if number:
            one, other = other, one
        try:
            people.{action}(by=one, person=other)
            print(1)
        except Refused:
            print(0)
    """
    assert sorted(at_once(program, tmp_path)) == ["0", "1"]
    left = bring_back(tmp_path, "SELECT count(*) FROM sites_person WHERE is_staff AND is_active")
    assert left == [(1,)]


def test_ones_own_sessions_are_ended_on_ones_own_page(staff, inside):
    assert inside.post(place(staff, "sessions/end"))["Location"] == "/you/sessions"
    assert (
        UserSession.objects.filter(user=staff).count() == 0
        and inside.get("/you").status_code == 200
    )


# -- customers -------------------------------------------------------------------------------------


def test_the_customers_tell_who_leads_them_and_how_much_they_keep(
    people, site, customer, inside, settings
):
    settings.PROOF_QUOTA_MIB = 100
    answer = give_answer(by=people["lead"], site=site, key="room-seen", state="trust")
    for size in (1_000_000, 2_000_000):
        Proof.objects.create(site=site, answer=answer, kind="file", name="a", size=size)
    Customer.objects.filter(code="other").update(factor_required=True, proof_mib=7)
    Person.objects.filter(email="lead@other.example").update(is_active=False)
    page = inside.get("/house/customers/").content.decode()
    rows = {row.split("</a>")[0].rsplit(">", 1)[1]: row for row in page.split("<tr>")[2:]}
    ours, other = rows["Larkfield Vets"], rows["Other"]
    assert "lead@larkfield.example" in ours and "2.9 of 100" in ours and "up to each" in ours
    assert "† no lead" in other and "0 of 7" in other and "asked of all" in other
    assert ours.count('<td class="number">1</td>') == 1 and '<td class="number">3</td>' in ours


def test_customers_are_searched(people, inside):
    found = inside.get("/house/customers/", {"q": "lark"}, **HTMX).content.decode()
    assert "<html" not in found and "1 customer found" in found and "Larkfield" in found


def test_a_customer_is_changed(customer, inside):
    words = {"name": "Larkfield Animal Care", "reference": "C-9", "note": "", "proof_mib": "500"}
    assert inside.post("/house/customers/larkfield", words | {"edits": 1}).status_code == 302
    customer.refresh_from_db()
    assert (customer.name, customer.reference, customer.proof_mib) == (
        "Larkfield Animal Care",
        "C-9",
        500,
    )
    inside.post("/house/customers/larkfield", words | {"proof_mib": "", "edits": 2})
    customer.refresh_from_db()
    assert customer.proof_mib is None
    for wrong in ("0", "-1", "lots", "9" * 30):
        assert (
            inside.post("/house/customers/larkfield", words | {"proof_mib": wrong}).status_code
            == 422
        )
    assert inside.get("/house/customers/nobody").status_code == 404


# -- an account that lost its address --------------------------------------------------------------


@pytest.fixture
def lost(customer):
    """Somebody whose address was taken by who showed that it is theirs."""
    eve = somebody("eve@larkfield.example")
    make_member(customer=customer, person=eve, role="reader")
    secret = ask(by=somebody("true@larkfield.example"), email=eve.email)
    prove(by=Person.objects.get(email="true@larkfield.example"), secret=secret)
    eve.refresh_from_db()
    assert not eve.has_address
    return eve


def test_nobody_signs_in_with_what_stands_for_an_address(lost):
    client = Client()
    assert sign_in(client, lost.email).status_code == 200 and not is_in(client)


def test_house_staff_see_that_an_account_lost_its_address(lost, inside):
    page = inside.get(place(lost)).content.decode()
    assert "This account lost its address" in page and "no-address.invalid" not in page
    assert "no-address" not in inside.get("/house/people/").content.decode()


def test_what_stands_for_an_address_is_given_to_nobody(lost, reader, inside):
    for email in (lost.email, "9@no-address.invalid"):
        assert inside.post(place(reader, "address"), {"email": email}).status_code == 422
    assert inside.post("/house/people/invite", {"email": lost.email}).status_code == 422


def test_it_is_told_once_it_can_sign_in_again(lost, inside):
    inside.post(place(lost, "address"), {"email": "new@larkfield.example"})
    client = Client()
    sign_in(client, "new@larkfield.example")
    assert b"somebody showed by a letter that the address" in client.get("/you").content


def test_house_staff_invited_by_a_double_press_are_invited_once(staff, inside, settings):
    settings.SENDS_MAIL = True
    token = re.search(
        r'name="once" value="([^"]+)"', inside.get("/house/people/invite").content.decode()
    )[1]
    sent = {"email": "new@house.example", "name": "", "once": token}
    for _ in range(2):
        page = inside.post("/house/people/invite", sent, follow=True).content.decode()
        assert "on its way to new@house.example" in page
    assert Invitation.objects.count() == len(mail.outbox) == 1
