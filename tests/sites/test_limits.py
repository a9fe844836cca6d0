"""Limits: guessing is held up, and nobody is shut out by what others type."""

import html
import re
import time

import pytest
from django.core import mail
from django.core.cache import caches
from django.core.management import CommandError, call_command
from django.db import connection
from django.test import Client, RequestFactory
from django.test.utils import CaptureQueriesContext

from sites.models import Person
from sites.web import clients, devices, let_in, limits
from tests.door import (
    AT,
    PASSWORD,
    code_of,
    give_factor,
    is_in,
    reauthenticated,
    sign_in,
    somebody,
)
from tests.processes import at_once

HOME = "198.51.100.7"
RESET = "/sign-in/password/reset/"


@pytest.fixture
def eve(db):
    return somebody("eve@larkfield.example", name="Eve")


def guess(email: str, times: int, address: str = AT, client: Client | None = None) -> list[int]:
    client = client or Client()
    return [sign_in(client, email, f"guess-{n}", address).status_code for n in range(times)]


# -- signing in ------------------------------------------------------------------------------------


def test_five_guesses_and_then_the_page_says_how_long(eve):
    assert guess(eve.email, 6) == [200] * 5 + [429]
    answer = sign_in(Client(), eve.email)
    page = answer.content.decode()
    assert answer.status_code == 429 and "wait 5 minutes" in page and "<h1>" in page
    assert 200 < int(answer["Retry-After"]) <= 300


def test_strangers_are_counted_as_somebody(db, eve):
    assert guess("stranger@larkfield.example", 6) == guess(eve.email, 6, HOME) == [200] * 5 + [429]


def test_guesses_from_elsewhere_shut_nobody_out(eve):
    guess(eve.email, 10, HOME)
    assert sign_in(Client(), eve.email).status_code == 302


def test_guesses_from_the_same_office_shut_out_nobody_on_their_own_device(eve):
    own = Client()
    sign_in(own, eve.email)
    own.post("/sign-in/logout/")
    guess(eve.email, 6)
    guess("stranger@larkfield.example", 40)
    assert sign_in(Client(), eve.email).status_code == 429
    assert sign_in(own, eve.email).status_code == 302 and is_in(own)


def test_whoever_is_shut_out_comes_in_by_letter(eve, settings):
    """A new device, and somebody beside it who goes on guessing."""
    settings.SENDS_MAIL = True
    new = Client()
    guess(eve.email, 6)
    new.post("/sign-in/password/reset/", {"email": eve.email}, REMOTE_ADDR=AT)
    link = next(word for word in mail.outbox[0].body.split() if "reset/key" in word)
    form = new.get(link.removeprefix("http://testserver"), follow=True).request["PATH_INFO"]
    words = {"password1": "reeds-by-the-pond", "password2": "reeds-by-the-pond"}
    assert new.post(form, words, REMOTE_ADDR=AT).status_code == 302
    assert sign_in(Client(), eve.email, "reeds-by-the-pond").status_code == 429
    assert sign_in(new, eve.email, "reeds-by-the-pond").status_code == 302


def test_one_address_has_a_wide_limit_of_its_own(db):
    answers = [guess(f"n{n}@larkfield.example", 1)[0] for n in range(31)]
    assert answers == [200] * 30 + [429]
    assert guess("n99@larkfield.example", 1, HOME) == [200]


def test_one_address_never_reaches_the_limit_of_an_account():
    """A sliding window of PAIR fits so often into that of ACCOUNT, and once more at its edge."""
    windows = limits.ACCOUNT.seconds // limits.PAIR.seconds + 1
    assert limits.PAIR.amount * windows < limits.ACCOUNT.amount


def test_many_addresses_together_do(eve):
    answers = [guess(eve.email, 5, f"203.0.113.{n}") for n in range(20)]
    assert answers == [[200] * 5] * 20
    assert guess(eve.email, 1, "203.0.113.200") == [429]


