"""Ground for every action: a customer with two sites and everything an action may act on, and each action, called once.

What is asked of all actions goes through :data:`ACTIONS`.
"""

import dataclasses
import datetime as dt
import json

from allauth.account.forms import default_token_generator
from allauth.mfa.models import Authenticator
from allauth.usersessions.models import UserSession
from django.contrib.sessions.backends.db import SessionStore
from django.http import QueryDict
from django.utils import timezone

from planner import work_out
from planner.comparing import whatif as trying
from planner.comparing.as_built import drift
from planner.papers.probe import preview, probe_of, read_run
from planner.papers.sheets.files import allocation_sheet, write_csv
from planner.papers.sheets.reading import read_table
from planner.record.facts import Ref
from planner.review import Mend
from sites.access.asker import Asker
from sites.actions import (
    addresses,
    assumptions,
    built,
    copying,
    customers,
    exchange,
    house_work,
    invitations,
    joining,
    once,
    own_address,
    papers,
    pasting,
    people,
    pilot,
    presence,
    probe,
    proofs,
    reading_back,
    records,
    secrets,
    stages,
    step_plans,
    steps,
    whatif,
)
from sites.demo.drawn import drawn_photo
from sites.intake.reading_back import WANTED, edit_counters, look
from sites.loading import read_site
from sites.models import (
    Answer,
    Customer,
    Host,
    HouseWork,
    Invitation,
    Membership,
    Network,
    Person,
    PilotLink,
    Removal,
    SaidHarmless,
    Service,
    Site,
)
from sites.pages import proposals as offers
from sites.pages.addresses import taken_by
from tests.people import house_staff, larkfield

TODAY = dt.date(2026, 3, 2)


