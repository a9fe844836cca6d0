"""Storage: what lies on a datastore, how full it gets, and what is said when something is not known."""

from __future__ import annotations

import datetime as dt

import pytest

from planner.record import facts as f
from tests.factories import make, plan_of

GIB_480 = 480e9 / 2**30  # 447.03


def host(name="h1", **values):
    return make(
        f.Host, **{"name": name, "memory_gib": 100, "sockets": 1, "cores_per_socket": 9, **values}
    )


def store(**values):
    return make(
        f.Datastore,
        **{
            "name": "d1",
            "sharing": "local",
            "raid": "1",
            "disks": 2,
            "disk_gb": 480,
            "hot_spares": 0,
            "provisioning": "thick",
            "others_gib": 10,
            **values,
        },
    )


def desk(image=None, **values):
    return make(
        f.Template,
        **{
            "name": "office",
            "memory_gib": 4,
            "vcpu": 2,
            "most": 5,
            "growth_gib": 6,
            "image_id": image and image.id,
            **values,
        },
    )


def test_every_part_on_a_thick_datastore():
    h, image = host(), make(f.Image, name="office", disk_gib=40, used_gib=25)
    d = store(host_id=h.id)
    appliance = make(f.Appliance, name="b1", host_id=h.id, memory_gib=8, disk_gib=30)
    use = plan_of(h, d, image, desk(image), appliance).storage.store(d.id)
    # two generations of 40, one of 40 being copied, 5 × 6 growth, swap 5 × 4 + 8, appliance 30, others 10
    assert dict(use.parts) == {
        "images": 80,
        "image being copied": 40,
        "desktops": 30,
        "swap": 28,
        "appliances": 30,
        "others": 10,
    }
    assert use.usable_gib == pytest.approx(GIB_480)
    assert use.planned_gib == use.promised_gib == 218
    assert use.free_share == pytest.approx(1 - 218 / GIB_480)
    assert use.room_gib == pytest.approx(0.8 * GIB_480 - (80 + 40 + 8 + 30 + 10))
    assert use.missing == ()


def test_a_thin_datastore_counts_what_is_used_and_promises_the_rest():
    h, image = host(), make(f.Image, name="office", disk_gib=40, used_gib=25)
    d = store(host_id=h.id, provisioning="thin", others_gib=0)
    use = plan_of(h, d, image, desk(image)).storage.store(d.id)
    assert dict(use.parts) == {"images": 50, "image being copied": 25, "desktops": 30, "swap": 20}
    assert use.promised_gib == 3 * 40 + 5 * 40 + 20
    assert use.days_until_full is None  # 340 GiB promised fit into 447


def test_days_until_full_count_the_growth_of_kept_desktops():
    h, image = host(), make(f.Image, name="office", disk_gib=80, used_gib=25)
    d = store(host_id=h.id, provisioning="thin", others_gib=0)
    kept, reset = desk(image, reset_rule="kept"), desk(image, name="desk", reset_rule="nightly")
    use = plan_of(h, d, image, kept, reset).storage.store(d.id)
    assert use.promised_gib == 3 * 80 + 10 * 80 + 40
    # a tenth of a GiB a day for each of five kept desktops
    assert use.days_until_full == pytest.approx((GIB_480 - use.planned_gib) / 0.5)


def test_kept_desktops_stop_growing_when_their_disks_are_as_large_as_promised():
    """5 kept desktops may grow by 4 GiB each; what fills the datastore on paper is promised to those that are reset."""
    h, image = host(), make(f.Image, name="office", disk_gib=10, used_gib=8)
    d = store(host_id=h.id, provisioning="thin", others_gib=0)
    kept, reset = (
        desk(image, reset_rule="kept"),
        desk(image, name="desk", reset_rule="nightly", most=60),
    )
    use = plan_of(
        h, d, image, kept, reset, f.Assumed(key="desktop.memory-reserved-share", value=1)
    ).storage.store(d.id)
    assert use.promised_gib == 30 + 65 * 10 > use.usable_gib
    assert use.planned_gib == 24 + 65 * 6
    assert use.usable_gib - use.planned_gib > 5 * 4 and use.days_until_full is None