def test_what_was_right_does_not_count_and_clears_nothing(eve):
    assert guess(eve.email, 4) == [200] * 4
    for _ in range(3):
        assert sign_in(Client(), eve.email).status_code == 302
    assert guess(eve.email, 2) == [200, 429]


def test_own_account_does_not_clear_the_counters_of_the_address(eve):
    somebody("mallory@larkfield.example")
    for n in range(30):
        sign_in(Client(), f"n{n}@larkfield.example", "guess")
    mallory = Client()
    mallory.cookies.clear()
    assert sign_in(mallory, "mallory@larkfield.example").status_code == 429


def test_a_refused_try_writes_nothing(eve):
    guess(eve.email, 5)
    request = RequestFactory().post("/", REMOTE_ADDR=AT)
    with CaptureQueriesContext(connection) as seen, pytest.raises(limits.TooMany):
        limits.for_password(request, eve.email, eve)
    assert [query["sql"].split()[0] for query in seen] == ["SELECT"]


# -- devices ---------------------------------------------------------------------------------------


def stolen(own: Client, name: str = "deskwright_device") -> Client:
    thief = Client()
    thief.cookies[name] = own.cookies[name].value
    return thief


def test_a_stolen_device_gives_few_guesses(eve):
    own = Client()
    sign_in(own, eve.email)
    assert own.cookies["deskwright_device"]["httponly"]
    thief = stolen(own)
    assert guess(eve.email, 8, HOME, thief) == [200] * 5 + [429] * 3
    assert guess(eve.email, 1, "203.0.113.9", stolen(own)) == [429]  # from wherever


def test_a_device_is_known_for_one_account(eve):
    somebody("ann@larkfield.example")
    own = Client()
    sign_in(own, eve.email)
    guess("ann@larkfield.example", 5)
    assert sign_in(stolen(own), "ann@larkfield.example").status_code == 429


def test_a_device_made_up_is_no_device(eve):
    guess(eve.email, 5)
    forged = Client()
    forged.cookies["deskwright_device"] = '[[1,0,"made-up",9999999999]]:1xx:yy'
    assert sign_in(forged, eve.email).status_code == 429


def test_a_device_is_forgotten_when_all_sessions_end(eve):
    own = Client()
    sign_in(own, eve.email)
    Person.objects.filter(pk=eve.pk).update(doors=1)
    own.cookies.pop("sessionid")
    guess(eve.email, 5)
    assert sign_in(own, eve.email).status_code == 429


def test_a_device_waits_for_the_factor(eve):
    """The password alone makes no device known: whoever has only that gets no counter of their own."""
    give_factor(eve)
    client = Client()
    assert sign_in(client, eve.email)["Location"] == "/sign-in/2fa/authenticate/"
    assert "deskwright_device" not in client.cookies
    client.post("/sign-in/2fa/authenticate/", {"code": code_of()}, REMOTE_ADDR=AT)
    assert "deskwright_device" in client.cookies


# -- every other place where one can guess ---------------------------------------------------------


def test_a_password_is_guessed_no_further_at_another_door(eve):
    """Signing in, once more, and changing it: one counter."""
    client = Client()
    client.force_login(eve)
    change = {
        "oldpassword": "guess",
        "password1": "reeds-by-the-pond",
        "password2": "reeds-by-the-pond",
    }
    answers = [
        client.post("/sign-in/reauthenticate/", {"password": f"g{n}"}, REMOTE_ADDR=AT)
        for n in range(3)
    ]
    answers += [client.post("/sign-in/password/change/", change, REMOTE_ADDR=AT) for _ in range(2)]
    assert [answer.status_code for answer in answers] == [200] * 5
    assert (
        client.post("/sign-in/reauthenticate/", {"password": PASSWORD}, REMOTE_ADDR=AT).status_code
        == 429
    )
    assert client.post("/sign-in/password/change/", change, REMOTE_ADDR=AT).status_code == 429
    assert sign_in(Client(), eve.email).status_code == 429