class Ground:
    """What the actions act on. Everything is read anew whenever it is asked for, as another request would."""

    def __init__(self):
        # Looked at beforehand: of many at the same moment, all but a few are told to come again.
        words = ("one", "another", "third")
        self.photos = [proofs.take(drawn_photo(word).content) for word in words]
        staff = house_staff()
        customer = larkfield(staff)
        barn = records.make_site(by=staff, customer=customer, code="barn", name="Barn")
        records.add_record(by=staff, site=barn, kind="contact", values={"name": "Ann"})
        network = records.add_record(by=staff, site=barn, kind="network", values={"name": "desks"})
        records.add_record(
            by=staff, site=barn, kind="host", values={"name": "barn-h1", "network_id": network.pk}
        )
        assumptions.assume(
            by=staff,
            site=barn,
            key="host.vcpu-per-core",
            value=5.0,
            origin="measured",
            note="",
            on=TODAY,
        )
        stages.give_answer(by=staff, site=barn, key="room-seen", state="trust")
        stages.give_answer(by=self.editor, site=barn, key="scope-agreed", state="excused")
        self._lay_mill(staff, customer)
        self._lay_house(staff, customer)

    def _lay_mill(self, staff, customer):
        mill = records.make_site(by=staff, customer=customer, code="mill", name="Mill")

        def add(kind, **values):
            return records.add_record(by=staff, site=mill, kind=kind, values=values)

        core = add(
            "network", name="core", purpose="management", cidr="10.44.1.0/24", gateway="10.44.1.1"
        )
        rooms = add(
            "network",
            name="rooms",
            purpose="clients",
            cidr="10.44.2.0/24",
            gateway="10.44.2.1",
            dns_servers=["10.44.1.5"],
        )
        add(
            "server",
            name="dc-1",
            address="10.44.1.5",
            network_id=core.pk,
            roles=["directory", "dns"],
        )
        add("seatgroup", name="Reception", network_id=rooms.pk)
        add("appliance", name="broker-1", address="10.44.1.31", network_id=core.pk)
        service = Service.objects.get(site=mill)
        said = {
            "entry_name": "desk.larkfield.example",
            "address": "10.44.1.30",
            "network_id": core.pk,
        }
        records.change_record(by=staff, kind="service", pk=service.pk, opened_at=1, values=said)
        for name in ("mill-h1", "mill-h2"):
            host = add(
                "host",
                name=name,
                network_id=core.pk,
                memory_gib=96.0,
                sockets=2,
                cores_per_socket=8,
            )
            add("datastore", name=f"{name} local", host_id=host.pk)
        add("built", target=host.anchor, field="memory_gib", value="48")
        add("owncheck", name="The chair stands", stage=1)
        add("stepplan", step="carry-host", likely_minutes=20.0)
        records.remove_record(by=staff, record=add("host", name="gone"))
        stages.give_answer(by=staff, site=mill, key="room-seen", state="trust")
        finding = self.plan.review.findings[-1]
        papers.accept(by=staff, site=mill, finding=finding, reason="so", look_again=TODAY)
        self.accepted = finding.token
        papers.freeze(by=staff, site=mill, reason="first")
        link, _ = pilot.make_link(by=staff, site=mill, person="Eve", days=3)
        asked = [check.key for check in self.plan.stages.checks.values() if check.stage == 7][:2]
        pilot.write(link=link, asked=asked, results=dict.fromkeys(asked, ("works", "")))

    def _lay_house(self, staff, customer):
        house_work.add_work(by=staff, what="check", values={"name": "Rack photographed"})
        ended = house_work.add_work(by=staff, what="step", values={"name": "Ended"})
        house_work.stop_asking(by=staff, pk=ended.pk)
        house_work.estimate(by=staff, step="carry-host", values=THREE, on=TODAY)
        self.invited = invitations.invite(
            by=staff, customer=customer, email="new@larkfield.example", role="lead"
        )[1]
        self.letter = own_address.ask(by=self.editor, email="mine@larkfield.example")
        Person.objects.create_user("mine@larkfield.example")
        Person.objects.create_superuser("other@house.example")
        Person.objects.create_user("ended@larkfield.example", is_active=False)
        for person in (staff, self.editor):
            Authenticator.objects.create(user=person, type="totp", data={})
        SaidHarmless.objects.create(site=self.barn, digest="0" * 64, by=staff)
        session = SessionStore()
        session.create()
        self.session = UserSession.objects.create(
            user=self.editor, ip="127.0.0.1", session_key=session.session_key, user_agent="none"
        ).pk

    @property
    def staff(self):
        return Person.objects.get(email="staff@house.example")

    @property
    def editor(self):
        return Person.objects.get(email="editor@larkfield.example")

    @property
    def other_staff(self):
        return Person.objects.get(email="other@house.example")

    @property
    def ended(self):
        return Person.objects.get(email="ended@larkfield.example")

    @property
    def customer(self):
        return Customer.objects.get()

    @property
    def site(self):
        return Site.objects.select_related("customer").get(code="mill")

    @property
    def barn(self):
        return Site.objects.select_related("customer").get(code="barn")

    @property
    def facts(self):
        return read_site(self.site)

    @property
    def plan(self):
        return work_out(self.facts)

    @property
    def host(self):
        return Host.objects.get(name="mill-h1")

    @property
    def member(self):
        return Membership.objects.select_related("person", "customer").get(
            person__email="lead@larkfield.example"
        )

    @property
    def link(self):
        return PilotLink.objects.get()

    def check(self, name="room-seen"):
        return next(
            one for key, one in self.plan.stages.checks.items() if key.partition("@")[0] == name
        )

    def both(self, **more):
        return {"by": self.staff, "site": self.site, **more}


THREE = {"least_minutes": 5.0, "likely_minutes": 10.0, "longest_minutes": 20.0, "note": ""}


def take_free_address(g):
    at = Ref("host", g.host.pk, "address")
    addresses.take(**g.both(at=at, value=taken_by(g.plan, at), offered=taken_by))


def confirm_layout(g):
    chosen = [one.token for one in addresses.counted(g.site, offers.of_layout(g.plan))]
    assert len(chosen) > 1
    addresses.confirm(**g.both(offer=offers.of_layout, chosen=chosen))


def put_records_elsewhere(g):
    olds = [("contact", 1, one) for one in g.facts.contacts] + [
        ("host", one.id, one) for one in g.facts.hosts
    ]
    copying.put_records(by=g.staff, made=g.barn, olds=olds, stays=lambda kind, field: False)


def put_answers_elsewhere(g):
    said = [("room-seen", "trust", "there"), ("scope-agreed", "trust", "there")]
    copying.put_answers(by=g.staff, made=g.site, said=said, copied={}, may_excuse=True)


