"""How somebody becomes a member, and what an attacker who names addresses gets: nothing."""

import datetime as dt
import io
import logging
import re

import pytest
from django.core import mail
from django.utils import timezone

from sites.actions import customers as actions
from sites.actions.customers import make_customer, make_member
from sites.actions.invitations import accept, come_in, invite, offered, withdraw
from sites.actions.once import GONE
from sites.actions.own_address import ask, prove
from sites.actions.people import end_account
from sites.actions.stages import Refused
from sites.models import Customer, Invitation, Membership, Person, TakenForm
from sites.web import mail_server
from tests.pages import without_tokens

PASSWORD = "reeds-by-the-pond"


@pytest.fixture(autouse=True)
def by_letter(settings):
    settings.SENDS_MAIL = True
    settings.EMAIL_BACKEND = "django.core.mail.backends.locmem.EmailBackend"


@pytest.fixture
def other(staff):
    """Another customer, with a lead of its own."""
    made = make_customer(by=staff, values={"name": "Brackenhythe Joinery", "code": "brackenhythe"})
    make_member(
        customer=made,
        person=Person.objects.create_user("mara@brackenhythe.example", PASSWORD),
        role="lead",
    )
    return made


def lead_of(customer) -> Person:
    return customer.memberships.get(role="lead").person


def link_in(letter) -> str:
    return re.search(r"http://testserver(/\S+)", letter.body)[1]


def asked(client, code, email, role="reader", name="", **more):
    return client.post(f"/at/{code}/members", {"email": email, "name": name, "role": role}, **more)


def new_account(client, link, name="Ann Lee", **more):
    return client.post(
        link + "/come-in", {"name": name, "password": PASSWORD, "again": PASSWORD, **more}
    )


# -- as it is meant ---------------------------------------------------------------------------------


def test_somebody_new_is_invited_by_letter_makes_an_account_and_is_in(people, site, enter):
    asked(enter(people["lead"]), "larkfield", "Ann@Larkfield.example", "editor", "Ann Lee")
    [letter] = mail.outbox
    assert (
        letter.to == ["ann@larkfield.example"]
        and "as editor" in letter.body
        and "Larkfield Vets" in letter.body
    )
    client = enter(None)
    page = client.get(link_in(letter)).content.decode()
    assert "invites ann@larkfield.example" in page and 'value="Ann Lee"' in page
    assert not Membership.objects.filter(person__email="ann@larkfield.example").exists()
    assert new_account(client, link_in(letter)).status_code == 302
    assert client.get("/at/larkfield/").status_code == 200  # signed in with it
    ann = Person.objects.get(email="ann@larkfield.example")
    assert ann.proven_at and ann.check_password(PASSWORD) and not ann.is_staff
    assert [(one.customer.code, one.role) for one in ann.memberships.all()] == [
        ("larkfield", "editor")
    ]


def test_somebody_with_an_account_accepts_while_signed_in_whatever_its_address(
    people, site, other, enter
):
    asked(enter(people["lead"]), "larkfield", "mara.quill@home.example", "reader")
    link = link_in(mail.outbox[0])
    mara = lead_of(other)
    client = enter(mara)
    assert b"Accept as" in client.get(link).content
    assert client.post(link + "/accept").status_code == 302
    assert site.customer.memberships.get(person=mara).role == "reader"
    mara.refresh_from_db()
    assert mara.proven_at is None  # the letter went to another address than hers


def test_a_letter_to_the_address_of_the_account_proves_it(people, site, other, enter):
    mara = lead_of(other)
    asked(enter(people["lead"]), "larkfield", mara.email)
    enter(mara).post(link_in(mail.outbox[0]) + "/accept")
    mara.refresh_from_db()
    assert mara.proven_at is not None