def test_codes_are_guessed_five_times(eve):
    give_factor(eve)
    client, place = Client(), "/sign-in/2fa/authenticate/"
    sign_in(client, eve.email)
    wrong = [
        client.post(place, {"code": f"00000{n}"}, REMOTE_ADDR=AT).status_code for n in range(6)
    ]
    assert wrong == [200] * 5 + [429]
    again = Client()  # another session, another address: the same account
    sign_in(again, eve.email, address=HOME)
    assert again.post(place, {"code": code_of()}, REMOTE_ADDR=HOME).status_code == 429


def test_code_guesses_shut_out_nobody_on_their_own_device(eve):
    """Somebody who knows the password and goes on guessing codes."""
    give_factor(eve)
    own, place = Client(), "/sign-in/2fa/authenticate/"
    sign_in(own, eve.email)
    own.post(place, {"code": code_of(-1)}, REMOTE_ADDR=AT)
    own.post("/sign-in/logout/")
    other = Client()
    sign_in(other, eve.email)
    assert [other.post(place, {"code": "000000"}, REMOTE_ADDR=AT).status_code for _ in range(6)][
        -1
    ] == 429
    sign_in(own, eve.email)
    assert own.post(place, {"code": code_of()}, REMOTE_ADDR=AT).status_code == 302


def test_codes_at_the_set_up_and_once_more_are_counted(eve):
    client = Client()
    sign_in(client, eve.email)
    client.cookies.pop("deskwright_device")
    place = "/sign-in/2fa/totp/activate/"
    client.get(place)
    assert [client.post(place, {"code": "000000"}).status_code for _ in range(6)] == [200] * 5 + [
        429
    ]


def by_letter(client: Client, eve, password: str) -> None:
    """Chooses a new password with the secret of a letter."""
    mail.outbox.clear()
    client.post("/sign-in/password/reset/", {"email": eve.email}, REMOTE_ADDR=AT)
    link = next(word for word in mail.outbox[0].body.split() if "reset/key" in word)
    form = client.get(link.removeprefix("http://testserver"), follow=True).request["PATH_INFO"]
    words = {"password1": password, "password2": password}
    assert client.post(form, words, REMOTE_ADDR=AT).status_code == 302


def test_a_letter_gives_no_new_tries_at_the_second_factor(eve, settings):
    """Who reads somebody's mailbox asks for one password after the other, on one device or on many."""
    settings.SENDS_MAIL = True
    give_factor(eve)
    place, tried = "/sign-in/2fa/authenticate/", []
    for number in range(4):
        client = Client()
        by_letter(client, eve, f"reeds-by-the-pond-{number}")
        sign_in(client, eve.email, f"reeds-by-the-pond-{number}")
        for code in range(5):
            sent = {"code": f"{number}0000{code}"}
            tried.append(client.post(place, sent, REMOTE_ADDR=AT).status_code)
    assert tried == [200] * 5 + [429] * 15


def test_a_device_of_a_letter_counts_codes_by_itself_once_a_sign_in_is_completed(eve, settings):
    settings.SENDS_MAIL = True
    give_factor(eve)
    own, place = Client(), "/sign-in/2fa/authenticate/"
    by_letter(own, eve, "reeds-by-the-pond")
    sign_in(own, eve.email, "reeds-by-the-pond")
    assert own.post(place, {"code": code_of(-1)}, REMOTE_ADDR=AT).status_code == 302
    own.post("/sign-in/logout/")
    other = Client()
    sign_in(other, eve.email, "reeds-by-the-pond")
    for _ in range(6):
        last = other.post(place, {"code": "000000"}, REMOTE_ADDR=AT)
    assert last.status_code == 429
    sign_in(own, eve.email, "reeds-by-the-pond")
    assert own.post(place, {"code": code_of()}, REMOTE_ADDR=AT).status_code == 302


