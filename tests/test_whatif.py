"""What if: changes tried on the facts, two plans side by side, and the ready-made questions."""

import dataclasses

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner import work_out
from planner.comparing import summary as outlook
from planner.comparing import whatif
from planner.comparing.whatif import Change, Copies
from planner.engine import provenance as rests
from planner.engine.placement import placing as placement
from planner.engine.storage import datastores as storage
from planner.record import facts as f
from planner.record.facts import Ref
from tests.factories import TODAY
from tests.shares import share


def site(hosts=2, memory=96.0, most=20, people=20, share=0.7, standby=2) -> f.SiteFacts:
    return f.SiteFacts(
        today=TODAY,
        site=f.Site(id=1, name="Mill", purpose="live"),
        networks=(
            f.Network(
                id=1,
                name="desks",
                cidr="10.1.0.0/24",
                dhcp="range",
                dhcp_first="10.1.0.50",
                dhcp_last="10.1.0.250",
                lease_minutes=1440,
            ),
        ),
        hosts=tuple(
            f.Host(id=n, name=f"mill-h{n}", sockets=2, cores_per_socket=8, memory_gib=memory)
            for n in range(1, hosts + 1)
        ),
        datastores=tuple(
            f.Datastore(
                id=n,
                name="local",
                sharing="local",
                host_id=n,
                raid="10",
                disks=4,
                disk_gb=960,
                others_gib=0,
            )
            for n in range(1, hosts + 1)
        ),
        images=(f.Image(id=1, name="office", used_gib=40, disk_gib=60),),
        templates=(
            f.Template(
                id=1,
                name="desk",
                image_id=1,
                network_id=1,
                memory_gib=4,
                vcpu=2,
                most=most,
                standby=standby,
                growth_gib=4,
                reset_rule="sign-out",
            ),
        ),
        seat_groups=(
            f.SeatGroup(id=1, name="all", template_id=1, people=people, share_at_once=share),
        ),
    )


def fits(facts, one_down=True):
    numbers = work_out(facts).numbers
    found = placement.work_out(facts, numbers, storage.work_out(facts, numbers))
    return bool(found.fits) and (not one_down or all(down.fits for down in found.without))


# -- changes ---------------------------------------------------------------------------------------


def test_changes_touch_only_what_they_name():
    facts = site()
    made = whatif.apply(
        facts, [Change(Ref("template", 1, "most"), 30.0), Change(Ref("host", 2, "memory_gib"), 64)]
    )
    assert (made.templates[0].most, made.hosts[1].memory_gib, made.hosts[0].memory_gib) == (
        30,
        64,
        96.0,
    )
    assert made.networks is facts.networks or made.networks == facts.networks
    assert facts.templates[0].most == 20  # nothing was changed in place


@pytest.mark.parametrize(
    "at",
    [
        Ref("template", 9, "most"),
        Ref("template", 1, "name"),
        Ref("site", 1, "purpose"),
        Ref("x", 1, "y"),
    ],
)
def test_what_may_not_be_tried_is_passed_over(at):
    assert whatif.apply(site(), [Change(at, 3)]) == site()


def test_more_hosts_bring_disks_of_their_own_and_new_names():
    made = whatif.apply(site(), copies=[Copies(2, 2)])
    assert [host.name for host in made.hosts] == ["mill-h1", "mill-h2", "mill-h3", "mill-h4"]
    assert [host.state for host in made.hosts[2:]] == ["to-buy", "to-buy"]
    new = {host.id for host in made.hosts[2:]}
    assert (
        len({host.id for host in made.hosts}) == 4
        and {s.host_id for s in made.datastores[2:]} == new
    )
    assert len({store.id for store in made.datastores}) == 4
    assert (
        whatif.apply(site(), copies=[Copies(9, 2)])
        == site()
        == whatif.apply(site(), copies=[Copies(1, 0)])
    )


def test_hosts_copied_at_a_fresh_site_keep_their_ids_apart():
    facts = dataclasses.replace(site(), hosts=(f.Host(id=-4, name="a"), f.Host(id=7, name="b")))
    made = whatif.apply(facts, copies=[Copies(7, 1)])
    assert len({host.id for host in made.hosts}) == 3


# -- side by side ----------------------------------------------------------------------------------


def test_nothing_tried_is_the_same():
    assert whatif.compare(work_out(site()), work_out(site())).same


def test_what_moves_says_which_way_is_better():
    before = work_out(site())
    after = work_out(whatif.apply(site(), [Change(Ref("template", 1, "most"), 60)]))
    rows = {row.label: row for row in whatif.compare(before, after).rows}
    assert (
        rows["Desktops planned, at most"].before == "20"
        and rows["Desktops planned, at most"].after == "60"
    )
    assert rows["Left out with the worst host down"].way == "worse"
    assert rows["Binds first"].way in ("", "moved")