def join_ends(g):
    site = g.site
    site.joined = [g.barn.pk]
    joining.join_other_ends(by=g.staff, site=site, before=[])


def accept_finding(g):
    finding = g.plan.review.findings[0]
    assert finding.token != g.accepted
    papers.accept(**g.both(finding=finding, reason="so", look_again=TODAY, at=timezone.now()))


def accept_again(g):
    """A finding that was accepted before: the old acceptance ends, the new one is made."""
    finding = next(one for one in g.plan.review.findings if one.token == g.accepted)
    papers.accept(**g.both(finding=finding, reason="still so", look_again=TODAY, at=timezone.now()))


def take_probe(g):
    plan = g.plan
    found = probe_of(plan)
    network = Network.objects.get(name="rooms")
    values = {
        "format": "deskwright probe results 1",
        "customer": "larkfield",
        "site": "mill",
        "fingerprint": plan.fingerprint,
        "network": network.pk,
        "network_name": network.name,
        "began": "2026-09-01T13:10:00Z",
        "ended": "2026-09-01T13:12:00Z",
        "machine": {"address": "10.44.2.90"},
        "results": [
            {"id": task.id, "state": "ok", "seen": "so"} for task in found.by_network[network.pk]
        ],
    }
    seen = preview(plan, found, [read_run(json.dumps(values).encode(), plan, found)])
    taken = [
        probe.Taking(one, "looked at") for one in seen.verdicts if one.answers or one.completable
    ]
    assert len(taken) > 1
    probe.take_verdicts(**g.both(role="lead", probe=found, taken=taken, seen={}, token="t"))


def read_sheet_back(g):
    text = write_csv(allocation_sheet(g.plan, edit_counters(g.site))).decode("utf-8-sig")
    head = next(line for line in text.splitlines() if "Key" in line)
    columns = head.split(",")
    new = [
        ",".join(name if column == '"Name"' else "" for column in columns)
        for name in ("printer", "scanner")
    ]
    table = read_table("\r\n".join([head, *new, ""]).encode(), WANTED)
    rows = look(g.site, g.plan, table).rows
    assert [row.does for row in rows] == ["added", "added"]
    reading_back.read_back(**g.both(rows=rows, take=()))


def paste_two_rows(g):
    rows = [
        pasting.Row({"name": "pasted"}),
        pasting.Row({"memory_gib": 256.0}, g.host.pk, g.host.edits),
    ]
    assert pasting.write_rows(**g.both(kind="host", rows=rows)) == 2


def change(g, record, **values):
    records.change_record(
        by=g.staff, kind=record.facts.kind, pk=record.pk, opened_at=record.edits, values=values
    )


def mend_host(g):
    mend = Mend(Ref("host", g.host.pk), (("memory_gib", "128"), ("sockets", "1")))
    assert records.apply_mend(**g.both(mend=mend, facts=g.facts))


def answer_with_photos(g):
    taken = g.photos[:2]
    stages.answer_check(
        **g.both(
            role="lead",
            check=g.check(),
            state="proven",
            proof="seen",
            taken=taken,
            at=timezone.now(),
        )
    )


def keep_a_photo(g):
    answer = Answer.objects.filter(site=g.site).first()
    proofs.keep(answer, g.photos[2:])


def excuse_two(g):
    checks = [
        one for one in g.plan.stages.checks.values() if one.state == "open" and one.who != "lead"
    ][:2]
    stages.excuse_many(**g.both(role="lead", checks=checks, reason="not here", seen={}))


def sign(g):
    shut = g.plan.stages.stage(1).gate
    gate = dataclasses.replace(shut, state="open", blocking=())  # what opens it is another matter
    stages.sign_gate(
        **g.both(gate=gate, checks=["room-seen"], fingerprint="ABCD-EFGH", at=timezone.now())
    )


def plan_two_steps(g):
    keys = ["carry-host", "check-datastore"]
    values = {"likely_minutes": 30.0}
    made, passed = step_plans.plan_steps(**g.both(keys=keys, values=values, seen={"carry-host": 1}))
    assert made == keys and not passed


def move(g):
    steps.move_step(
        **g.both(step=next(iter(g.plan.stages.steps.values())), does="start", token="t")
    )