def test_a_cookie_of_the_release_before_is_known_and_counts_no_codes(eve):
    from django.core import signing

    client = Client()
    told = [(eve.pk, eve.doors, "a-name", int(time.time()))]
    client.cookies[devices.COOKIE] = signing.dumps(told, salt=devices.SALT)
    request = RequestFactory().get("/")
    request.COOKIES = {devices.COOKIE: client.cookies[devices.COOKIE].value}
    assert devices.known(request, eve) == "a-name"
    assert devices.signed_in_before(request, eve) == ""


@pytest.mark.parametrize("known", [True, False])
def test_letters_to_one_address_are_few(eve, known, settings):
    settings.SENDS_MAIL = True
    email = eve.email if known else "stranger@larkfield.example"
    ask = [
        Client().post("/sign-in/password/reset/", {"email": email}, REMOTE_ADDR=f"203.0.113.{n}")
        for n in range(6)
    ]
    assert [answer.status_code for answer in ask] == [302] * 5 + [429]
    assert len(mail.outbox) == 5


def test_letters_asked_for_from_one_address_are_few(db):
    words = [{"email": f"n{n}@larkfield.example"} for n in range(21)]
    asked = [
        Client().post("/sign-in/password/reset/", one, REMOTE_ADDR=AT).status_code for one in words
    ]
    assert asked == [302] * 20 + [429]


# -- the counters ----------------------------------------------------------------------------------


def test_nobody_flushes_a_counter(eve, settings):
    """However many others there are: what still counts is never cleared away to make room, and what ended is."""
    guess(eve.email, 5)
    counters = caches["default"]
    counters._max_entries = 10
    for n in range(60):
        counters.set(f"crowd-{n}", [1.0], 600)
    assert sign_in(Client(), eve.email).status_code == 429
    assert counters.get("crowd-0") == [1.0]
    with connection.cursor() as cursor:
        cursor.execute(
            "UPDATE deskwright_counters SET expires = %s WHERE cache_key LIKE %s",
            [connection.ops.adapt_datetimefield_value(_long_ago()), "%crowd%"],
        )
        counters.set("one-more", [1.0], 600)
        cursor.execute(
            "SELECT count(*) FROM deskwright_counters WHERE cache_key LIKE %s", ["%crowd%"]
        )
        assert cursor.fetchone() == (0,)


def _long_ago():
    import datetime as dt

    return dt.datetime(2020, 1, 1, tzinfo=dt.UTC)


@pytest.mark.django_db(transaction=True)
def test_guesses_at_once_in_two_processes_are_counted_together(tmp_path):
    """Twelve accounts one after the other, each guessed at by three processes in the same moments."""
    program = """
        from django.test import RequestFactory
        from sites.web import limits
        through = []
        for account in range(12):
            request = RequestFactory().post("/", REMOTE_ADDR=f"192.0.2.{account}")
            time.sleep(max(0, start + account * 0.5 - time.time()))
            got = 0
            for _ in range(5):
                try:
                    limits.for_password(request, f"n{account}@larkfield.example", None)
                    got += 1
                except limits.TooMany:
                    pass
            through.append(got)
        print(*through)
    """
    each = [list(map(int, said.split())) for said in at_once(program, tmp_path, times=3)]
    together = [sum(of_one) for of_one in zip(*each, strict=True)]
    # A crowd at one counter may be told to come back in a second; never is one let through too many.
    assert max(together) == limits.PAIR.amount and len(together) == 12


# -- whose address ---------------------------------------------------------------------------------

PROXIES = ["10.0.0.0/8", "192.168.7.1", "2001:db8:f::/48"]


