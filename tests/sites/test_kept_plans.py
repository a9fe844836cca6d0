"""A kept plan says what a fresh one says, whatever was written, by whom, and when."""

import dataclasses
import threading

import pytest
from django.core.management import call_command
from django.db import connection, transaction

from planner import work_out
from sites.loading import State, read_site, rows_of, state_of
from sites.models import Host, Network, Person, Site
from sites.pages import plans
from sites.pages.plans import PLANS, Kept, Plans, kept_plan
from tests.pages import without_tokens
from tests.played import ACTS, House, TakenBack, differences, play, told
from tests.processes import at_once
from tests.sites.test_costs import PAGES

SEEDS = (1, 2, 3)
TIMES = 2 * len(ACTS)  # each of them twice


@pytest.fixture(scope="module")
def db(django_db_setup, django_db_blocker):
    """In the place of the usual one of this name: no transaction around a test, for nothing is kept within one."""
    with django_db_blocker.unblock():
        yield
        call_command("flush", interactive=False, verbosity=0)


@pytest.fixture
def house(db):
    yield House(0)
    call_command("flush", interactive=False, verbosity=0)


def anew(site: Site) -> Site:
    return Site.objects.select_related("customer").get(pk=site.pk)


# -- whatever happens ------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", SEEDS)
def test_it_says_what_a_fresh_one_says(seed, db, monkeypatch):
    try:
        play(seed, TIMES, monkeypatch)
    finally:
        call_command("flush", interactive=False, verbosity=0)


# -- transactions ----------------------------------------------------------------------------------


def test_what_never_was_is_not_kept(house):
    site = house.sites[0]
    before = kept_plan(site)
    with pytest.raises(TakenBack), transaction.atomic():
        house.add(site, "host")
        inside = kept_plan(anew(site))
        assert len(inside.facts.hosts) == len(before.facts.hosts) + 1
        raise TakenBack
    assert kept_plan(anew(site)) is before
    house.add(site, "network")  # the counter stands now where it stood in what was taken back
    after = kept_plan(anew(site))
    assert len(after.facts.hosts) == len(before.facts.hosts)
    assert len(after.facts.networks) == len(before.facts.networks) + 1


def test_within_a_transaction_nothing_kept_is_taken(house):
    """Rows are written before the counter is raised: in between, the old counter stands beside the new rows."""
    site = house.sites[0]
    kept_plan(site)
    with transaction.atomic():
        Host.objects.filter(site=site).update(name="renamed")
        assert {host.name for host in kept_plan(site).facts.hosts} == {"renamed"}
        transaction.set_rollback(True)
    assert "renamed" not in {host.name for host in kept_plan(site).facts.hosts}


def test_what_is_written_while_a_site_is_read_is_not_passed_over(house, monkeypatch):
    """Somebody writes between any two of the statements that read: what is kept is of one moment."""
    site = house.sites[0]
    for at in range(1, 40):
        PLANS.clear()
        seen = []

        def meanwhile(execute, sql, params, many, context, at=at, seen=seen):
            seen.append(sql)
            if len(seen) == at:
                house.add(site, "host")
                house.add(site, "contact")
            return execute(sql, params, many, context)

        with connection.execute_wrapper(meanwhile):
            kept = kept_plan(anew(site))
        now = work_out(read_site(anew(site)))
        assert kept_plan(anew(site)).facts == now.facts
        same = len(kept.facts.hosts) - len(kept.facts.contacts)
        assert same == len(now.facts.hosts) - len(now.facts.contacts), f"torn at statement {at}"


def test_what_is_never_of_one_moment_is_shown_and_not_kept(house, monkeypatch):
    site = house.sites[0]
    states = iter(range(1000))
    real = plans.state_of

    def moving(site: Site) -> State:
        return dataclasses.replace(real(site), house=next(states))

    monkeypatch.setattr(plans, "state_of", moving)
    PLANS.clear()
    assert kept_plan(site).facts == read_site(site)
    assert len(PLANS) == 0


# -- keeping ---------------------------------------------------------------------------------------


def some(house: House, pk: int, records: int = 1) -> Kept:
    site = house.sites[0]
    kept = Kept(state_of(site), work_out(read_site(site)), rows_of(site))
    rows = dataclasses.replace(kept.rows, by_kind={"host": [None] * records})
    return dataclasses.replace(kept, rows=rows, state=dataclasses.replace(kept.state, counter=pk))


def test_so_many_plans_are_kept_and_no_more(house):
    kept = Plans(most=3, records=100)
    for pk in (1, 2, 3):
        kept.keep(pk, some(house, pk))
    assert kept.get(1) is not None
    kept.keep(4, some(house, 4))
    assert [kept.get(pk) is not None for pk in (1, 2, 3, 4)] == [True, False, True, True]


def test_large_sites_leave_room_for_fewer(house):
    kept = Plans(most=30, records=100)
    for pk in (1, 2, 3):
        kept.keep(pk, some(house, pk, 40))
    assert [kept.get(pk) is not None for pk in (1, 2, 3)] == [False, True, True]
    kept.keep(4, some(house, 4, 1000))
    assert len(kept) == 1 and kept.get(4) is not None


def test_reading_again_costs_one_query(house, django_assert_num_queries):
    site = house.sites[0]
    first = kept_plan(site)
    with django_assert_num_queries(1):
        assert kept_plan(site) is first