def keep_tried(g):
    at = Ref("host", g.host.pk, "memory_gib")
    changes, copies = [trying.Change(at, 128.0)], [trying.Copies(g.host.pk, 2)]
    whatif.keep(**g.both(facts=g.facts, changes=changes, copies=copies, opened={}))


def come_in(g):
    invitations.come_in(secret=g.invited, name="New", password="reeds-by-the-pond")


def choose_password(g):
    secret = default_token_generator.make_token(g.editor)
    people.choose_password(person=g.editor, secret=secret, password="reeds-by-the-pond")


def say_harmless(g):
    asker = Asker(g.site, {"1" * 64: "note", "2" * 64: "note"})
    secrets.keep_said(by=g.staff, asker=asker)


def add_once(g):
    form = QueryDict(f"{once.NAME}={'a' * 20}&name=new")
    sent = once.Sent(g.staff, "host", g.site.pk, form)
    once.take(
        sent,
        valid=lambda: True,
        make=lambda: records.add_record(**g.both(kind="host", values={"name": "new"})),
    )


def of_house(g, ended=False):
    return (
        HouseWork.objects.exclude(ended_at=None).get()
        if ended
        else HouseWork.objects.get(ended_at=None)
    )


def assumed(g, **more):
    return {"by": g.staff, "key": "host.vcpu-per-core", **more}


