"""The second factor: what it opens, what is shut without it, how it is lost and found."""

import re

import pytest
from allauth.account.forms import default_token_generator
from allauth.mfa.models import Authenticator
from django.core import mail
from django.core.management import CommandError, call_command
from django.test import Client

from sites.access import door as access
from sites.access import factors
from sites.access.factors import FactorAdapter, use_code
from sites.actions import people as actions
from sites.actions.stages import Refused
from sites.models import Customer, Person
from sites.web import notices
from sites.web.sessions import WHILE_OWING
from tests.door import (
    PASSWORD,
    SEED,
    code_of,
    give_factor,
    is_in,
    reauthenticated,
    recovery_codes,
    sign_in,
    somebody,
)
from tests.processes import at_once, bring_back

SET_UP, CODE = "/sign-in/2fa/totp/activate/", "/sign-in/2fa/authenticate/"
INSIDE = [
    "/",
    "/at/larkfield/",
    "/at/larkfield/mill/brief/",
    "/at/larkfield/mill/watch",
    "/at/larkfield/mill/what-if",
    "/at/larkfield/mill/print/build-book.pdf",
    "/at/larkfield/mill/print/handover.zip",
    "/at/larkfield/mill/print/site.json",
    "/at/larkfield/mill/print/dates.ics",
    "/at/larkfield/mill/run/1/",
    "/at/larkfield/mill/run/1/whole",
    "/at/larkfield/mill/proof/1",
    "/at/larkfield/mill/probe/1.py",
]
HOUSE = [
    "/house/people/",
    "/house/customers/",
    "/house/work/",
    "/house/assumptions/",
    "/house/times/",
    "/at/",
]


@pytest.fixture
def eve(db):
    return somebody("eve@larkfield.example", name="Eve")


@pytest.fixture
def asked(settings, site):
    """The house asks it of its staff, and Larkfield of its members."""
    settings.HOUSE_FACTOR_REQUIRED = True
    Customer.objects.filter(code="larkfield").update(factor_required=True)


@pytest.fixture
def ann(people):
    """A lead with a password."""
    people["lead"].set_password(PASSWORD)
    people["lead"].save()
    return people["lead"]


def secret_of(page) -> str:
    return re.search(r"<code>([A-Z2-7]{32})</code>", page.content.decode())[1]


def set_up(client: Client) -> None:
    seed = secret_of(client.get(SET_UP))
    answer = client.post(SET_UP, {"code": code_of(seed=seed)})
    assert answer["Location"] == "/sign-in/2fa/recovery-codes/", answer.content


# -- owing one -------------------------------------------------------------------------------------


def owing(people):
    return [people["lead"], people["reader"], people["staff"]]


@pytest.mark.parametrize("place", INSIDE + HOUSE)
@pytest.mark.parametrize("method", ["get", "post"])
@pytest.mark.parametrize("htmx", [False, True])
def test_nothing_opens_to_somebody_who_owes_a_factor(place, method, htmx, people, asked):
    for person in owing(people):
        client = Client()
        client.force_login(person)
        answer = getattr(client, method)(place, **({"HTTP_HX_REQUEST": "true"} if htmx else {}))
        where = answer["HX-Redirect"] if htmx else answer["Location"]
        assert where == SET_UP and answer.status_code == (200 if htmx else 302)
        assert b"Mill Street" not in answer.content


def test_the_list_of_what_opens_is_short():
    """Whoever adds a place to it thinks about it here as well."""
    assert sorted(WHILE_OWING) == [
        "account_change_password",
        "account_inactive",
        "account_logout",
        "account_reauthenticate",
        "account_reset_password",
        "account_reset_password_done",
        "account_reset_password_from_key",
        "account_reset_password_from_key_done",
        "health",
        "mfa_activate_totp",
        "mfa_reauthenticate",
        "run-worker",
        "site-schema",
        "you",
        "you-session-end",
        "you-sessions",
        "you-sessions-end",
    ]


