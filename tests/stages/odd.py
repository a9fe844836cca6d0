"""Facts as odd as they come, for tests that nothing is ever raised: any field unknown, absurd or dangling."""

from __future__ import annotations

import dataclasses
import datetime as dt
import types
import typing

from hypothesis import strategies as st

from planner.record import facts as f

TEXTS = st.one_of(
    st.sampled_from(
        [
            "",
            "{",
            "}",
            "{}",
            "{host.name}",
            "{0}",
            "{x!r:>9}",
            "{{a}}",
            "%s",
            "domain",
            "own-accounts",
            "to-buy",
            "thin",
            "own",
            "issued",
            "key-server",
            "trust",
            "proven",
            "live",
            "host-1@x",
            "10.0.0.0/8",
            "a\nb",
        ]
    ),
    st.text(max_size=12),
)
IDS = st.integers(1, 3)
WHOLE = st.sampled_from([0, 1, 2, 7, -1, 25, 4095, 100_000, 10**15])
REAL = st.sampled_from([0.0, 0.5, 23.0, 1e300, -1.0, float("inf"), float("nan")])
MOMENTS = st.sampled_from(
    [dt.datetime(2026, 3, 1, 9), dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC), dt.datetime.max]
)
CHOICES = {
    "purpose": ["trial", "live"],
    "state": ["", "existing", "to-buy", "spare", "open", "proven", "trust", "excused", "failed"],
    "directory_kind": ["", "domain", "own-accounts"],
    "reset_rule": ["", "kept", "sign-out", "nightly", "weekly"],
    "dhcp": ["", "none", "range"],
    "certificate": ["", "own", "issued"],
    "outside_access": ["", "none", "vpn", "gateway"],
}


def _values(hint, name: str):
    if name in CHOICES:
        return st.sampled_from(CHOICES[name])
    if name == "id" or name.endswith("_id"):
        return st.one_of(st.none(), IDS) if name != "id" else IDS
    if typing.get_origin(hint) in (typing.Union, types.UnionType):
        inner = next(arg for arg in typing.get_args(hint) if arg is not type(None))
        return st.one_of(st.none(), _values(inner, name))
    if typing.get_origin(hint) is tuple:
        return st.lists(_values(typing.get_args(hint)[0], ""), max_size=2).map(tuple)
    simple = {
        str: TEXTS,
        int: WHOLE,
        float: REAL,
        bool: st.booleans(),
        dt.datetime: MOMENTS,
        dt.date: st.sampled_from(
            [dt.date.min, dt.date(2026, 3, 1), dt.date(2026, 3, 9), dt.date.max]
        ),
        dt.time: st.sampled_from([dt.time(0), dt.time(7, 30), dt.time(17)]),
    }
    return simple[hint]


def record(cls):
    hints = typing.get_type_hints(cls)
    names = [one.name for one in dataclasses.fields(cls)]
    return st.fixed_dictionaries({name: _values(hints[name], name) for name in names}).map(
        lambda values: cls(**values)
    )


def _answers(keys: list[str]):
    check = st.one_of(st.sampled_from(keys), TEXTS)
    return st.lists(
        st.builds(
            f.Answer,
            check=check,
            state=st.sampled_from(CHOICES["state"]),
            proof=TEXTS,
            at=st.one_of(st.none(), MOMENTS),
            reopened=st.booleans(),
            value=st.one_of(st.none(), TEXTS),
        ),
        max_size=8,
    ).map(tuple)


def facts(keys: list[str]):
    """Whole facts; ``keys`` are checks that some answers and signatures name."""
    lists = {
        "contacts": f.Contact,
        "networks": f.Network,
        "hosts": f.Host,
        "datastores": f.Datastore,
        "servers": f.Server,
        "appliances": f.Appliance,
        "protocols": f.Protocol,
        "credentials": f.Credential,
        "images": f.Image,
        "applications": f.Application,
        "templates": f.Template,
        "seat_groups": f.SeatGroup,
        "own_checks": f.OwnCheck,
    }
    signature = st.builds(
        f.Signature,
        stage=st.integers(-1, 10),
        by=TEXTS,
        at=MOMENTS,
        checks=st.lists(st.sampled_from(keys), max_size=9).map(tuple),
    )
    return st.builds(
        f.SiteFacts,
        today=st.sampled_from([dt.date(2026, 3, 2), dt.date.min, dt.date.max]),
        site=record(f.Site),
        directory=record(f.Directory),
        service=record(f.Service),
        answers=_answers(keys),
        signatures=st.lists(signature, max_size=4).map(tuple),
        **{name: st.lists(record(cls), max_size=3).map(tuple) for name, cls in lists.items()},
    )