def test_without_a_mail_server_the_lead_hands_the_secret_over(people, site, enter, settings):
    settings.SENDS_MAIL = False
    page = asked(
        enter(people["lead"]), "larkfield", "ann@larkfield.example", follow=True
    ).content.decode()
    link = re.search(r"http://testserver(/invitation/\S+?)[<\s]", page)[1]
    assert not mail.outbox
    new_account(enter(None), link)
    ann = Person.objects.get(email="ann@larkfield.example")
    assert ann.proven_at is None and ann.memberships.get().customer == site.customer


def test_house_staff_come_in_by_an_invitation_of_the_house(staff, client):
    _, secret = invite(by=staff, customer=None, email="newstaff@house.example", role="staff")
    new_account(client, f"/invitation/{secret}")
    assert Person.objects.get(email="newstaff@house.example").house_staff


def test_what_is_under_way_can_be_seen_sent_again_and_taken_back(people, site, enter):
    client = enter(people["lead"])
    asked(client, "larkfield", "ann@larkfield.example")
    first = Invitation.objects.get()
    page = client.get("/at/larkfield/").content.decode()
    assert "ann@larkfield.example" in page and "by letter" in page
    client.post(f"/at/larkfield/invitation/{first.pk}/again")
    old, new = (link_in(letter) for letter in mail.outbox)
    assert client.get(old).status_code == 410 and client.get(new).status_code == 200
    client.post(f"/at/larkfield/invitation/{Invitation.objects.first().pk}/take-back")
    assert client.get(new).status_code == 410
    assert (
        "ann@larkfield.example" not in client.get("/at/larkfield/").content.decode().split("0.3")[1]
    )


def test_readers_and_editors_see_no_invitations(people, site, enter):
    asked(enter(people["lead"]), "larkfield", "ann@larkfield.example")
    assert b"ann@larkfield" not in enter(people["editor"]).get("/at/larkfield/").content


# -- what a secret does not do ----------------------------------------------------------------------


def test_looking_at_an_invitation_accepts_nothing(people, site, enter):
    """Mail programs open addresses before people do."""
    asked(enter(people["lead"]), "larkfield", "ann@larkfield.example")
    link = link_in(mail.outbox[0])
    for person in (None, people["outsider"]):
        client = enter(person)
        assert client.get(link).status_code == client.head(link).status_code == 200
        assert client.get(link + "/accept").status_code in (302, 405)
        assert client.get(link + "/come-in").status_code == 405
    assert (
        Invitation.objects.get().accepted_at is None
        and not Person.objects.filter(email__startswith="ann@").exists()
    )


def test_an_invitation_works_once(people, site, enter):
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    new_account(enter(None), f"/invitation/{secret}")
    outsider = enter(people["outsider"])
    assert outsider.post(f"/invitation/{secret}/accept").status_code == 410
    assert outsider.get(f"/invitation/{secret}").status_code == 410
    assert not site.customer.memberships.filter(person=people["outsider"]).exists()


def test_an_invitation_ends_after_three_days(people, site, enter):
    made, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    assert dt.timedelta(days=2.9) < made.ends_at - timezone.now() <= dt.timedelta(days=3)
    Invitation.objects.update(ends_at=timezone.now() - dt.timedelta(seconds=1))
    assert enter(people["outsider"]).post(f"/invitation/{secret}/accept").status_code == 410


def test_the_secret_is_kept_nowhere(people, site):
    made, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    assert len(secret) >= 43  # 256 bits
    assert not any(secret in str(value) for value in vars(made).values())


def test_an_invitation_ends_with_the_inviters_right(people, site, staff):
    """A lead who is shown out keeps no door open for himself."""
    customer = site.customer
    _, secret = invite(
        by=people["lead"], customer=customer, email="friend@elsewhere.example", role="lead"
    )
    assert offered(secret)
    actions.change_role(
        by=staff, member=customer.memberships.get(person=people["lead"]), role="editor"
    )
    assert offered(secret) is None
    with pytest.raises(Refused):
        accept(by=people["outsider"], secret=secret)


