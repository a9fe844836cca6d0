"""Findings about hosts, datastores and what does not fit: each raised once and once not."""

from __future__ import annotations

import pytest

from planner.record import facts as f
from planner.record.facts import Ref
from planner.review import base
from tests.factories import findings, make, plan_of, raised


def host(name="mill-h1", **values):
    return make(
        f.Host, **{"name": name, "memory_gib": 100, "sockets": 1, "cores_per_socket": 9, **values}
    )


def store(**values):
    return make(
        f.Datastore,
        **{
            "name": "h1-local",
            "sharing": "shared",
            "raid": "1",
            "disks": 2,
            "disk_gb": 480,
            "hot_spares": 0,
            "provisioning": "thick",
            "others_gib": 0,
            **values,
        },
    )


def desk(**values):
    return make(
        f.Template,
        **{"name": "office", "memory_gib": 4, "vcpu": 2, "most": 5, "growth_gib": 6, **values},
    )


# what raises it, what does not, where, and words of its title or text
CASES = {
    "hosts-none": (lambda: [host(state="spare")], lambda: [host()], "state", "No host"),
    "host-memory-unknown": (
        lambda: [host(memory_gib=None)],
        lambda: [host()],
        "memory_gib",
        "mill-h1",
    ),
    "host-cores-unknown": (
        lambda: [host(cores_per_socket=None)],
        lambda: [host()],
        "cores_per_socket",
        "mill-h1",
    ),
    "host-too-small": (
        lambda: [host(memory_gib=2)],
        lambda: [host()],
        "memory_gib",
        "Of its 2 GiB the hypervisor keeps 2.1",
    ),
    "host-alone": (
        lambda: [host()],
        lambda: [host(), host("mill-h2")],
        "",
        "mill-h1 is the only host",
    ),
    "hosts-differ": (
        lambda: [host(memory_gib=201), host("mill-h2")],
        lambda: [host(memory_gib=200), host("mill-h2")],
        "memory_gib",
        "mill-h1 has 201 GiB of memory, mill-h2 only 100",
    ),
    "hosts-hypervisors-differ": (
        lambda: [
            host(hypervisor="8.1"),
            host("mill-h2", hypervisor="8.2"),
            host("h3", hypervisor="8.2"),
        ],
        lambda: [host(hypervisor="8.2"), host("mill-h2", hypervisor="8.2"), host("h3")],
        "hypervisor",
        "mill-h1 runs “8.1”, mill-h2 “8.2”",
    ),
    "hosts-labels-differ": (
        lambda: [host(network_label="desktops-40"), host("mill-h2", network_label="Desktops-40")],
        lambda: [host(network_label="desktops-40"), host("mill-h2", network_label="desktops-40")],
        "network_label",
        "“Desktops-40” on mill-h2 and “desktops-40” on mill-h1",
    ),
    "host-label-unknown": (
        lambda: [host()],
        lambda: [host(network_label="desktops-40")],
        "network_label",
        "mill-h1",
    ),
    "host-hypervisor-unknown": (
        lambda: [host()],
        lambda: [host(hypervisor="release 8.2")],
        "hypervisor",
        "mill-h1",
    ),
    "host-address-missing": (
        lambda: [host()],
        lambda: [host(address="10.44.1.11")],
        "address",
        "mill-h1",
    ),
    "host-out-of-band-missing": (
        lambda: [host()],
        lambda: [host(out_of_band_address="10.44.1.21")],
        "out_of_band_address",
        "mill-h1",
    ),
    "host-time-source-missing": (
        lambda: [host()],
        lambda: [host(time_source="10.44.1.5")],
        "time_source",
        "mill-h1",
    ),
    # Source: NIOSH Publication No. 94-110, load constant 23 kg
    "host-heavy": (
        lambda: [host(weight_kg=8.6)],
        lambda: [host(weight_kg=8.5), host(weight_kg=40.0, state="existing")],
        "weight_kg",
        "mill-h1 (8.6 kg)",
    ),
    "host-watts-unknown": (
        lambda: [host()],
        lambda: [host(rated_watts=750)],
        "rated_watts",
        "mill-h1",
    ),
    "datastore-none": (lambda: [host()], lambda: [host(), store()], "", "mill-h1 has no datastore"),
    "datastore-sharing-unknown": (
        lambda: [store(sharing="")],
        lambda: [store()],
        "sharing",
        "h1-local",
    ),
    "datastore-local-nowhere": (
        lambda: [store(sharing="local")],
        lambda: [store(sharing="local", host_id=7)],
        "host_id",
        "h1-local",
    ),
    "datastore-spares-exceed": (
        lambda: [store(hot_spares=2)],
        lambda: [store(disks=3, hot_spares=1)],
        "hot_spares",
        "2 hot spares of 2 disks",
    ),
    "datastore-no-redundancy": (
        lambda: [store(raid="0")],
        lambda: [store(raid="1")],
        "raid",
        "h1-local is RAID 0",
    ),
    "datastore-size-unknown": (
        lambda: [store(raid="", disk_gb=None)],
        lambda: [store()],
        "raid",
        "RAID level and disk size not known",
    ),
    "datastore-others-unknown": (
        lambda: [store(others_gib=None)],
        lambda: [store()],
        "others_gib",
        "h1-local",
    ),
    "datastore-over-full": (
        # 480 GB are 447.03 GiB; swap 20 and growth 30 beside it
        lambda: [host(), desk(), store(others_gib=400)],
        lambda: [host(), desk(), store(others_gib=397)],
        "disks",
        "would have to hold 3 GiB more than it can",
    ),
    "datastore-nearly-full": (
        lambda: [host(), desk(), store(others_gib=330)],
        lambda: [host(), desk(), store(others_gib=300)],
        "disks",
        "keeps 15 % free, not 20",
    ),
    "datastore-provisioning-unknown": (
        lambda: [store(provisioning="")],
        lambda: [store()],
        "provisioning",
        "h1-local",
    ),
    "datastore-too-slow": (
        # 2 × 75 / (0.3 + 0.7 × 2) = 88.2; five desktops ask 50, ten ask 100
        lambda: [host(), desk(most=10), store(disk_operations=75)],
        lambda: [host(), desk(), store(disk_operations=75)],
        "disk_operations",
        "gives 88 operations a second; its 10 desktops ask 100",
    ),
    "desktops-do-not-fit": (
        # 100 GiB less 2 and 4 %: 94; 22 × 4.125 = 90.75, 23 would be 94.875
        lambda: [host(), desk(most=23)],
        lambda: [host(), desk(most=22)],
        "most",
        "94.9 GiB and 46 vCPU; the hosts offer 94 GiB and 48 vCPU, and memory runs out first. Left out: 1 of office.",
    ),
    "desktops-do-not-fit-without-a-host": (
        lambda: [host(memory_gib=50), host("mill-h2"), desk(most=24)],
        lambda: [host(), host("mill-h2"), desk(most=22)],
        "",
        "With mill-h2 down, 13 of 24 desktops go without",  # 46 GiB carry 11 of 4.125
    ),
}


