"""Odd values sent to every address of the house: no answer may be an error page.

These are few, always the same, and of a small site; ``tests/long/fuzz.py`` sends thousands to the demo house.
"""

import itertools
import logging
import random
import re

import pytest
from django.core import mail
from django.db import transaction

from planner.record.chapters import fields_of
from sites.actions.house_work import add_work
from sites.actions.proofs import keep
from sites.actions.records import make_site
from sites.actions.stages import give_answer
from sites.demo.drawn import drawn_photo
from sites.models import RECORD_MODELS
from tests.long.asked import SITES, names_read
from tests.long.real import every_url, furnish
from tests.long.shots import Range, Shot, Trouble
from tests.people import by_standing, house_staff, larkfield, outsider

HERE = "/at/larkfield/mill/"
SHOTS = 500


def small_site(staff):
    """A site with one record of every kind."""
    site = make_site(
        by=staff, customer=larkfield(staff), code="mill", name="Mill Street", purpose="live"
    )
    for kind, model in RECORD_MODELS.items():
        if kind not in ("site", "directory", "service"):
            named = {"name": f"{kind} 1"} if "name" in fields_of(kind) else {}
            model.objects.create(site=site, made_by=staff, changed_by=staff, **named)
    add_work(by=staff, what="check", values={"name": "The rack is photographed"})
    keep(
        give_answer(by=staff, site=site, key="room-seen", state="proven"), [drawn_photo("The room")]
    )
    RECORD_MODELS["network"].objects.filter(site=site).update(cidr="10.44.1.0/24")
    return site


@pytest.fixture(scope="module")
def laid(django_db_setup, django_db_blocker):
    """Laid once: every odd request is taken back."""
    with django_db_blocker.unblock(), transaction.atomic():
        staff = house_staff()
        site = small_site(staff)
        people = by_standing(staff, outsider(staff))
        yield Range(people, site, furnish(staff, site))
        transaction.set_rollback(True)


@pytest.fixture
def house(laid, db, settings):
    settings.SENDS_MAIL = True
    logging.disable(logging.CRITICAL)
    yield laid
    logging.disable(logging.NOTSET)


def test_no_odd_request_ends_in_an_error(house):
    troubles = house.look_around(few=1)
    shots = itertools.islice(house.shots(random.Random(7)), SHOTS)
    troubles += [one for one in map(house.send, shots) if isinstance(one, Trouble)]
    assert not troubles, "\n".join(f"{one.place}\n    {one.shot}" for one in troubles[:10])
    assert {name for name, urls in house.real.items() if urls} == {
        pattern.name for pattern in every_url()
    }
    assert mail.outbox  # letters were made of it


def test_the_range_is_behind_the_password_once_more(house):
    """Or its pages would only ever answer with the way to the password."""
    for name in ("house-invite", "you-address"):
        answer = house.send(Shot("staff", house.real[name][0]))
        assert not isinstance(answer, Trouble) and answer.status_code == 200, name
    ended = house.send(Shot("staff", house.real["house-person-end"][0], "POST"))
    assert not isinstance(ended, Trouble)
    assert ended["Location"] == house.real["house-person"][0]


NUMBERS = ("²", "٣", "9" * 25, "9" * 5000, "-1", "0", "", "nan")
ODD_KEYS = [
    ("GET", f"{HERE}hosts/?edit=hosts:{{}}"),
    ("GET", f"{HERE}hosts/?remove=hosts:{{}}"),
    ("GET", f"{HERE}changes?of=host-{{}}"),
    ("GET", f"{HERE}addresses/?network={{}}"),
    ("GET", f"{HERE}addresses/?ports=firewall&between={{}}-outside"),
    ("GET", f"{HERE}ready?gate={{}}"),
    ("GET", f"{HERE}watch?chapter={{}}&counter={{}}"),
    ("GET", f"{HERE}addresses/carve?n-{{}}=5&more=guests, {{}}"),
    ("POST", f"{HERE}what-if/keep", "opened-host-1={}"),
    ("POST", f"{HERE}addresses/take", "at=host-{}&field=address"),
    ("POST", f"{HERE}addresses/lay-out", "take=host-{}|address=1|{}"),
    ("POST", f"{HERE}read-back", "take-{}=sheet"),
    ("POST", f"{HERE}owners", "step=carry-host&owner={}&seen-carry-host={}"),
    ("GET", f"{HERE}proof/{{}}"),
    ("GET", "/?page={}"),
    ("GET", "/exchange/site-{}.schema.json"),
]


@pytest.mark.parametrize("asked", ODD_KEYS, ids=lambda one: one[1].removeprefix(HERE))
def test_a_key_that_is_no_number_is_no_error(asked, house):
    method, url, *body = asked
    for number in NUMBERS:
        sent = body[0].replace("{}", number).encode() if body else b""
        answer = house.send(Shot("staff", url.replace("{}", number), method, sent))
        assert not isinstance(answer, Trouble), answer.trace


@pytest.mark.parametrize(
    ("sent", "status"),
    [
        (Shot("lead", f"{HERE}hosts/?q=a%00b"), 400),
        (Shot("lead", f"{HERE}answer/a%00b"), 400),
        (Shot("lead", f"{HERE}add/hosts", "POST", b"new-hosts-name=a%00b"), 400),
        (Shot("lead", f"{HERE}add/hosts", "POST", b"a%00b=1"), 400),
        (
            Shot(
                "nobody",
                "/",
                headers={"Cookie": 'sessionid="\\000\\000\\000\\000\\000\\000\\000\\000"'},
            ),
            400,
        ),
        (Shot("lead", "/", headers={"Content-Type": "text/plain; charset=hex"}), 415),
        (
            Shot(
                "lead",
                "/?q=%5Cud800",
                headers={"Content-Type": "text/plain; charset=unicode_escape"},
            ),
            415,
        ),
        (Shot("lead", "/?q=\u00e4", kind="text/plain; charset=UTF8"), 200),
        (Shot("lead", "/?q=%ED%A0%80%FF"), 200),
    ],
    ids=str,
)
def test_what_no_text_has_is_turned_away(sent, status, house):
    answer = house.send(sent)
    assert not isinstance(answer, Trouble) and answer.status_code == status


# -- how it is read ------------------------------------------------------------------------------

WRONG = re.compile(
    r"\.(isdigit|isdecimal|isnumeric)\b|(?<![\w.])int\((?!time\.time\(\))|\brpartition\(\"-\"\)"
)


def test_numbers_and_anchors_are_read_in_one_place():
    """``"²".isdigit()`` holds and ``int("²")`` raises: whoever reads a number by hand makes an error page of it."""
    for path in SITES.rglob("*.py"):
        if "migrations" not in path.parts and path.name != "numbers.py":
            found = WRONG.search(path.read_text(encoding="utf-8"))
            assert found is None, (
                f"{path}: {found[0]} (sites.forms.numbers.whole, planner.record.facts.ref_of)"
            )


def test_the_names_that_views_read_are_found():
    """Or the odd requests would ask for nothing."""
    read = names_read()
    assert {"edit", "remove", "add"} <= read["views/chapters.py"] and "of" in read[
        "views/papers.py"
    ]
    assert "opened-1" in set().union(*read.values()) or "network" in read["pages/addresses.py"]