def test_an_invitation_ends_when_its_inviters_account_does(people, site):
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="friend@elsewhere.example", role="lead"
    )
    Person.objects.filter(pk=people["lead"].pk).update(is_active=False)
    assert offered(secret) is None


def test_an_invitation_to_the_house_ends_when_its_inviter_is_no_longer_staff(staff):
    _, secret = invite(by=staff, customer=None, email="newstaff@house.example", role="staff")
    Person.objects.filter(pk=staff.pk).update(is_staff=False)
    assert offered(secret) is None


def test_ending_a_membership_ends_what_would_bring_it_back(people, site, staff):
    customer, editor = site.customer, people["editor"]
    _, again = invite(by=people["lead"], customer=customer, email=editor.email, role="editor")
    actions.end_membership(by=people["lead"], member=customer.memberships.get(person=editor))
    assert offered(again) is None


def test_accepting_never_takes_a_right_away(people, site, staff, enter):
    """An invitation as reader, accepted by the only lead, would leave nobody to lead."""
    _, secret = invite(by=staff, customer=site.customer, email="x@larkfield.example", role="reader")
    enter(people["lead"]).post(f"/invitation/{secret}/accept")
    assert site.customer.memberships.get(person=people["lead"]).role == "lead"


def test_a_lead_cannot_invite_to_the_house_nor_to_another_customer(people, site, enter):
    client = enter(people["lead"])
    assert asked(client, "larkfield", "x@x.example", "staff").status_code == 422
    assert asked(client, "other", "x@x.example").status_code == 404
    for customer, role in ((None, "staff"), (site.customer, "staff"), (None, "reader")):
        with pytest.raises(Refused):
            invite(by=people["lead"], customer=customer, email="x@x.example", role=role)
    with pytest.raises(Refused):
        invite(by=people["editor"], customer=site.customer, email="x@x.example", role="reader")
    assert not Invitation.objects.exists()


def test_invitations_of_another_customer_are_not_found(people, site, enter):
    other = Customer.objects.get(code="other")
    made, secret = invite(by=people["outsider"], customer=other, email="x@x.example", role="reader")
    client = enter(people["lead"])
    for what in ("again", "take-back"):
        assert client.post(f"/at/larkfield/invitation/{made.pk}/{what}").status_code == 404
    assert offered(secret)


def test_a_weak_password_makes_no_account(people, site, enter):
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    client = enter(None)
    for password in ("short", "password123", "1234567890", "ann@larkfield.example"):
        sent = {"name": "Ann", "password": password, "again": password}
        assert client.post(f"/invitation/{secret}/come-in", sent).status_code == 422
    sent = {"name": "Ann", "password": PASSWORD, "again": PASSWORD + "x"}
    assert client.post(f"/invitation/{secret}/come-in", sent).status_code == 422
    assert offered(secret) and not Person.objects.filter(email__startswith="ann@").exists()


# -- addresses that have an account -----------------------------------------------------------------


def test_naming_an_address_opens_nothing_to_whoever_has_an_account_with_it(
    people, site, other, enter
):
    """Findings 1a and 1b: an account held an address that nobody proved, and was made a member by being named."""
    squatter = Person.objects.create_user("future@brackenhythe.example", PASSWORD)
    asked(enter(lead_of(other)), "brackenhythe", squatter.email, "lead")
    assert not other.memberships.filter(person=squatter).exists()
    assert enter(squatter).get("/at/brackenhythe/").status_code == 404


def test_a_second_invitation_to_the_same_address_is_no_way_in(people, site, other, enter):
    """Finding 1c: a lead of A named the address that B had invited, and got a password link that opened B."""
    _, of_b = invite(
        by=lead_of(other), customer=other, email="newlead@brackenhythe.example", role="lead"
    )
    _, of_a = invite(
        by=people["lead"],
        customer=site.customer,
        email="newlead@brackenhythe.example",
        role="reader",
    )
    mallory = come_in(secret=of_a, name="Mallory", password=PASSWORD)
    assert not other.memberships.filter(person=mallory).exists()
    assert offered(of_b)  # and the true one is still good for whoever holds its secret