@pytest.mark.parametrize("key", CASES)
def test_raised_and_not_raised(key):
    bad, good, field, words = CASES[key]
    found = raised(key, *bad())
    assert found and found[0].at.field == field
    assert words in f"{found[0].title} {found[0].text}"
    assert raised(key, *good()) == []


def test_every_rule_of_the_chapter_has_a_case():
    own = {
        "datastore-raid-impossible",
        "datastore-thin-unwatched",
        "placement-not-proved",
    }  # tested below
    modules = ("planner.review.hosts", "planner.review.datastores", "planner.review.capacity")
    assert {
        key for key, rule in base.RULES.items() if rule.__module__ in modules
    } == CASES.keys() | own


@pytest.mark.parametrize(
    ("raid", "disks", "spares"),
    [("5", 2, 0), ("5", 3, 1), ("6", 3, 0), ("10", 2, 0), ("10", 5, 0), ("1", 1, 0)],
)
def test_a_level_that_cannot_be_built(raid, disks, spares):
    """Source: Red Hat, System Design Guide 8, appendix E.3 (fewest disks); pairs: common practice, no source."""
    (found,) = raised("datastore-raid-impossible", store(raid=raid, disks=disks, hot_spares=spares))
    assert found.weight == "stopper" and f"RAID {raid} cannot be built" in found.title