@pytest.mark.parametrize(
    ("peer", "told", "client"),
    [
        ("203.0.113.5", "", "203.0.113.5"),
        ("203.0.113.5", "198.51.100.1", "203.0.113.5"),  # no proxy of ours: the header is anybody's
        ("10.1.1.1", "198.51.100.1", "198.51.100.1"),
        (
            "10.1.1.1",
            "6.6.6.6, 198.51.100.1",
            "198.51.100.1",
        ),  # what stands left of it was typed by them
        ("10.1.1.1", "6.6.6.6, 198.51.100.1, 10.2.2.2, 192.168.7.1", "198.51.100.1"),
        ("10.1.1.1", "10.3.3.3", "10.3.3.3"),  # all of them ours: the one who asked first
        ("10.1.1.1", "", "10.1.1.1"),
        (
            "10.1.1.1",
            "198.51.100.1, unknown",
            "10.1.1.1",
        ),  # nothing behind what cannot be read counts
        ("10.1.1.1", "198.51.100.1:4711", "198.51.100.1"),
        ("10.1.1.1", "[2001:db8::1]:4711", "2001:db8::1"),
        ("10.1.1.1", '"[2001:db8::1]"', "2001:db8::1"),
        ("10.1.1.1", "2001:DB8:0::1", "2001:db8::1"),
        ("2001:db8:f::2", "2001:db8::9", "2001:db8::9"),
        ("::ffff:10.1.1.1", "::ffff:198.51.100.1", "198.51.100.1"),
        ("192.168.7.2", "198.51.100.1", "192.168.7.2"),
        ("fe80::1%eth0", "", "fe80::1"),
        (
            "",
            "198.51.100.1",
            "127.0.0.1",
        ),  # a socket of this machine, which is not among our proxies
        ("10.1.1.1", "," * 400, "10.1.1.1"),
    ],
)
def test_the_client_is_read_from_the_right(peer, told, client, settings):
    settings.TRUSTED_PROXIES = PROXIES
    request = RequestFactory().get("/", REMOTE_ADDR=peer, HTTP_X_FORWARDED_FOR=told)
    assert clients.client_address(request) == client


def test_nobody_is_trusted_by_default(settings):
    assert settings.TRUSTED_PROXIES == []
    request = RequestFactory().get("/", REMOTE_ADDR="10.0.0.1", HTTP_X_FORWARDED_FOR="198.51.100.1")
    assert clients.client_address(request) == "10.0.0.1"


def test_one_line_of_ipv6_is_one_client():
    told = [
        RequestFactory().get("/", REMOTE_ADDR=one)
        for one in ("2001:db8:1:2::5", "2001:db8:1:2:ffff::9")
    ]
    other = RequestFactory().get("/", REMOTE_ADDR="2001:db8:1:3::5")
    assert (
        clients.client_group(told[0])
        == clients.client_group(told[1])
        != clients.client_group(other)
    )


def test_a_proxy_that_is_no_address_is_told_at_the_start(settings):
    settings.TRUSTED_PROXIES = ["the-proxy"]
    [error] = clients.proxies_can_be_read(None)
    assert "the-proxy" in error.msg
    settings.TRUSTED_PROXIES = PROXIES
    assert clients.proxies_can_be_read(None) == []


def test_behind_a_proxy_each_client_is_counted_apart(eve, settings):
    settings.TRUSTED_PROXIES = ["10.0.0.0/8"]
    for n in range(40):
        words = {"login": f"n{n}@larkfield.example", "password": "guess"}
        Client().post(
            "/sign-in/login/", words, REMOTE_ADDR="10.0.0.1", HTTP_X_FORWARDED_FOR="203.0.113.66"
        )
    words = {"login": eve.email, "password": PASSWORD}
    told = {"REMOTE_ADDR": "10.0.0.1", "HTTP_X_FORWARDED_FOR": "198.51.100.1"}
    assert Client().post("/sign-in/login/", words, **told).status_code == 302


# -- the way out -----------------------------------------------------------------------------------


def test_a_network_of_ipv6_counts_together_for_one_account(eve):
    """Somebody with 65,536 lines shuts out nobody elsewhere: one network never fills what counts for the account."""
    lines = [f"2001:db8:7:{n:x}::1" for n in range(20)]
    answers = [guess(eve.email, 5, line) for line in lines]
    through = sum(answer == 200 for of_line in answers for answer in of_line)
    assert through == limits.NETWORK.amount < limits.ACCOUNT.amount
    assert guess(eve.email, 1, "2001:db8:8::1") == [200]
    assert sign_in(Client(), eve.email, address=HOME).status_code == 302