def test_a_dead_mail_server_hands_no_secret_to_the_lead(people, site, enter, settings):
    """Finding 1d."""
    settings.EMAIL_BACKEND = "django.core.mail.backends.smtp.EmailBackend"
    settings.EMAIL_HOST, settings.EMAIL_PORT, settings.EMAIL_TIMEOUT = "127.0.0.1", 9, 2
    page = asked(
        enter(people["lead"]), "larkfield", "ann@larkfield.example", follow=True
    ).content.decode()
    assert "did not leave" in page and "/invitation/" not in page.replace(
        "/at/larkfield/invitation/", ""
    )


@pytest.mark.parametrize("by_hand", [False, True])
def test_no_invitation_opens_an_account_of_house_staff(people, site, enter, settings, by_hand):
    """Finding 2: staff without a password were taken by any lead who named them."""
    settings.SENDS_MAIL = not by_hand
    staff = Person.objects.create_superuser("newstaff@house.example")
    _, secret = invite(by=people["lead"], customer=site.customer, email=staff.email, role="reader")
    client = enter(None)
    answer = new_account(client, f"/invitation/{secret}", take_address="on")
    assert answer.status_code == 422 and b"sign in with it" in answer.content
    staff.refresh_from_db()
    assert not staff.has_usable_password() and client.get("/").status_code == 302


def test_an_invitation_never_sets_the_password_of_an_account_that_exists(
    people, site, other, enter
):
    mara = lead_of(other)
    Person.objects.filter(pk=mara.pk).update(proven_at=timezone.now())
    _, secret = invite(by=people["lead"], customer=site.customer, email=mara.email, role="reader")
    assert new_account(enter(None), f"/invitation/{secret}", take_address="on").status_code == 422
    before = mara.password
    mara.refresh_from_db()
    assert mara.password == before


def test_a_letters_secret_takes_an_address_from_an_account_that_never_proved_it(
    people, site, other, enter
):
    squatter = Person.objects.create_user(
        "ann@larkfield.example", "squatters-own-words", name="Squatter"
    )
    make_member(customer=other, person=squatter, role="reader")
    asked(enter(people["lead"]), "larkfield", "ann@larkfield.example")
    link = link_in(mail.outbox[0])
    assert new_account(enter(None), link).status_code == 422  # only when she says so
    assert new_account(enter(None), link, take_address="on").status_code == 302
    ann = Person.objects.get(email="ann@larkfield.example")
    squatter.refresh_from_db()
    assert ann != squatter and not ann.memberships.filter(customer=other).exists()
    assert not squatter.has_address and squatter.is_active
    told = enter(squatter).get("/").content.decode()
    assert "Somebody showed that the address of this account is theirs" in told


def test_a_secret_handed_over_takes_no_address(people, site, enter, settings):
    settings.SENDS_MAIL = False
    old = Person.objects.create_user("ann@larkfield.example", "squatters-own-words")
    _, secret = invite(by=people["lead"], customer=site.customer, email=old.email, role="reader")
    assert new_account(enter(None), f"/invitation/{secret}", take_address="on").status_code == 422
    old.refresh_from_db()
    assert old.email == "ann@larkfield.example" and old.check_password("squatters-own-words")


# -- nothing is told --------------------------------------------------------------------------------