def test_no_data_is_opened_either_where_the_door_is_passed_by(people, asked):
    """As when a request is taken up again after somebody typed their password once more."""
    for person in owing(people):
        assert (
            not access.customers_of(person)
            and not access.sites_of(person)
            and not access.may_edit_at(person)
        )
        with pytest.raises(access.Http404):
            access._allow(person, Customer.objects.get(code="larkfield"), access.READ)


def test_a_request_taken_up_again_opens_nothing(staff, people, settings, client):
    """Laid down before the factor was owed, taken up by a request that is let through."""
    client.force_login(staff)
    place = f"/house/people/{people['reader'].pk}/end"
    assert client.post(place)["Location"].startswith("/sign-in/reauthenticate/")
    settings.HOUSE_FACTOR_REQUIRED = True
    answer = client.post(f"/sign-in/reauthenticate/?next={place}", {"password": PASSWORD})
    assert answer.status_code == 404
    people["reader"].refresh_from_db()
    assert people["reader"].is_active


def test_who_owes_nothing_is_let_in(people, site, client):
    Customer.objects.filter(code="other").update(factor_required=True)
    client.force_login(people["lead"])
    assert client.get("/at/larkfield/").status_code == 200


def test_ones_account_says_what_is_owed(people, asked, client):
    client.force_login(people["lead"])
    page = client.get("/you").content.decode()
    assert "A second factor is asked of you" in page and "/at/larkfield/" not in page


def test_signing_in_leads_to_the_set_up_and_then_everything_opens(ann, asked, client):
    answer = sign_in(client, ann.email)
    page = client.get(answer["Location"], follow=True)
    assert (
        page.request["PATH_INFO"] == SET_UP and b"needed before anything else opens" in page.content
    )
    set_up(client)
    assert client.get("/at/larkfield/").status_code == 200


def test_a_session_with_the_password_alone_ends_when_the_factor_is_set_up(ann, asked):
    """Somebody who knew the password had signed in before, and waited at the set-up."""
    thief, unlisted, own = Client(), Client(), Client()
    sign_in(thief, ann.email)
    unlisted.force_login(ann)
    sign_in(own, ann.email)
    set_up(own)
    assert own.get("/at/larkfield/").status_code == 200
    assert not is_in(thief) and not is_in(unlisted)


def test_what_is_owed_is_not_taken_away(ann, asked, client):
    give_factor(ann)
    client.force_login(ann)
    reauthenticated(client, ann)
    page = client.post("/sign-in/2fa/totp/deactivate/")
    assert page.status_code == 200 and b"this one stays" in page.content
    assert Authenticator.objects.filter(user=ann).count() == 2
    Customer.objects.update(factor_required=False)
    assert client.post("/sign-in/2fa/totp/deactivate/").status_code == 302
    assert not Authenticator.objects.filter(user=ann).exists()


def test_taking_it_away_asks_for_the_password(eve, client):
    give_factor(eve)
    client.force_login(eve)
    kept = client.session
    kept["begun"] -= 3600
    kept.save()
    answer = client.post("/sign-in/2fa/totp/deactivate/")
    assert answer["Location"].startswith("/sign-in/reauthenticate/")
    assert Authenticator.objects.filter(user=eve).exists()


# -- codes -----------------------------------------------------------------------------------------


def enter_code(email: str, code: str) -> bool:
    client = Client()
    sign_in(client, email)
    client.post(CODE, {"code": code})
    return is_in(client)


def test_the_password_alone_does_not_sign_in(eve):
    give_factor(eve)
    client = Client()
    sign_in(client, eve.email)
    assert not is_in(client)


@pytest.mark.parametrize("change", [{"doors": 1}, {"is_active": False}, {"password": "md5$x$y"}])
def test_who_waits_for_the_code_does_not_outwait_a_new_password(change, eve, client):
    give_factor(eve)
    sign_in(client, eve.email)
    Person.objects.filter(pk=eve.pk).update(**change)
    client.post(CODE, {"code": code_of()})
    assert not is_in(client)
    Person.objects.filter(pk=eve.pk).update(doors=0, is_active=True, password=eve.password)
    assert not is_in(client)