def shut_out_everywhere(eve) -> None:
    for number in range(20):
        guess(eve.email, 5, f"203.0.113.{number}")
    assert sign_in(Client(), eve.email, address=HOME).status_code == 429


def link_on(page: str) -> str:
    return re.search(r"http://testserver(/let-in/[^\s<]+)", page)[1]


def test_house_staff_let_somebody_in_without_a_letter(eve, staff, settings):
    settings.SENDS_MAIL = False
    shut_out_everywhere(eve)
    page = sign_in(Client(), eve.email, address=HOME).content.decode()
    assert "House staff can let you in" in page and "by letter" not in page
    house, new = Client(), Client()
    house.force_login(staff)
    place = f"/house/people/{eve.pk}/let-in"
    assert house.post(place)["Location"].startswith("/sign-in/reauthenticate/")
    reauthenticated(house, staff)
    link = link_on(html.unescape(house.post(place, follow=True).content.decode()))
    assert new.get(link).status_code == 200  # programs look at links before people do
    assert new.post(link)["Location"] == "/sign-in/login/"
    assert sign_in(new, eve.email, "wrong", HOME).status_code == 200  # it signs nobody in
    assert sign_in(new, eve.email, address=HOME).status_code == 302
    assert b"gave out a link" in new.get("/you").content  # signed in, and told
    other = Client()
    assert other.post(link).status_code == other.get(link).status_code == 410  # it worked once
    assert sign_in(other, eve.email, address=HOME).status_code == 429


def test_a_link_that_lets_in_gives_no_tries_at_the_second_factor(eve):
    give_factor(eve)
    for _ in range(3):
        new = Client()
        new.post(f"/let-in/{let_in.make(eve)}")
        sign_in(new, eve.email)
        tried = [new.post("/sign-in/2fa/authenticate/", {"code": "000000"}) for _ in range(5)]
    assert [answer.status_code for answer in tried] == [429] * 5


def test_a_link_that_lets_in_ends(eve, monkeypatch):
    link = f"/let-in/{let_in.make(eve)}"
    assert Client().get("/let-in/odd").status_code == 410
    with monkeypatch.context() as patch:
        later = time.time() + let_in.SECONDS + 1
        patch.setattr("django.core.signing.time.time", lambda: later)
        assert Client().get(link).status_code == Client().post(link).status_code == 410
    assert Client().get(link).status_code == 200
    Person.objects.filter(pk=eve.pk).update(doors=7)
    assert Client().post(link).status_code == 410


def test_whoever_has_the_machine_lets_somebody_in(eve, capsys):
    shut_out_everywhere(eve)
    call_command("let_in", "EVE@larkfield.example")
    path = re.search(r"/let-in/\S+", capsys.readouterr().out)[0]
    new = Client()
    new.post(path)
    assert sign_in(new, eve.email, address=HOME).status_code == 302
    with pytest.raises(CommandError):
        call_command("let_in", "nobody@larkfield.example")


@pytest.mark.parametrize("what", ["letters", "codes"])
def test_the_page_offers_no_letter_where_a_letter_is_no_way_out(what, eve, settings):
    settings.SENDS_MAIL = True
    client = Client()
    if what == "letters":
        for number in range(6):
            sent = {"email": eve.email}
            page = client.post(RESET, sent, REMOTE_ADDR=f"203.0.113.{number}")
    else:
        give_factor(eve)
        sign_in(client, eve.email)
        for _ in range(6):
            page = client.post("/sign-in/2fa/authenticate/", {"code": "000000"})
    assert page.status_code == 429 and RESET not in page.content.decode()


def test_the_page_offers_a_letter_to_who_is_shut_out_by_passwords(eve, settings):
    settings.SENDS_MAIL = True
    guess(eve.email, 5)
    assert RESET in sign_in(Client(), eve.email).content.decode()