def test_inviting_tells_nothing_about_an_address(people, site, other, staff, enter):
    """Finding 17: the page told the name behind any address of the house."""
    Person.objects.filter(pk=staff.pk).update(name="Ida Fenn")
    client = enter(people["lead"])
    pages = []
    for email in ("nobody@larkfield.example", staff.email, lead_of(other).email):
        page = asked(client, "larkfield", email, follow=True).content.decode()
        page = without_tokens(page)
        page = re.sub(r"invitation/\d+/|\d\d:\d\d", "", page.replace(email, "ADDRESS"))
        pages.append(page)  # but for its key, and the minute in which it ends
        Invitation.objects.all().delete()
    assert pages[0] == pages[1] == pages[2] and "Ida Fenn" not in pages[1]
    assert not site.customer.memberships.filter(person=staff).exists()


def test_a_standing_invitation_looks_alike_whoever_has_the_address(
    people, site, staff, other, enter
):
    """A lead who holds the secret without a mail server sees the same page for any address."""
    pages = set()
    for email in ("nobody@larkfield.example", staff.email, lead_of(other).email):
        made, secret = invite(by=people["lead"], customer=site.customer, email=email, role="reader")
        Invitation.objects.filter(pk=made.pk).update(by_letter=False)
        page = enter(None).get(f"/invitation/{secret}").content.decode()
        page = without_tokens(page)
        pages.add(page.replace(secret, "SECRET").replace(email, "ADDRESS"))
    assert len(pages) == 1


def test_what_people_call_themselves_is_no_letter_of_theirs(people, site, enter):
    """Finding 17: line breaks and links in names went out from the house's address."""
    lead = people["lead"]
    lead.name = "Noor\n\nYour account is locked: https://evil.example/login or www.evil.example"
    lead.save()
    site.customer.name = "Larkfield\r\nBcc: x@evil.example " + "x" * 150
    site.customer.save()
    asked(enter(lead), "larkfield", "ann@larkfield.example")
    [letter] = mail.outbox
    assert "evil.example" not in letter.body and "\n\nYour account" not in letter.body
    assert re.findall(r"https?://\S+", letter.body) == ["http://testserver" + link_in(letter)]
    assert letter.subject == "An invitation to Deskwright" and letter.recipients() == [
        "ann@larkfield.example"
    ]
    assert max(len(line) for line in letter.body.splitlines()) < 250


def test_a_lead_cannot_bury_people_in_letters(people, site, enter):
    client = enter(people["lead"])
    for _ in range(8):
        asked(client, "larkfield", "ann@larkfield.example")
    assert len(mail.outbox) == 5
    for number in range(80):
        asked(client, "larkfield", f"p{number}@larkfield.example")
    assert len(mail.outbox) == 60


# -- leads ------------------------------------------------------------------------------------------


def test_the_last_lead_cannot_go_or_be_made_less(people, site, enter):
    """Finding 11."""
    lead = site.customer.memberships.get(person=people["lead"])
    client = enter(people["lead"])
    for role in ("", "reader", "editor"):
        page = client.post(f"/at/larkfield/member/{lead.pk}", {"role": role}, follow=True)
        assert "only lead here" in page.content.decode()
    lead.refresh_from_db()
    assert lead.role == "lead"


def test_an_ended_account_is_no_lead_to_rely_on(people, site, enter):
    gone = Person.objects.create_user("gone@larkfield.example", is_active=False)
    make_member(customer=site.customer, person=gone, role="lead")
    lead = site.customer.memberships.get(person=people["lead"])
    with pytest.raises(Refused):
        actions.end_membership(by=people["lead"], member=lead)


def test_of_two_leads_one_may_go(people, site, enter):
    second = Person.objects.create_user("second@larkfield.example")
    make_member(customer=site.customer, person=second, role="lead")
    lead = site.customer.memberships.get(person=people["lead"])
    assert enter(people["lead"]).post(f"/at/larkfield/member/{lead.pk}", {"role": ""}).url == "/"
    with pytest.raises(Refused, match="no longer lead"):
        actions.end_membership(
            by=people["lead"], member=site.customer.memberships.get(person=second)
        )