@pytest.mark.parametrize(
    ("raid", "disks", "spares"),
    [("5", 3, 0), ("6", 4, 0), ("10", 4, 0), ("10", 5, 1), ("1", 2, 0), ("0", 1, 0)],
)
def test_a_level_that_can_be_built(raid, disks, spares):
    assert (
        raised("datastore-raid-impossible", store(raid=raid, disks=disks, hot_spares=spares)) == []
    )


def test_thin_disks_that_nobody_watches():
    image = make(f.Image, name="office", disk_gib=80, used_gib=25)
    thin = store(provisioning="thin")
    records = [host(), image, desk(image_id=image.id, reset_rule="kept"), thin]
    (found,) = raised("datastore-thin-unwatched", *records)
    # 3 × 80 + 5 × 80 + 20 promised; 75 + 30 + 20 planned: 322 GiB free at half a GiB a day
    assert "promises 660 GiB and has 447" in found.text and "644 days" in found.text
    watched = f.Service(space_watcher="Noor, every Monday")
    assert raised("datastore-thin-unwatched", *records, watched) == []
    assert raised("datastore-thin-unwatched", *records[:3], store(provisioning="thick")) == []
    small = make(f.Image, name="office", disk_gib=40, used_gib=25)
    assert (
        raised(
            "datastore-thin-unwatched",
            host(),
            small,
            desk(image_id=small.id),
            store(provisioning="thin"),
        )
        == []
    )
    assert raised("datastore-thin-unwatched", *records, purpose="trial") == []


def test_the_mend_sets_the_space_of_others_to_nought():
    (found,) = raised("datastore-others-unknown", store(others_gib=None))
    assert found.mend.values == (("others_gib", "0"),)


def test_what_does_not_fit_is_shown_at_the_template_that_goes_short():
    big, small = desk(name="drawing", memory_gib=30, most=4), desk(memory_gib=0.5, most=3)
    found = raised("desktops-do-not-fit", host(), big, small)
    assert [one.at for one in found] == [Ref("template", big.id, "most")]
    assert "1 of 7 desktops" in found[0].title and "Left out: 1 of drawing." in found[0].text
    assert "offers 30.1 GiB and 2 vCPU" in found[0].text


def test_a_host_down_weighs_nothing_on_a_trial_and_is_told_once():
    records = [host(), host("mill-h2"), host("mill-h3"), desk(most=50)]
    found = findings(*records)["desktops-do-not-fit-without-a-host"]
    assert [one.weight for one in found] == ["concern"]
    assert (
        "6 of 50" in found[0].title
        and "With mill-h2 and mill-h3 down, in turn, some go without too." in found[0].text
    )
    assert "desktops-do-not-fit-without-a-host" not in findings(*records, purpose="trial")


def test_no_second_finding_where_it_does_not_fit_anyway():
    assert (
        raised("desktops-do-not-fit-without-a-host", host(), host("mill-h2"), desk(most=60)) == []
    )


def test_an_answer_that_is_not_proved_is_said_to_be_open(monkeypatch):
    """With the exact solver out of reach and the quick ways hindered, the plan admits what it does not know."""
    from planner.engine.placement.packing import answers

    records = [host(), host("mill-h2"), desk(most=44)]
    assert raised("placement-not-proved", *records) == []
    monkeypatch.setattr(answers.exact, "solve", lambda *args: None)
    monkeypatch.setattr(
        answers,
        "quickly",
        lambda problem, at_least, work: answers.Packed(
            tuple((0,) * len(problem.bins) for _ in problem.classes), problem.total, at_least
        ),
    )
    assert plan_of(*records).placement.fits is None
    (found,) = raised("placement-not-proved", *records)
    assert "with every host there" in found.title