def test_a_code_works_once(eve):
    give_factor(eve)
    code = code_of()
    assert enter_code(eve.email, code) and not enter_code(eve.email, code)


def test_a_code_before_the_last_one_is_no_code(eve):
    give_factor(eve)
    before, now = code_of(-1), code_of()
    assert enter_code(eve.email, now) and not enter_code(eve.email, before)


def test_the_code_that_set_it_up_does_not_sign_in(eve, client):
    sign_in(client, eve.email)
    seed = secret_of(client.get(SET_UP))
    code = code_of(seed=seed)
    client.post(SET_UP, {"code": code})
    assert not enter_code(eve.email, code) and not enter_code(eve.email, code_of(1, seed))


def test_a_recovery_code_works_once(eve):
    give_factor(eve)
    code = recovery_codes(eve)[3]
    assert enter_code(eve.email, code) and not enter_code(eve.email, code)
    assert len(recovery_codes(eve)) == 9


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("kind", ["totp", "recovery"])
def test_one_code_at_the_same_instant_works_once(kind, tmp_path):
    eve = somebody("eve@larkfield.example")
    give_factor(eve)
    codes = [code_of(1)] if kind == "totp" else recovery_codes(eve)[:5]
    program = f"""
        from sites.access.factors import use_code
        from sites.models import Person
        person = Person.objects.get(pk={eve.pk})
        print(sum(use_code(person, code) is not None for code in {codes!r}))
    """
    assert sum(map(int, at_once(program, tmp_path, times=3))) == len(codes)
    if (
        kind == "recovery"
    ):  # and none of them came back, because another wrote what it had read before
        [(data,)] = bring_back(
            tmp_path, "SELECT data FROM mfa_authenticator WHERE type = 'recovery_codes'"
        )
        assert re.search(r'"used_mask": 31\b', str(data).replace("'", '"'))


# -- recovery codes --------------------------------------------------------------------------------


def test_recovery_codes_are_shown_once(eve, client):
    sign_in(client, eve.email)
    set_up(client)
    codes = recovery_codes(eve)
    place = "/sign-in/2fa/recovery-codes/"
    first = client.get(place).content.decode()
    assert all(code in first for code in codes)
    assert "no-store" in client.get(place)["Cache-Control"]
    again = client.get(place).content.decode()
    assert not any(code in again for code in codes) and "10 codes are left" in again


def test_recovery_codes_are_taken_as_a_file_only_where_they_were_just_shown(eve, client):
    sign_in(client, eve.email)
    set_up(client)
    place = "/sign-in/2fa/recovery-codes/"
    other = Client()
    sign_in(other, eve.email)
    other.post(CODE, {"code": recovery_codes(eve)[0]})
    assert other.get(place + "download/").status_code == 404
    client.get(place)
    file = client.get(place + "download/")
    assert recovery_codes(eve)[0] in file.content.decode() and file[
        "Content-Disposition"
    ].startswith("attachment")
    assert client.get(place + "download/").status_code == 404


def test_few_recovery_codes_are_told(eve):
    give_factor(eve)
    codes = recovery_codes(eve)
    for code in codes[:6]:
        assert use_code(eve, code)
    client = Client()
    sign_in(client, eve.email)
    client.post(CODE, {"code": codes[6]})
    page = client.get("/you").content.decode()
    assert "You have 3 recovery codes left" in page and "† 3 codes left" in page


# -- how a seed is kept ----------------------------------------------------------------------------


def test_a_seed_is_sealed(eve, client):
    sign_in(client, eve.email)
    seed = secret_of(client.get(SET_UP))
    client.post(SET_UP, {"code": code_of(seed=seed)})
    kept = str(list(Authenticator.objects.values_list("data", flat=True)))
    assert seed not in kept and kept.count("sealed:") == 2


def test_a_plain_seed_is_read_and_sealed_when_it_is_used(eve):
    factor = Authenticator.objects.create(user=eve, type="totp", data={"secret": SEED})
    assert enter_code(eve.email, code_of())
    factor.refresh_from_db()
    assert factor.data["secret"].startswith("sealed:")
    assert FactorAdapter().decrypt(factor.data["secret"]) == SEED