def test_house_staff_may_leave_a_customer_without_a_lead_and_the_page_says_so(
    people, site, staff, enter
):
    lead = site.customer.memberships.get(person=people["lead"])
    client = enter(staff)
    page = client.post(
        f"/at/larkfield/member/{lead.pk}", {"role": ""}, follow=True
    ).content.decode()
    assert "Nobody leads here" in page


def test_leads_change_nothing_about_house_staff(people, site, staff, enter):
    make_member(customer=site.customer, person=staff, role="lead")
    member = site.customer.memberships.get(person=staff)
    client = enter(people["lead"])
    page = client.post(
        f"/at/larkfield/member/{member.pk}", {"role": ""}, follow=True
    ).content.decode()
    assert "is house staff" in page and f"/at/larkfield/member/{member.pk}" not in page
    assert site.customer.memberships.filter(person=staff).exists()


def test_a_taken_back_invitation_stays_in_the_books(people, site):
    made, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    withdraw(by=people["lead"], invitation=made)
    made.refresh_from_db()
    assert made.ended_at and offered(secret) is None


def test_no_secret_of_an_address_reaches_the_log(people, site, enter, monkeypatch):
    """Django's log names the path of every refused request."""
    console = next(one for one in logging.getLogger().handlers if one.name == "console")
    monkeypatch.setattr(console, "stream", io.StringIO())
    _, secret = invite(
        by=people["lead"], customer=site.customer, email="ann@larkfield.example", role="reader"
    )
    client = enter(None)
    client.post(f"/invitation/{secret}/come-in", {"name": ""})
    Invitation.objects.update(ended_at=timezone.now())
    client.get(f"/invitation/{secret}")
    client.get(f"/pilot/{secret}")
    said = console.stream.getvalue()
    assert "/invitation/…/come-in" in said and "/pilot/…" in said and secret not in said


@pytest.mark.parametrize("by_hand", [False, True])
def test_a_double_press_sends_one_invitation(people, site, enter, settings, by_hand):
    settings.SENDS_MAIL = not by_hand
    client = enter(people["lead"])
    token = re.search(
        r'name="once" value="([^"]+)"',
        client.get("/at/larkfield/").content.decode().split("0.3")[1],
    )[1]
    sent = {"email": "ann@larkfield.example", "name": "", "role": "reader", "once": token}
    pages = [
        client.post("/at/larkfield/members", sent, follow=True).content.decode() for _ in range(2)
    ]
    links = [re.search(r"/invitation/[^\s<]{40,}", page) for page in pages]
    made = Invitation.objects.get()
    assert len(mail.outbox) == (0 if by_hand else 1)
    if by_hand:
        assert (
            links[0][0] == links[1][0] and offered(links[0][0].removeprefix("/invitation/")) == made
        )


# -- what would bring somebody back ----------------------------------------------------------------


def shown_out(site, person, by) -> None:
    actions.end_membership(by=by, member=site.customer.memberships.get(person=person))


def test_an_invitation_to_an_address_that_was_theirs_ends_with_the_membership(people, site):
    """Accepted at one address, proven another since: an invitation to the first would be a way back."""
    customer, lead = site.customer, people["lead"]
    _, first = invite(by=lead, customer=customer, email="old@larkfield.example", role="editor")
    ann = come_in(secret=first, name="Ann", password=PASSWORD)
    prove(by=ann, secret=ask(by=ann, email="new@larkfield.example"))
    _, again = invite(by=lead, customer=customer, email="old@larkfield.example", role="editor")
    shown_out(site, ann, lead)
    assert offered(again) is None
    with pytest.raises(Refused):
        come_in(secret=again, name="Ann", password=PASSWORD)


def test_an_invitation_to_an_address_given_up_ends_where_they_are_a_member(people, site, other):
    editor = people["editor"]
    _, here = invite(by=people["lead"], customer=site.customer, email=editor.email, role="lead")
    _, there = invite(by=lead_of(other), customer=other, email=editor.email, role="reader")
    prove(by=editor, secret=ask(by=editor, email="new@larkfield.example"))
    assert offered(here) is None
    assert offered(there)  # to a customer that is new to them