SET = {"value": 4.0, "origin": "measured", "note": "", "on": TODAY}
ACTIONS = {
    "addresses.take": take_free_address,
    "addresses.confirm": confirm_layout,
    "assumptions.assume": lambda g: assumptions.assume(**assumed(g, site=g.barn, **SET)),
    "assumptions.assume, of the house": lambda g: assumptions.assume(
        **assumed(g, site=None, **SET)
    ),
    "assumptions.assume_no_more": lambda g: assumptions.assume_no_more(**assumed(g, site=g.barn)),
    "built.take_over": lambda g: built.take_over(**g.both(drift=drift(g.facts)[0])),
    "copying.copy_site": lambda g: copying.copy_site(
        by=g.staff,
        source=g.barn,
        customer=g.customer,
        name="New",
        code="new",
        with_addresses=True,
        with_answers=True,
    ),
    "copying.put_records": put_records_elsewhere,
    "copying.put_answers": put_answers_elsewhere,
    "customers.make_customer": lambda g: customers.make_customer(
        by=g.staff, values={"name": "New", "code": "new"}
    ),
    "customers.change_customer": lambda g: customers.change_customer(
        by=g.staff, customer=g.customer, opened_at=g.customer.edits, values={"name": "Newer"}
    ),
    "customers.make_member": lambda g: customers.make_member(
        customer=g.customer, person=g.staff, role="lead"
    ),
    "customers.change_role": lambda g: customers.change_role(
        by=g.staff, member=g.member, role="reader"
    ),
    "customers.end_membership": lambda g: customers.end_membership(by=g.staff, member=g.member),
    "exchange.bring_in": lambda g: exchange.bring_in(
        by=g.staff,
        customer=g.customer,
        facts=read_site(g.barn),
        name="New",
        code="new",
        purpose="trial",
    ),
    "house_work.add_work": lambda g: house_work.add_work(
        by=g.staff, what="step", values={"name": "New"}
    ),
    "house_work.change_work": lambda g: house_work.change_work(
        by=g.staff, pk=of_house(g).pk, opened_at=of_house(g).edits, values={"name": "Other"}
    ),
    "house_work.stop_asking": lambda g: house_work.stop_asking(by=g.staff, pk=of_house(g).pk),
    "house_work.ask_again": lambda g: house_work.ask_again(
        by=g.staff, pk=of_house(g, ended=True).pk
    ),
    "house_work.estimate": lambda g: house_work.estimate(
        by=g.staff, step="carry-host", values={**THREE, "likely_minutes": 12.0}, on=TODAY
    ),
    "house_work.estimate_no_more": lambda g: house_work.estimate_no_more(
        by=g.staff, step="carry-host"
    ),
    "invitations.invite": lambda g: invitations.invite(
        by=g.staff, customer=g.customer, email="new@larkfield.example", role="lead"
    ),
    "invitations.accept": lambda g: invitations.accept(by=g.editor, secret=g.invited),
    "invitations.come_in": come_in,
    "invitations.withdraw": lambda g: invitations.withdraw(
        by=g.staff, invitation=Invitation.objects.get()
    ),
    "joining.join_other_ends": join_ends,
    "once.take": add_once,
    "own_address.ask": lambda g: own_address.ask(by=g.editor, email="other@larkfield.example"),
    "own_address.prove": lambda g: own_address.prove(by=g.editor, secret=g.letter),
    "own_address.take_from": lambda g: own_address.take_from(person=g.editor),
    "pasting.write_rows": paste_two_rows,
    "papers.freeze": lambda g: papers.freeze(**g.both(reason="again", at=timezone.now())),
    "papers.note_printed": lambda g: papers.note_printed(
        **g.both(paper="book", fingerprint="ABCD-EFGH", at=timezone.now())
    ),
    "papers.accept": accept_finding,
    "papers.accept, again": accept_again,
    "papers.withdraw": lambda g: papers.withdraw(site=g.site, token=g.accepted),
    "people.end_all_sessions": lambda g: people.end_all_sessions(by=g.staff, person=g.editor),
    "people.end_session": lambda g: people.end_session(by=g.staff, person=g.editor, pk=g.session),
    "people.choose_password": choose_password,
    "people.let_in": lambda g: people.let_in(by=g.staff, person=g.editor),
    "people.remove_lost_factor": lambda g: people.remove_lost_factor(by=g.staff, person=g.editor),
    "people.ask_for_factor": lambda g: people.ask_for_factor(
        by=g.staff, customer=g.customer, wanted=True
    ),
    "people.change_name": lambda g: people.change_name(by=g.staff, person=g.editor, name="Ed"),
    "people.change_address": lambda g: people.change_address(
        by=g.staff, person=g.editor, email="ed@new.example"
    ),
    "people.end_account": lambda g: people.end_account(by=g.staff, person=g.editor),
    "people.open_account": lambda g: people.open_account(by=g.staff, person=g.ended),
    "people.end_staff": lambda g: people.end_staff(by=g.staff, person=g.other_staff),
    "pilot.make_link": lambda g: pilot.make_link(**g.both(person="Ann", days=3)),
    "pilot.end_link": lambda g: pilot.end_link(link=g.link),
    "pilot.write": lambda g: pilot.write(
        link=g.link, asked=["a", "b"], results={"a": ("works", ""), "b": ("fails", "no picture")}
    ),
    "pilot.take": lambda g: pilot.take(**g.both(role="lead", link=g.link, plan=g.plan)),
    "presence.be_seen": lambda g: presence.be_seen(**g.both(chapter=3)),
    "probe.take_verdicts": take_probe,
    "proofs.keep": keep_a_photo,
    "reading_back.read_back": read_sheet_back,
    "records.make_site": lambda g: records.make_site(
        by=g.staff, customer=g.customer, code="new", name="New"
    ),
    "records.add_record": lambda g: records.add_record(
        **g.both(kind="host", values={"name": "new"})
    ),
    "records.change_record": lambda g: change(g, g.host, name="other"),
    "records.change_record, to live": lambda g: change(g, g.barn, purpose="live"),
    "records.change_record, joined": lambda g: change(g, g.barn, joined=[g.site.pk]),
    "records.remove_record": lambda g: records.remove_record(by=g.staff, record=g.host),
    "records.remove_site": lambda g: records.remove_site(by=g.staff, site=g.site),
    "records.bring_back": lambda g: records.bring_back(by=g.staff, removal=Removal.objects.get()),
    "records.apply_mend": mend_host,
    "secrets.keep_said": say_harmless,
    "secrets.copy_said": lambda g: secrets.copy_said(source=g.barn, made=g.site),
    "stages.give_answer": lambda g: stages.give_answer(
        **g.both(key="room-seen", state="proven", at=timezone.now())
    ),
    "stages.answer_check": answer_with_photos,
    "stages.excuse_many": excuse_two,
    "stages.sign_gate": sign,
    "stages.turned_live": lambda g: stages.turned_live(**{**g.both(), "site": g.barn}),
    "step_plans.plan_steps": plan_two_steps,
    "steps.move_step": move,
    "whatif.keep": keep_tried,
}
