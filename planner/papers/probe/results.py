"""Results: reads the file that a run left behind. Whoever carried it may have changed it, so nothing in it is
taken for more than words: sizes, types and codes are checked, texts are kept as texts."""

from __future__ import annotations

import datetime as dt
import json
import re
import typing
from dataclasses import dataclass

from planner.engine.addresses import ipv4
from planner.papers.configs.words import one_line
from planner.papers.probe.tasks import MOST_TASKS, Probe
from planner.plan import Plan
from planner.record.choices import Choice
from planner.record.facts import Id

FORMAT = "deskwright probe results 1"
MOST_BYTES = 2 * 1024 * 1024
OLD_DAYS = 14
_CODE = re.compile(r"[0-9A-HJKMNP-TV-Z]{4}-[0-9A-HJKMNP-TV-Z]{4}")
_ID = re.compile(r"[0-9a-f]{12}")
_MOMENT = re.compile(r"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z")


class Unreadable(ValueError):
    """This file is not what it should be, or of another site; the message says which and what to do."""


class SeenState(Choice):
    OK = "ok"
    FAILED = "failed"
    UNTOLD = "could not tell"


@dataclass(frozen=True, slots=True)
class Seen:
    """What came back to one question; ``value`` is a value read, or ""."""

    state: SeenState
    seen: str
    value: str = ""


@dataclass(frozen=True, slots=True)
class Run:
    """One run of the script. ``seen`` is by task, of those the plan still asks; ``unknown`` counts the others.

    ``inside`` says whether the machine's address lay in the network it was to stand in.
    """

    network_id: Id
    network_name: str
    fingerprint: str
    began: dt.datetime
    ended: dt.datetime
    address: str
    inside: bool
    seen: dict[str, Seen]
    unknown: int
    warnings: tuple[str, ...] = ()

    @property
    def told(self) -> str:
        """Where, when and on what plan: the head of its evidence."""
        return (
            f"Probe from {self.network_name} ({self.address}), {self.ended:%Y-%m-%d %H:%M} UTC by its own clock, "
            f"plan {self.fingerprint}"
        )

    def kept(self, probe: Probe) -> bytes:
        """What was read of the file, and nothing else of it, to be kept beside the answers."""
        results = [
            {"asked": probe.by_id[id].words, "state": one.state, "seen": one.seen}
            for id, one in self.seen.items()
        ]
        head = {
            "network": self.network_name,
            "address": self.address,
            "plan": self.fingerprint,
            "began": self.began.isoformat(),
            "ended": self.ended.isoformat(),
        }
        text = json.dumps({**head, "results": results}, ensure_ascii=True, indent=1)
        return text.replace("<", "\\u003c").encode()


def read_run(content: bytes, plan: Plan, probe: Probe) -> Run:
    """One results file, held against the plan. Raises :class:`Unreadable`."""
    values = _parsed(content)
    if values.get("format") != FORMAT:
        raise Unreadable(
            "This is no results file of the probe, or one of another edition: choose the file it wrote."
        )
    customer, site = _text(values, "customer", 80), _text(values, "site", 80)
    facts = plan.facts
    if (customer, site) != (facts.customer_code, facts.site.code):
        raise Unreadable(
            f"These are results of another site ({customer}/{site}): bring them in there."
        )
    network_id = values.get("network")
    if (
        not isinstance(network_id, int)
        or isinstance(network_id, bool)
        or network_id not in probe.places
    ):
        raise Unreadable(
            "The network these results were taken from is not in the plan any more, or has no subnet now."
        )
    fingerprint = _text(values, "fingerprint", 9)
    if not _CODE.fullmatch(fingerprint):
        raise Unreadable("The fingerprint in this file is no fingerprint.")
    address, place = _address(values), probe.places[network_id]
    seen, unknown = _seen(values, network_id, probe)
    run = Run(
        network_id=network_id,
        network_name=one_line(place.network.label, 80),
        fingerprint=fingerprint,
        began=_moment(values, "began"),
        ended=_moment(values, "ended"),
        address=address,
        inside=place.holds(ipv4.parse(address)),
        seen=seen,
        unknown=unknown,
    )
    return _warned(run, plan, place.network.cidr)


