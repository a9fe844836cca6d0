"""Small records for tests of recovery, and facts at random: sane enough to be reckoned with, or anything at all."""

from __future__ import annotations

import dataclasses
import math

from hypothesis import strategies as st

from planner.catalogue.assumptions import listed
from planner.record import facts as f
from tests.factories import make
from tests.stages.odd import facts as odd_facts
from tests.stages.odd import record


def network(**values):
    return make(f.Network, **{"name": "management", "link_mbit_s": 1000, "mtu": 1500, **values})


def host(on=None, name="h1", **values):
    own = {
        "name": name,
        "memory_gib": 100,
        "sockets": 1,
        "cores_per_socket": 9,
        "network_id": on and on.id,
    }
    return make(f.Host, **{**own, **values})


def disks(of=None, **values):
    own = {
        "name": "d1",
        "sharing": "local" if of else "shared",
        "host_id": of and of.id,
        "raid": "1",
        "disks": 2,
        "disk_gb": 4000,
        "hot_spares": 0,
        "provisioning": "thick",
        "others_gib": 0,
    }
    return make(f.Datastore, **{**own, **values})


def desk(**values):
    return make(
        f.Template, **{"name": "office", "memory_gib": 4, "vcpu": 2, "growth_gib": 6, **values}
    )


def image(**values):
    return make(f.Image, **{"name": "office", "disk_gib": 80, "used_gib": 40, **values})


def appliance(on=None, name="b1", **values):
    return make(f.Appliance, name=name, host_id=on and on.id, memory_gib=4, disk_gib=30, **values)


def number(key, value):
    return f.Assumed(key=key, value=value)


# -- at random --------------------------------------------------------------------------------------

ABSURD = st.sampled_from([0.0, -1.0, 1e-9, 0.5, 1e9, 1e300, math.inf, math.nan])
OWN = st.builds(
    f.Assumed,
    key=st.sampled_from([k for k in listed() if k.split(".")[0] in ("line", "recovery")]),
    value=ABSURD,
)
STARTS = st.builds(
    f.Assumed,
    key=st.sampled_from(
        [
            "host.start-seconds",
            "appliance.start-seconds",
            "desktop.start-operations",
            "desktop.start-write-share",
            "host.down-noticed-seconds",
            "desktop.build-seconds",
            "host.builds-at-once",
            "host.build-slowdown",
            "desktop.start-seconds",
            "host.starts-at-once",
            "stages.wait-likely",
            "stages.wait-longest",
        ]
    ),
    value=ABSURD,
)
HOSTS = st.builds(
    dataclasses.replace,
    record(f.Host),
    id=st.integers(1, 4),
    sockets=st.integers(1, 2),
    cores_per_socket=st.sampled_from([4, 8, 10**6]),
    memory_gib=st.sampled_from([3.0, 64.0, 256.0]),
    network_id=st.sampled_from([None, 1, 1, 2, 3]),
)
DESKS = st.builds(
    dataclasses.replace,
    record(f.Template),
    memory_gib=st.sampled_from([4.0, 6.0]),
    vcpu=st.sampled_from([1, 2]),
    most=st.sampled_from([0, 1, 9, 40, 10**6]),
)
BROKERS = st.builds(dataclasses.replace, record(f.Appliance), memory_gib=st.just(4.0))
NETS = st.builds(
    dataclasses.replace,
    record(f.Network),
    link_mbit_s=st.sampled_from([None, 1e-9, 1000.0, 1e300]),
    mtu=st.sampled_from([None, 0, 1500, 9000]),
    purpose=st.sampled_from(["", "management", "storage"]),
)
STORES = st.builds(
    dataclasses.replace,
    record(f.Datastore),
    raid=st.sampled_from(["0", "1", "5", "x"]),
    disks=st.sampled_from([2, 4]),
    hot_spares=st.sampled_from([None, 0]),
    disk_operations=st.sampled_from([None, 1e-9, 100.0, 1e300]),
    throughput_mb_s=st.sampled_from([None, 1e-9, 200.0]),
    sharing=st.sampled_from(["", "local", "shared"]),
    disk_gb=st.just(960.0),
)
IMAGES = st.builds(
    dataclasses.replace, record(f.Image), used_gib=st.sampled_from([None, 40.0, math.inf])
)
SIZED = {
    "hosts": st.lists(HOSTS, min_size=1, max_size=4, unique_by=lambda one: one.id),
    "templates": st.lists(DESKS, min_size=1, max_size=3, unique_by=lambda one: one.id),
    "appliances": st.lists(BROKERS, min_size=1, max_size=3),
    "networks": st.lists(NETS, max_size=3, unique_by=lambda one: one.id),
    "datastores": st.lists(STORES, max_size=3),
    "images": st.lists(IMAGES, max_size=3),
}
ODD = {
    "hosts": st.lists(record(f.Host), max_size=4),
    "templates": st.lists(record(f.Template), max_size=3),
    "appliances": st.lists(record(f.Appliance), max_size=3),
}


def with_(parts):
    return st.builds(
        lambda odd, own, **lists: dataclasses.replace(
            odd, assumed=tuple(own), **{name: tuple(values) for name, values in lists.items()}
        ),
        odd_facts(["host-reachable@host-1"]),
        st.lists(OWN | STARTS, max_size=3),
        **parts,
    )