def test_findings_that_come_and_go_are_told():
    before = work_out(site(most=30))
    after = work_out(whatif.apply(before.facts, [Change(Ref("template", 1, "most"), 20)]))
    assert "desktops-do-not-fit-without-a-host" in {
        one.key for one in whatif.compare(before, after).gone
    }
    assert "desktops-do-not-fit-without-a-host" in {
        one.key for one in whatif.compare(after, before).come
    }


# -- questions -------------------------------------------------------------------------------------


def applied(plan, answer):
    return whatif.apply(plan.facts, answer.changes, answer.copies)


@pytest.mark.parametrize("hosts", [1, 2, 3])
def test_people_that_fit_with_one_down_is_the_most_that_do(hosts):
    """Tried one by one, which the question does not do."""
    plan = work_out(site(hosts=hosts, memory=48.0))
    answer = whatif.ask(plan, "people-one-down")
    said = applied(plan, answer).seat_groups[0].people
    assert str(said) in answer.text.replace(",", "")
    assert fits(applied(plan, answer), one_down=hosts > 1)
    one_more = whatif.questions._sized(plan, whatif.questions._with_people(plan.facts, said + 1))
    assert not fits(one_more, one_down=hosts > 1)


def test_what_to_buy_is_enough_and_not_too_much():
    plan = work_out(site(hosts=2, memory=64.0, most=16, people=20))
    answer = whatif.ask(plan, "buy-for-more")
    made = applied(plan, answer)
    assert sum(group.people for group in made.seat_groups) == 40 and fits(made)
    assert len(made.hosts) > 2 or any(host.memory_gib > 64 for host in made.hosts)
    [copies] = answer.copies
    less = whatif.apply(
        plan.facts, answer.changes, [dataclasses.replace(copies, count=copies.count - 1)]
    )
    assert not fits(less)


def test_nothing_to_buy_when_there_is_room():
    answer = whatif.ask(work_out(site(hosts=4, memory=512.0)), "buy-for-more")
    assert answer.text.startswith("Nothing:") and not answer.copies


def test_questions_say_what_is_missing():
    facts = dataclasses.replace(site(), hosts=(f.Host(id=1, name="h"),))
    for key in whatif.QUESTIONS:
        answer = whatif.ask(work_out(facts), key)
        assert "cannot be told" in answer.text and answer.missing and not answer.changes
    assert whatif.ask(work_out(facts), "no-such") is None


def test_people_are_shared_out_whole():
    groups = tuple(
        f.SeatGroup(id=n, template_id=1, people=p, share_at_once=0.5)
        for n, p in ((1, 3), (2, 3), (3, 4))
    )
    facts = dataclasses.replace(site(), seat_groups=groups)
    for total in range(41):
        grown = whatif.questions._with_people(facts, total)
        assert sum(group.people for group in grown.seat_groups) == total


# -- words and what they rest on -------------------------------------------------------------------


def test_the_sentence_follows_the_placement():
    assert outlook.sentence(work_out(site())).startswith(
        "All 20 desktops fit, also with any one host down."
    )
    assert "with mill-h1 down" in outlook.sentence(work_out(site(most=24, memory=64.0)))
    assert "fit on no host" in outlook.sentence(work_out(site(most=90)))
    assert "cannot be told yet" in outlook.sentence(
        work_out(f.SiteFacts(today=TODAY, site=f.Site()))
    )


def test_every_room_tells_what_it_rests_on():
    plan = work_out(site())
    keys = {
        room: {one.key for one in rests.rests_of(plan, room).numbers} for room in rests.listed()
    }
    assert "host.vcpu-per-core" in keys["placement"] and "seats.risk" in keys["concurrency"]
    assert "storage.free-share" in keys["storage"] and "facility.voltage" in keys["facility"]
    uses = rests.uses(plan)
    assert {one.room for one in uses["storage.free-share"]} == {
        "storage",
        "placement",
        "surge",
        "leases",
        "recovery",
    }  # where desktops go follows from the room on the disks, and all that from there
    assert [one.section.number for one in uses["desktop.memory-overhead-gib"]] == [
        "8.1",
        "8.4",
        "8.6",
        "8.8",
    ]


numbers = st.one_of(
    st.none(), st.integers(-5, 10**6), st.floats(allow_nan=True, allow_infinity=True)
)


@settings(
    max_examples=share(15, of=40), deadline=None, suppress_health_check=[HealthCheck.too_slow]
)
@given(most=numbers, people=numbers, share=numbers, memory=numbers, count=st.integers(-3, 80))
def test_nothing_that_is_tried_raises(most, people, share, memory, count):
    plan = work_out(
        dataclasses.replace(
            site(),
            seat_groups=(f.SeatGroup(id=1, template_id=1, people=people, share_at_once=share),),
            templates=(dataclasses.replace(site().templates[0], most=most, memory_gib=memory),),
        )
    )
    tried = work_out(
        whatif.apply(plan.facts, [Change(Ref("host", 1, "memory_gib"), memory)], [Copies(1, count)])
    )
    whatif.compare(plan, tried)
    for key in whatif.QUESTIONS:
        whatif.ask(plan, key)
    outlook.sentence(tried), outlook.mornings(tried), outlook.capacity_findings(tried)