def _parsed(content: bytes) -> dict[str, typing.Any]:
    if len(content) > MOST_BYTES:
        raise Unreadable(
            "This file is larger than any results file: choose the file the probe wrote."
        )
    try:
        text = content.decode("utf-8")
        values = json.loads(text, object_pairs_hook=_once, parse_constant=_refuse)
    except (UnicodeDecodeError, ValueError, RecursionError):
        raise Unreadable(
            "This file cannot be read as results of the probe: choose the file it wrote."
        ) from None
    if not isinstance(values, dict):
        raise Unreadable(
            "This file cannot be read as results of the probe: choose the file it wrote."
        )
    return values


def _once(pairs: list[tuple[str, typing.Any]]) -> dict[str, typing.Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        raise ValueError("a name stands twice")
    return found


def _refuse(word: str) -> typing.NoReturn:
    raise ValueError(word)


def _text(values: dict[str, typing.Any], name: str, most: int) -> str:
    found = values.get(name)
    if not isinstance(found, str) or len(found) > most:
        raise Unreadable(f"“{name}” is missing in this file, or is not what it should be.")
    return found


def _moment(values: dict[str, typing.Any], name: str) -> dt.datetime:
    text = _text(values, name, 20)
    try:
        if not _MOMENT.fullmatch(text):
            raise ValueError
        return dt.datetime.fromisoformat(text)
    except ValueError:
        raise Unreadable(f"“{name}” in this file is no time.") from None


def _address(values: dict[str, typing.Any]) -> str:
    machine = values.get("machine")
    if isinstance(machine, dict):
        address = machine.get("address")
    else:
        address = None
    if not isinstance(address, str) or ipv4.parse(address) is None:
        raise Unreadable("The address of the machine that asked is missing in this file.")
    return address


def _seen(
    values: dict[str, typing.Any], network_id: Id, probe: Probe
) -> tuple[dict[str, Seen], int]:
    results = values.get("results")
    if not isinstance(results, list) or len(results) > 2 * MOST_TASKS:
        raise Unreadable("The list of results is missing in this file, or is too long.")
    found: dict[str, Seen] = {}
    ids: set[str] = set()
    for one in results:
        if not isinstance(one, dict):
            raise Unreadable("A result in this file is not what it should be.")
        id, state = _text(one, "id", 12), _text(one, "state", 20)
        seen, value = _text(one, "seen", 2000), _text(one, "value", 200) if "value" in one else ""
        if not _ID.fullmatch(id) or not SeenState.holds(state) or id in ids:
            raise Unreadable("A result in this file is not what it should be.")
        ids.add(id)
        task = probe.by_id.get(id)
        if task is not None and task.network_id == network_id:
            found[id] = Seen(SeenState(state), one_line(seen, 320), one_line(value, 100))
    return found, len(ids) - len(found)


def _warned(run: Run, plan: Plan, subnet: str) -> Run:
    """The run with what a person should know before taking it."""
    found = []
    if not run.inside:
        found.append(
            f"{run.address} is not in {run.network_name}, {subnet}: nothing in this file counts. "
            "Run it again from there."
        )
    if run.fingerprint != plan.fingerprint:
        found.append(
            f"The plan has moved since this was taken ({run.fingerprint}, now {plan.fingerprint}): "
            "only questions that are still the same count."
        )
    if run.unknown:
        found.append(
            f"{run.unknown} of its results answer questions the plan does not ask now; they are passed over."
        )
    age = (plan.facts.today - run.ended.date()).days
    if age > OLD_DAYS:
        found.append(f"It was taken {age} days ago, by its own clock.")
    elif age < -1:
        found.append(
            "By its own clock it was taken in the future: that machine's clock is wrong, or was then."
        )
    if run.ended < run.began:
        found.append("By its own clock it ended before it began: that clock was set meanwhile.")
    return Run(
        **{name: getattr(run, name) for name in Run.__slots__ if name != "warnings"},
        warnings=tuple(found),
    )