@pytest.mark.parametrize("used", ["totp", "recovery_codes"])
def test_every_plain_seed_is_sealed_once_somebody_came_in(used, eve):
    """Whichever of the two is used: the other may not be for years."""
    give_factor(eve)
    codes = recovery_codes(eve)
    for factor in Authenticator.objects.filter(user=eve):
        name = "secret" if factor.type == "totp" else "seed"
        factor.data[name] = FactorAdapter().decrypt(factor.data[name])
        factor.save()
    assert use_code(eve, code_of() if used == "totp" else codes[0])
    kept = str(list(Authenticator.objects.values_list("data", flat=True)))
    assert kept.count("sealed:") == 2 and SEED not in kept
    left = codes if used == "totp" else codes[1:]
    assert recovery_codes(eve) == left  # the same as before, but for the one that was used
    assert use_code(eve, codes[0]) is None or used == "totp"


def test_a_changed_key_opens_what_the_one_before_sealed(eve, settings):
    factor = give_factor(eve)
    before = settings.SECRET_KEY
    settings.SECRET_KEY, settings.SECRET_KEY_FALLBACKS = "another-" + "1" * 50, [before]
    assert use_code(eve, code_of()) == factor
    settings.SECRET_KEY_FALLBACKS = []  # it is sealed anew by now
    assert use_code(eve, code_of(1)) == factor


def test_a_lost_key_shuts_and_does_not_break(eve, settings):
    give_factor(eve)
    code = recovery_codes(eve)[0]
    settings.SECRET_KEY = "another-" + "1" * 50
    assert not enter_code(eve.email, code_of()) and not enter_code(eve.email, code)


# -- lost ------------------------------------------------------------------------------------------


def test_another_of_the_house_takes_a_lost_factor_away(
    staff, eve, client, settings, django_capture_on_commit_callbacks
):
    settings.SENDS_MAIL = True
    give_factor(eve)
    hers = Client()
    hers.force_login(eve)
    sign_in(client, staff.email)
    place = f"/house/people/{eve.pk}/lost-factor"
    assert client.post(place)["Location"].startswith(
        "/sign-in/reauthenticate/"
    )  # not with an open session alone
    assert Authenticator.objects.filter(user=eve).exists()
    with django_capture_on_commit_callbacks(execute=True):
        client.post(f"/sign-in/reauthenticate/?next={place}", {"password": PASSWORD})
    assert not Authenticator.objects.filter(user=eve).exists() and not is_in(hers)
    [letter] = mail.outbox
    assert letter.to == [eve.email] and "took your second factor away" in letter.body
    sign_in(hers, eve.email)
    assert b"took your second factor away" in hers.get("/you").content
    assert b"took your second factor away" not in hers.get("/you").content  # told once


def test_nobody_takes_away_his_own(staff, client):
    give_factor(staff)
    client.force_login(staff)
    reauthenticated(client, staff)
    client.post(f"/house/people/{staff.pk}/lost-factor")
    assert Authenticator.objects.filter(user=staff).exists()
    with pytest.raises(Refused):
        actions.remove_lost_factor(by=staff, person=staff)


def test_whoever_has_the_machine_takes_it_away(staff, capsys):
    give_factor(staff)
    thief = Client()
    thief.force_login(staff)
    call_command("lost_factor", "STAFF@house.example")
    assert not Authenticator.objects.filter(user=staff).exists() and not is_in(thief)
    assert "gone" in capsys.readouterr().out
    for address in ("staff@house.example", "nobody@house.example"):
        with pytest.raises(CommandError):
            call_command("lost_factor", address)


# -- asked of a customer's members -----------------------------------------------------------------


def test_a_lead_asks_it_of_the_members_once_he_has_one(ann, site, client):
    client.force_login(ann)
    page = client.post("/at/larkfield/factor", {"wanted": "yes"}, follow=True)
    assert b"Set up a second factor for yourself first" in page.content
    assert not Customer.objects.get(code="larkfield").factor_required
    give_factor(ann)
    client.post("/at/larkfield/factor", {"wanted": "yes"})
    found = Customer.objects.get(code="larkfield")
    assert found.factor_required and found.changed_by == ann
    assert client.get("/at/larkfield/").status_code == 200
    client.post("/at/larkfield/factor", {"wanted": "no"})
    assert not Customer.objects.get(code="larkfield").factor_required