def test_an_invitation_made_before_the_end_is_no_way_back_whatever_its_address(people, site):
    editor, lead = people["editor"], people["lead"]
    _, secret = invite(by=lead, customer=site.customer, email="his@home.example", role="editor")
    shown_out(site, editor, lead)
    assert offered(secret)  # somebody else may accept it
    with pytest.raises(Refused):
        accept(by=editor, secret=secret)
    _, fresh = invite(by=lead, customer=site.customer, email="his@home.example", role="editor")
    accept(by=editor, secret=fresh)
    assert site.customer.memberships.get(person=editor).role == "editor"


def test_an_ended_account_is_offered_nothing_anywhere(people, site, other, staff):
    editor = people["editor"]
    secrets = [
        invite(by=lead_of(where), customer=where, email=editor.email, role="lead")[1]
        for where in (site.customer, other)
    ]
    end_account(by=staff, person=editor)
    assert [offered(one) for one in secrets] == [None, None]


# -- forms that are sent again ---------------------------------------------------------------------


def once_on(page: str, before: str) -> str:
    return re.search(r'name="once" value="([^"]+)"', page.split(before)[1])[1]


def members_form(client) -> dict:
    page = client.get("/at/larkfield/").content.decode()
    token = once_on(page, "Invite somebody")
    return {"email": "ann@larkfield.example", "name": "", "role": "reader", "once": token}


@pytest.mark.parametrize("by_hand", [False, True])
def test_send_again_pressed_twice_counts_once(people, site, enter, settings, by_hand):
    settings.SENDS_MAIL = not by_hand
    client = enter(people["lead"])
    asked(client, "larkfield", "ann@larkfield.example")
    first = Invitation.objects.get()
    page = client.get("/at/larkfield/").content.decode()
    sent = {"once": once_on(page, f"invitation/{first.pk}/again")}
    place = f"/at/larkfield/invitation/{first.pk}/again"
    pages = [client.post(place, sent, follow=True).content.decode() for _ in range(2)]
    assert Invitation.objects.count() == 2 and len(mail.outbox) == (0 if by_hand else 2)
    if by_hand:
        links = [re.search(r"/invitation/[^\s<]{40,}", page)[0] for page in pages]
        assert links[0] == links[1] and offered(links[0].removeprefix("/invitation/"))


def test_a_form_kept_for_a_week_says_that_it_was_sent(people, site, enter):
    client = enter(people["lead"])
    sent = members_form(client)
    client.post("/at/larkfield/members", sent)
    TakenForm.objects.all().delete()  # swept after a week
    answer = client.post("/at/larkfield/members", sent)
    assert answer.status_code == 422 and GONE in answer.content.decode()
    assert Invitation.objects.count() == 1


def test_sent_again_after_it_was_taken_back_nothing_is_on_its_way(people, site, enter):
    client = enter(people["lead"])
    sent = members_form(client)
    client.post("/at/larkfield/members", sent, follow=True)
    withdraw(by=people["lead"], invitation=Invitation.objects.get())
    page = client.post("/at/larkfield/members", sent, follow=True).content.decode()
    assert "on its way" not in page and GONE in page and len(mail.outbox) == 1


def test_sent_again_it_is_not_on_its_way_when_the_first_letter_never_left(
    people, site, enter, monkeypatch
):
    client = enter(people["lead"])
    sent = members_form(client)
    with monkeypatch.context() as patch:
        patch.setattr(mail_server, "hand_in", lambda letter: mail_server.Outcome.STAYED)
        client.post("/at/larkfield/members", sent, follow=True)
    page = client.post("/at/larkfield/members", sent, follow=True).content.decode()
    assert "on its way" not in page and "did not leave" in page