def test_images_are_on_every_host_that_runs_them():
    first, second, spare = host(), host("h2"), host("h3", state="spare")
    image, unused = (
        make(f.Image, name="office", disk_gib=40),
        make(f.Image, name="old", disk_gib=500),
    )
    d = store(sharing="shared")
    use = plan_of(first, second, spare, image, unused, d, desk(image)).storage.store(d.id)
    assert dict(use.parts)["images"] == 2 * 2 * 40
    assert dict(use.parts)["image being copied"] == 2 * 40
    assert use.host_ids == (first.id, second.id)


def test_desktops_live_on_the_hosts_own_largest_datastore_else_on_the_largest_shared_one():
    own, other = host(), host("h2")
    small, large = store(host_id=own.id), store(host_id=own.id, disk_gb=960)
    shared, larger = store(sharing="shared"), store(sharing="shared", disk_gb=2000)
    found = plan_of(own, other, small, large, shared, larger).storage
    assert (found.home(own.id), found.home(other.id)) == (large.id, larger.id)


def test_local_datastores_share_the_desktops_by_the_memory_of_their_hosts():
    # 100 GiB offer 94, 50 GiB offer 46: 9 desktops are 6.04 and 2.96, rounded up
    large, small = host(), host("h2", memory_gib=50)
    first, second = store(host_id=large.id), store(host_id=small.id)
    found = plan_of(large, small, first, second, desk(most=9)).storage
    assert [dict(found.store(d.id).desktops) for d in (first, second)] != [{}, {}]
    assert [sum(dict(found.store(d.id).desktops).values()) for d in (first, second)] == [7, 3]


def test_operations_offered_and_asked():
    h = host()
    d = store(host_id=h.id, raid="10", disks=5, hot_spares=1, disk_operations=150)
    use = plan_of(h, d, desk(most=30)).storage.store(d.id)
    assert use.operations_raw == 600  # the hot spare does no work
    assert use.operations_front == pytest.approx(600 / (0.3 + 0.7 * 2))
    assert use.operations_asked == 300


@pytest.mark.parametrize(
    ("values", "named"),
    [
        ({"others_gib": None}, "d1: space others use"),
        ({"raid": "5"}, "d1: RAID level"),
        ({"disk_gb": None}, "d1: RAID level"),
    ],
)
def test_what_is_missing_on_the_datastore_is_named(values, named):
    h = host()
    d = store(host_id=h.id, **values)
    use = plan_of(h, d, desk()).storage.store(d.id)
    assert use.free_share is None and use.room_gib is None
    assert any(line.startswith(named) for line in use.missing)


@pytest.mark.parametrize(
    ("image", "template", "named"),
    [
        ({"disk_gib": None}, {}, "office image: disk"),
        ({}, {"growth_gib": None}, "office: growth"),
        ({}, {"memory_gib": None}, "office: memory"),
        ({}, {"most": None}, "office: most"),
    ],
)
def test_what_is_missing_elsewhere_is_named(image, template, named):
    h, i = host(), make(f.Image, **{"name": "office image", "disk_gib": 40, **image})
    d = store(host_id=h.id)
    use = plan_of(h, d, i, desk(i, **template)).storage.store(d.id)
    assert use.planned_gib is None and use.promised_gib is None
    assert named in use.missing


def test_an_appliance_that_lives_nowhere_is_named():
    plan = plan_of(host(), make(f.Appliance, name="b1", memory_gib=8, disk_gib=30))
    assert plan.storage.missing == ("b1: host or datastore",)


def test_assumptions_set_for_the_site_are_used():
    h, image = host(), make(f.Image, name="office", disk_gib=40)
    d = store(host_id=h.id, others_gib=0)
    own = (
        f.Assumed(key="image.generations-kept", value=1),
        f.Assumed(key="desktop.memory-reserved-share", value=1),
        f.Assumed(key="storage.free-share", value=0.5),
    )
    use = plan_of(h, d, image, desk(image), *own).storage.store(d.id)
    assert dict(use.parts) == {"images": 40, "image being copied": 40, "desktops": 30}
    assert use.room_gib == pytest.approx(GIB_480 / 2 - 80)


def test_an_empty_site_and_an_absurd_one():
    assert plan_of().storage.stores == ()
    h = host(memory_gib=float("inf"), sockets=10**9, cores_per_socket=10**9)
    d = store(host_id=h.id, disks=10**30, hot_spares=-1, disk_gb=float("nan"), others_gib=-5)
    use = plan_of(
        h, d, desk(most=10**20, memory_gib=1e300, growth_gib=float("inf")), today=dt.date.max
    ).storage.store(d.id)
    assert use.planned_gib is None and use.usable_gib is None