def test_only_what_was_written_is_read_anew(house, django_assert_max_num_queries):
    """Two states, the counters of all kinds, the one kind, and what is no record: three queries."""
    site = house.sites[0]
    kept_plan(site)
    house.add(site, "host")
    site = anew(site)
    with django_assert_max_num_queries(3 + 1 + 4):
        kept_plan(site)


def test_no_page_changes_the_plan_that_it_shows(house, client):
    """Every page is shown twice of one plan; afterwards it says what a fresh one says, and so do the pages."""
    site = house.sites[0]
    house.add(site, "template", memory_gib=4.0, vcpu=2, most=20, standby=2)
    client.force_login(house.staff)
    of_site = f"/at/larkfield/{site.code}/"

    def show_all() -> list[str]:
        shown = {page: client.get(of_site + page).content.decode() for page in PAGES}
        return [
            without_tokens(shown[page])
            for page in PAGES
            if not page.startswith(("run/", "answer/"))  # they bear a moment, and a token
        ]

    first = kept_plan(anew(site))
    before = show_all()
    assert show_all() == before
    assert kept_plan(anew(site)) is first and differences(site) == []
    PLANS.clear()
    assert show_all() == before


def test_what_one_is_shown_is_not_what_another_may_not_see(house, client):
    """Pieces of pages are shared by plan and role: nobody gets another's buttons, or form, or name."""
    reader, editor = (
        Person.objects.get(email=f"{role}@larkfield.example") for role in ("reader", "editor")
    )
    url = f"/at/larkfield/{house.sites[0].code}/hosts/"
    seen = {}
    for turn in range(2):
        for person in (editor, reader, house.staff):
            client.force_login(person)
            page = client.get(url).content.decode()
            assert ("?edit=hosts:" in page) == (person != reader)
            assert str(person) in page
            others = {str(one) for one in (reader, editor, house.staff)} - {str(person)}
            assert not [name for name in others if name in page]
            seen[turn, person.pk] = without_tokens(page)
    for person in (editor, reader, house.staff):
        assert seen[0, person.pk] == seen[1, person.pk]


# -- several at once -------------------------------------------------------------------------------


def test_threads_that_share_a_plan_come_to_the_same(house):
    """Eight threads begin at the same moment with different rooms; all of it is what one alone comes to."""
    site = house.sites[0]
    house.add(site, "template", memory_gib=4.0, vcpu=2, most=20, standby=2)
    shared, alone = work_out(read_site(anew(site))), told(work_out(read_site(anew(site))))
    gate, found = threading.Barrier(8), []

    def look(number: int) -> None:
        gate.wait(30)
        shared.review if number % 2 else shared.stages.steps
        found.append(told(shared))

    threads = [threading.Thread(target=look, args=[number]) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(60)
    assert not any(thread.is_alive() for thread in threads)
    assert found == [alone] * 8


WRITES_AND_READS = """
    import datetime, threading
    from django.db import connections, transaction
    from planner import work_out
    from sites.actions import assumptions, people, records
    from sites.loading import read_site, state_of
    from sites.models import Host, Network, Person, Site
    from sites.pages.plans import PLANS, kept_plan

    def asked():
        return Site.objects.select_related("customer").order_by("pk").first()

    def write():
        staff = Person.objects.get(email="staff@house.example")
        site = asked()
        host, network = (model.objects.filter(site=site).first() for model in (Host, Network))
        for turn in range(12):
            with transaction.atomic():
                for row in (host, network):
                    row.refresh_from_db()
                    records.change_record(by=staff, kind=row.facts.kind, pk=row.pk, opened_at=row.edits,
                                          values={"name": f"turn-{turn}"})
            assumptions.assume(by=staff, site=None, key="host.vcpu-per-core", value=1.0 + turn / 8,
                               origin="measured", note="", on=datetime.date(2026, 3, 2))
        people.change_name(by=staff, person=staff, name="the end")

    def read(wrong):
        while True:
            over = Person.objects.filter(name="the end").exists()
            plan = kept_plan(asked())
            if PLANS.get(asked().pk) and PLANS.get(asked().pk).plan is plan:
                if plan.facts.hosts[0].name != plan.facts.networks[0].name:
                    wrong.append("torn")
            state = state_of(asked())
            kept, fresh = kept_plan(asked()), read_site(asked())
            if state == state_of(asked()) and kept.facts != fresh:
                wrong.append("old")
            if over:
                return

    if number == 0:
        write()
    else:
        wrong = []
        def thread():
            try:
                read(wrong)
            except Exception as error:
                wrong.append(repr(error))
            finally:
                connections.close_all()
        threads = [threading.Thread(target=thread) for _ in range(2)]
        for one in threads:
            one.start()
        read(wrong)
        for one in threads:
            one.join(60)
        print(kept_plan(asked()) is kept_plan(asked()), sorted(set(wrong)))
"""


def test_another_process_writes_and_two_threads_read(house, tmp_path):
    """What they keep is never old, and never half of what was written together."""
    site = house.sites[0]
    for model in (Host, Network):
        house.change(model.objects.get(site=site), name="begun")
    assert at_once(WRITES_AND_READS, tmp_path, times=2)[1] == "True []"