@pytest.mark.parametrize(("role", "status"), [("reader", 403), ("editor", 403), ("outsider", 404)])
def test_nobody_else_asks_it(role, status, people, site, client):
    give_factor(people[role])
    client.force_login(people[role])
    assert client.post("/at/larkfield/factor", {"wanted": "yes"}).status_code == status


def test_a_lead_sees_who_has_none(ann, people, customer, rf):
    from django.template.loader import render_to_string

    give_factor(people["editor"])
    request = rf.get("/")

    def shown(role):
        told = {"customer": customer, "access": access.Access(people[role], role), "members": []}
        return render_to_string("door/_factor.html", told, request)

    assert "reader@larkfield.example" in shown("lead") and "editor@larkfield.example" not in shown(
        "lead"
    )
    assert shown("reader").strip() == ""


def test_house_staff_may_be_asked_by_their_own_customer(staff, eve, settings):
    settings.HOUSE_FACTOR_REQUIRED = False
    assert not factors.owes_factor(staff)
    settings.HOUSE_FACTOR_REQUIRED = True
    assert factors.owes_factor(staff) and not factors.owes_factor(eve)
    give_factor(staff)
    assert not factors.owes_factor(Person.objects.get(pk=staff.pk))


def test_recovery_codes_alone_are_no_factor(eve, settings):
    from allauth.mfa.recovery_codes.internal.auth import RecoveryCodes

    eve.is_staff, settings.HOUSE_FACTOR_REQUIRED = True, True
    eve.save()
    RecoveryCodes.activate(eve)
    assert factors.owes_factor(eve)


# -- told ------------------------------------------------------------------------------------------


def set_it_up(client, eve):
    set_up(client)


def take_it_off(client, eve):
    give_factor(eve)
    assert client.post("/sign-in/2fa/totp/deactivate/").status_code == 302


def make_codes(client, eve):
    give_factor(eve)
    assert client.post("/sign-in/2fa/recovery-codes/generate/").status_code == 302


def change_the_password(client, eve):
    new = "reeds-by-the-pond"
    sent = {"oldpassword": PASSWORD, "password1": new, "password2": new}
    assert client.post("/sign-in/password/change/", sent).status_code == 302


@pytest.mark.parametrize(
    ("does", "said"),
    [
        (set_it_up, "A second factor was set up for your account"),
        (take_it_off, "The second factor of your account was taken off"),
        (make_codes, "New recovery codes were made for your account"),
        (change_the_password, "The password of your account was changed"),
    ],
)
def test_what_is_done_in_ones_own_session_is_told_by_letter(
    does, said, eve, settings, django_capture_on_commit_callbacks
):
    """Somebody else may have sat there."""
    settings.SENDS_MAIL = True
    client = Client()
    client.force_login(eve)
    reauthenticated(client, eve)
    with django_capture_on_commit_callbacks(execute=True):
        does(client, eve)
    [letter] = mail.outbox
    assert letter.to == [eve.email] and said in letter.body
    assert [said in one for one in notices.taken(eve)] == [True]


def test_a_password_chosen_by_letter_is_told(eve, settings, django_capture_on_commit_callbacks):
    settings.SENDS_MAIL = True
    with django_capture_on_commit_callbacks(execute=True):
        secret = default_token_generator.make_token(eve)
        actions.choose_password(person=eve, secret=secret, password="reeds-by-the-pond")
    [letter] = mail.outbox
    assert "was changed by a letter's link" in letter.body


def test_who_owes_a_factor_is_led_to_nothing_else_by_the_own_page(people, asked):
    client = Client()
    client.force_login(people["lead"])
    assert 'href="/you/address"' not in client.get("/you").content.decode()
    give_factor(people["lead"])
    assert 'href="/you/address"' in client.get("/you").content.decode()
