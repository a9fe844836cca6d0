"""Asking: one function for each kind of question. Each gives a state, what was seen, and sometimes a value read."""

from __future__ import annotations

import collections.abc
import concurrent.futures
import ipaddress
import socket
import threading
import time
import typing

from planner.papers.probe.script.certificate import (
    EXPIRED,
    NOT_YET,
    SELF_SIGNED,
    certificate_at,
    certificate_covers,
)
from planner.papers.probe.script.clock import Clock, clock_ask
from planner.papers.probe.script.leases import ask_for_offers
from planner.papers.probe.script.line import Line, is_inside
from planner.papers.probe.script.names import DNS_CODES, Answers, dns_ask, plain_name, reverse_name
from planner.papers.probe.script.reach import (
    COMMON_PORTS,
    OPEN,
    REFUSED,
    anybody,
    knock,
    neighbour,
    own_address_towards,
    ping,
)
from planner.papers.probe.script.words import FAILED, OK, UNTOLD, NoAnswer, clean, several, why_of

NOTHING_CAME = "nothing came back"  # neither yes nor no yet: judge() says what it means
STALE = 9.0  # seconds in which a neighbour entry of a machine that has left gives way
SYSTEM_PATIENCE = 12.0
Learnt = typing.TypeVar("Learnt")


class Question(typing.TypedDict):
    """What every question has."""

    id: str
    kind: str
    words: str


class Task(Question, total=False):
    """A question with what its kind needs beside it."""

    what: str
    whom: str
    target: str
    machine: str
    everybody: bool
    port: int
    transport: str
    name: str
    address: str
    expect: list[str]
    subnet: str
    first: str
    last: str
    servers: list[str]
    leased: bool
    holder: str
    mac: str
    there: bool
    connect: bool
    machines: list[list[str]]
    allowed: float
    expires: str
    own: bool


if typing.TYPE_CHECKING:
    Seen = tuple[str, str, str]  # a state, what was seen in words, the value read
    Found = tuple[str, str] | Seen


class Silence(Exception):
    """Nothing came back from a machine; whether that means anything depends on whether it answers otherwise."""


class Standing:
    """Where this machine stands, what it was told, and what it has learnt on the way."""

    def __init__(
        self,
        line: Line,
        patience: float = 3.0,
        machines: dict[str, str] | None = None,
        may_ask_dhcp: bool = False,
    ) -> None:
        self.line = line
        self.patience = patience
        self.machines = machines or {}
        self.may_ask_dhcp = may_ask_dhcp
        self._alive: dict[str, str] = {}
        self._looked: dict[str, concurrent.futures.Future[str]] = {}
        self._clocks: dict[str, concurrent.futures.Future[Clock | NoAnswer]] = {}
        self._lock = threading.Lock()

    def answered(self, target: str) -> None:
        """Notes that a machine answered something."""
        with self._lock:
            self._alive[target] = "answered another question"

    def how_alive(self, target: str) -> str:
        """How a machine shows that it is there, in words; "" when it does not."""
        return self._alive.get(target) or self._once(
            self._looked, target, lambda: anybody(target, min(2.0, self.patience))
        )

    def clock_of(self, target: str) -> Clock | NoAnswer:
        """A server's clock: a :class:`Clock` or a :class:`NoAnswer`."""
        return self._once(self._clocks, target, lambda: _clock_or_why(target, self.patience))

    def _once(
        self,
        kept: dict[str, concurrent.futures.Future[Learnt]],
        target: str,
        look: collections.abc.Callable[[], Learnt],
    ) -> Learnt:
        """What is asked of a machine once, however many questions want to know; the others wait for it."""
        with self._lock:
            mine = target not in kept
            if mine:
                kept[target] = concurrent.futures.Future()
            learnt = kept[target]
        if mine:
            try:
                learnt.set_result(look())
            except BaseException as error:  # those who wait must hear of it, whatever it is
                learnt.set_exception(error)
        return learnt.result()


def _clock_or_why(target: str, patience: float) -> Clock | NoAnswer:
    try:
        return clock_ask(target, patience)
    except NoAnswer as error:
        return error


def ask(task: Task, here: Standing) -> Seen:
    """Asks one question. The state, what was seen in words, and the value read where there is one ("" for none).

    Where nothing came back the state is NOTHING_CAME, and :func:`judge` has to say what that means. Whatever happens,
    nothing is raised.
    """
    state, seen, *value = _asked(task, here)
    return state, clean(seen), clean(value[0], 100) if value else ""


def _asked(task: Task, here: Standing) -> Found:
    try:
        target = task.get("target", "")
        if target and not _by_this_line(target, here):
            way = own_address_towards(target)
            return UNTOLD, "this machine would reach {} by another line ({}), not from here".format(
                target, way or "none"
            )
        found = QUESTIONS[task["kind"]](task, here)
        if target and found[0] == OK and task["kind"] != "free":  # there, nobody is what is wanted
            here.answered(target)
        return found
    except Silence as error:
        return NOTHING_CAME, str(error)
    except NoAnswer as error:
        return UNTOLD, str(error)
    except Exception as error:  # one question that goes wrong must not lose the others
        return UNTOLD, f"the script could not ask this: {type(error).__name__}: {error}"


def _by_this_line(target: str, here: Standing) -> bool:
    return own_address_towards(target) == here.line.address or target == here.line.address


def judge(task: Task, here: Standing, seen: str) -> Seen:
    """A silence means something only where the machine answers otherwise and everybody here is to be let through."""
    target = task["target"]
    try:
        how = here.how_alive(target)
    except Exception as error:  # as above
        return UNTOLD, clean(f"{seen}, and the script could not look further: {error}"), ""
    if not how:
        why = f"and nobody answers at {target} at all: not there yet, switched off, or shut off from here"
        return UNTOLD, clean(f"{seen}, {why}"), ""
    if not task.get("everybody", True):
        why = "but a firewall may let only the right machine through: try it from there"
        return UNTOLD, clean(f"{seen}; the machine {how}, {why}"), ""
    return FAILED, clean(f"{seen}, though the machine {how}: shut on the way or at the machine"), ""


# -- this machine's own line ---------------------------------------------------------------------


def _own_line(task: Task, here: Standing) -> Found:
    planned, line = ipaddress.ip_network(task["subnet"]), here.line
    if line.prefix is None:
        return UNTOLD, f"this machine has {line.address} there; its mask could not be read"
    if line.prefix == planned.prefixlen:
        state = OK
    else:
        state = FAILED
    return state, f"this machine has {line.words}; planned is /{planned.prefixlen}"


def _lease(task: Task, here: Standing) -> Found:
    line = here.line
    said = f"this machine has {line.words}"
    if line.seconds:
        said += f", for {_length(line.seconds)}"
    if not line.leased:
        return UNTOLD, said + ", and its system does not say that this came by DHCP"
    if not _between(line.address, task["first"], task["last"]):
        return FAILED, said + ", outside {} to {}".format(task["first"], task["last"])
    if line.server and task["servers"] and line.server not in task["servers"]:
        return FAILED, said + "; planned is {}".format(several(task["servers"]))
    return OK, said + ", inside {} to {}".format(task["first"], task["last"]), line.address


def _offer(task: Task, here: Standing) -> Found:
    if not here.may_ask_dhcp:
        return UNTOLD, "was not asked for: start the script with --ask-dhcp, as an administrator"
    try:
        offers = ask_for_offers(
            here.line.address, here.line.device, here.line.mac, max(4.0, 2 * here.patience)
        )
    except OSError as error:
        return (
            UNTOLD,
            f"the system does not let this be asked ({why_of(error)}): start the script as an administrator",
        )
    if not offers:
        return FAILED, "no server offered an address"
    servers = sorted({offer.server or "unnamed" for offer in offers})
    said = several(
        "{} offered {}, names at {}, for {}".format(
            one.server or "somebody", one.address, several(one.names), _length(one.seconds)
        )
        for one in offers
    )
    strangers = [one for one in servers if one not in task["servers"]]
    if len(servers) > 1 and strangers:
        return FAILED, f"{len(servers)} servers answer: {said}"
    if task["servers"] and strangers:
        return FAILED, "{}; planned is {}".format(said, several(task["servers"]))
    inside = all(_between(one.address, task["first"], task["last"]) for one in offers)
    planned = "; planned are {} to {}".format(task["first"], task["last"])
    return (OK if inside else FAILED), said + planned, f"{offers[0].address} from {servers[0]}"


def _own_names(task: Task, here: Standing) -> Found:
    line = here.line
    used = [name for name in line.names if ":" not in name]
    said = f"this machine asks {several(used)}"
    if not used:
        return UNTOLD, "the DNS servers this machine uses could not be read"
    if task["leased"] and not line.leased:
        return UNTOLD, said + ", but its line did not come by DHCP as far as its system says"
    if set(used) <= set(task["expect"]):
        state = OK
    else:
        state = FAILED
    return state, said + "; planned are {}".format(several(task["expect"]))


def _length(seconds: int | None) -> str:
    for size, word in ((86400, "days"), (3600, "h"), (60, "min")):
        if seconds and seconds >= size:
            count = round(seconds / size, 2)
            return f"{count:g} {'day' if count == 1 and word == 'days' else word}"
    if seconds:
        return f"{seconds} s"
    return "a time not said"


def _between(address: str, first: str, last: str) -> bool:
    lowest, here, highest = (ipaddress.IPv4Address(text) for text in (first, address, last))
    return lowest <= here <= highest


# -- addresses -----------------------------------------------------------------------------------


def _answers(task: Task, here: Standing) -> Found:
    how = anybody(task["target"], min(2.0, here.patience))
    if how:
        return (OK, "{} {}".format(task["target"], how))
    return (FAILED, "nobody answers at {}".format(task["target"]))


def _free(task: Task, here: Standing) -> Found:
    target, line = task["target"], here.line
    if target == line.address:
        return UNTOLD, f"this machine itself has {target}: give it another one and ask again"
    if line.prefix is None or not is_inside(
        target, ipaddress.ip_interface(f"{line.address}/{line.prefix}").network
    ):
        return (
            UNTOLD,
            f"{target} is not on this machine's own subnet, so a silent machine cannot be told from none",
        )
    how = anybody(target, min(2.0, here.patience))
    if how.startswith("hardware"):
        time.sleep(STALE)
        how = anybody(target, min(2.0, here.patience))
    there = neighbour(target)
    if not how:
        if there is None:
            return (
                UNTOLD,
                "no ping, no TCP, but the neighbour table could not be read: a machine may keep silent",
            )
        ports = ", ".join(str(port) for port in COMMON_PORTS)
        return (
            OK,
            f"nobody answered: no ping, no TCP on {ports}, no neighbour entry (one switched off looks the same)",
        )
    seen = "{} {}{}".format(target, how, f", hardware address {there}" if there else "")
    if task["mac"] and there:
        if there == task["mac"]:
            return OK, "{}: that is {} itself".format(seen, task["holder"])
        return FAILED, "{}, which is not that of {} ({})".format(seen, task["holder"], task["mac"])
    if task["there"]:
        return UNTOLD, "{}: see whether it is {} itself".format(seen, task["holder"])
    return FAILED, "{}: taken, unless that is {} itself".format(seen, task["holder"])


# -- names ---------------------------------------------------------------------------------------


def _said_by(server: str, name: str, kind: str, here: Standing) -> Answers:
    """What a server says of a name. Silence is raised; any other way of not saying it is a ``NoAnswer``."""
    try:
        found = dns_ask(server, name, kind, here.patience)
    except NoAnswer as error:
        if error.silent:
            raise Silence(str(error)) from None
        raise
    if found.code:
        raise NoAnswer(
            DNS_CODES.get(found.code, f"the server said no ({found.code})"), refused=True
        )
    return found


def _name(task: Task, here: Standing) -> Found:
    wanted = set(task["expect"])
    try:
        if task["target"]:
            found = set(_said_by(task["target"], task["name"], "A", here).of(task["name"], "A"))
        else:
            found = _by_system(task["name"])
    except NoAnswer as error:
        if error.refused:
            return (FAILED, str(error))
        return (UNTOLD, str(error))
    if found == wanted:
        return OK, f"gives {several(sorted(found))}"
    return FAILED, f"gives {several(sorted(found))}; planned is {several(sorted(wanted))}"


def _by_system(name: str) -> set[str]:
    """The IPv4 addresses the machine's own system finds. It may take its time, so it is not waited for for ever."""
    found: list[set[str] | Exception] = []

    def look() -> None:
        try:
            entries = socket.getaddrinfo(name, None, socket.AF_INET, socket.SOCK_STREAM)
            found.append({str(entry[4][0]) for entry in entries})
        except (OSError, UnicodeError) as error:
            found.append(error)

    thread = threading.Thread(target=look, daemon=True)
    thread.start()
    thread.join(SYSTEM_PATIENCE)
    if not found:
        raise NoAnswer(f"this machine's own look-up took more than {SYSTEM_PATIENCE:g} s")
    if isinstance(found[0], Exception):
        never = getattr(found[0], "errno", None) not in (socket.EAI_AGAIN, socket.EAI_FAIL)
        raise NoAnswer(f"this machine finds no address for it ({why_of(found[0])})", refused=never)
    return found[0]


def _back(task: Task, here: Standing) -> Found:
    wanted = {plain_name(name) for name in task["expect"]}
    name = reverse_name(task["address"])
    try:
        found = set(_said_by(task["target"], name, "PTR", here).of(name, "PTR"))
    except NoAnswer as error:
        return FAILED, str(error)
    if wanted & found:
        state = OK
    else:
        state = FAILED
    return state, "gives {}{}".format(
        several(sorted(found)), "" if state == OK else "; planned is " + several(wanted)
    )


def _service_record(task: Task, here: Standing) -> Found:
    name = task["name"]
    try:
        found = _said_by(task["target"], name, "SRV", here).of(name, "SRV")
    except NoAnswer as error:
        return FAILED, str(error)
    named = sorted({(host, port) for _, _, port, host in filter(None, found)})
    said = "names {}".format(several(f"{host} port {port}" for host, port in named))
    lacking = {plain_name(one) for one in task["expect"]} - {host for host, _ in named}
    if not named or lacking:
        return FAILED, said + (f"; {several(sorted(lacking))} is missing" if lacking else "")
    if not task["connect"]:
        return OK, said
    tried = [_connects(task["target"], host, port, here) for host, port in named[:4]]
    if all(one[0] for one in tried):
        state = OK
    elif any(one[1] for one in tried):
        state = FAILED
    else:
        state = UNTOLD
    return state, f"{said}; {several(one[2] for one in tried)}"


def _connects(server: str, host: str, port: int, here: Standing) -> tuple[bool, bool, str]:
    """Whether a machine of that name accepts on a port, whether that it does not means anything, and words."""
    try:
        addresses = _said_by(server, host, "A", here).of(host, "A")
    except NoAnswer as error:
        return False, True, f"{host}: {error}"
    for address in addresses[:2]:
        word, seen = knock(address, port, here.patience)
        if word != OPEN:
            return False, word == REFUSED, f"{address} TCP {port}: {seen}"
    return (
        bool(addresses),
        not addresses,
        "{} TCP {} {}".format(several(addresses), port, "open" if addresses else ""),
    )


# -- flows ---------------------------------------------------------------------------------------


def _tcp(task: Task, here: Standing) -> Found:
    target = task.get("target") or here.machines.get(task["machine"], "")
    if not target:
        return UNTOLD, "no running copy was named: start the script with --at NAME=ADDRESS"
    word, seen = knock(target, task["port"], here.patience)
    if word == OPEN:
        return OK, seen
    if word == REFUSED:
        here.answered(target)
        return (
            UNTOLD,
            "refused: nothing listens there yet, or a firewall says no in the machine's name",
        )
    if not task.get("target"):
        return FAILED, f"{target}: {seen}"
    raise Silence(seen)


def _names_flow(task: Task, here: Standing) -> Found:
    try:
        found = dns_ask(task["target"], task["name"], "SOA", here.patience, task["transport"])
    except NoAnswer as error:
        if error.silent:
            raise Silence(str(error)) from None
        return UNTOLD, str(error)
    return OK, "a question was answered{}".format(
        "" if not found.code else ", with a no: " + DNS_CODES.get(found.code, "")
    )


def _time_flow(task: Task, here: Standing) -> Found:
    found = here.clock_of(task["target"])
    if not isinstance(found, NoAnswer):
        return OK, f"the time was told, {found.offset:+.1f} s against this machine's clock"
    if found.silent:
        raise Silence(str(found))
    return UNTOLD, str(found)


def _ping_flow(task: Task, here: Standing) -> Found:
    answered = ping(task["target"], min(2.0, here.patience))
    if answered is None:
        return UNTOLD, "this machine has no means to ping"
    if answered:
        return OK, "answers a ping"
    raise Silence("no answer to a ping")


# -- clocks and certificates ---------------------------------------------------------------------


def _clocks(task: Task, here: Standing) -> Found:
    """How far several clocks lie apart. Ours may be wrong: only the differences between theirs are judged."""
    askers = [
        threading.Thread(target=here.clock_of, args=(one[1],), daemon=True)
        for one in task["machines"]
    ]
    for asker in askers:
        asker.start()
    told, silent = [], []
    for label, target in task["machines"]:
        found = here.clock_of(target)
        if isinstance(found, NoAnswer):
            silent.append(label)
        else:
            told.append((found.offset, found.delay / 2, label))
    told.sort()
    said = "against this machine's clock " + several(
        (f"{label} {offset:+.1f} s" for offset, _, label in told), 20
    )
    if silent:
        said += f"; not told by {several(silent, 20)}"
    if len(told) < 2:
        return (
            UNTOLD,
            said + "; two at least are needed"
            if told
            else f"no clock was told by {several(silent, 20)}",
        )
    spread, slack = told[-1][0] - told[0][0], told[-1][1] + told[0][1]
    said = "{:.1f} s between {} and {} (± {:.1f} s), {:g} s allowed: {}".format(
        spread, told[0][2], told[-1][2], slack, task["allowed"], said
    )
    value = f"{spread:.1f}"
    if spread - slack > task["allowed"]:
        return FAILED, said, value
    return (UNTOLD if silent or spread + slack > task["allowed"] else OK), said, value


def _certificate(task: Task, here: Standing) -> Found:
    try:
        found, distrust, number = certificate_at(
            task["target"], task["port"], task["name"], here.patience
        )
    except NoAnswer as error:
        if error.silent:
            raise Silence(str(error)) from None
        return UNTOLD, str(error)
    said = f"for {several(found.names, 5)}, until {found.last_day}, SHA-256 {found.digest}"
    wrong = []
    if not any(certificate_covers(pattern, task["name"]) for pattern in found.names):
        wrong.append("it does not speak for {}".format(task["name"]))
    if number == EXPIRED or found.ends < time.time():
        wrong.append("it has ended, by this machine's clock")
    if number == NOT_YET or found.begins > time.time() + 300:
        wrong.append("it does not begin yet, by this machine's clock")
    if task["own"]:
        return (FAILED if wrong else OK), "; ".join([*wrong, said]), found.digest
    if task["expires"] and task["expires"] != found.last_day:
        wrong.append("planned is {}".format(task["expires"]))
    if number == SELF_SIGNED:
        wrong.append("nobody but itself vouches for it")
    if wrong:
        return FAILED, "; ".join([*wrong, said]), found.last_day
    if distrust:
        return (
            UNTOLD,
            f"this machine does not trust it ({distrust}), others may: {said}",
            found.last_day,
        )
    return OK, f"trusted, {said}", found.last_day


QUESTIONS: dict[str, collections.abc.Callable[[Task, Standing], Found]] = {
    "own-line": _own_line,
    "lease": _lease,
    "offer": _offer,
    "own-names": _own_names,
    "answers": _answers,
    "free": _free,
    "name": _name,
    "back": _back,
    "service-record": _service_record,
    "tcp": _tcp,
    "names-flow": _names_flow,
    "time-flow": _time_flow,
    "ping-flow": _ping_flow,
    "clocks": _clocks,
    "certificate": _certificate,
}
WORDS_OF_KINDS = (
    ("tcp", "TCP connection", "TCP connections", "opened and closed at once, nothing sent"),
    ("names-flow", "question", "questions", "to a DNS server, to see that it is reached"),
    ("name", "name", "names", "looked up"),
    ("back", "address", "addresses", "looked up for its name"),
    ("service-record", "service record", "service records", "looked up"),
    ("answers", "address", "addresses", "that should answer: a ping, a few ports"),
    ("free", "address", "addresses", "where nobody should answer: a ping, a few ports"),
    ("ping-flow", "ping", "pings", ""),
    ("time-flow", "time server", "time servers", "asked once"),
    ("clocks", "comparison", "comparisons", "of several machines' clocks, each asked once"),
    ("certificate", "certificate", "certificates", "read by opening TLS and closing it"),
    ("own-line", "look", "looks", "at this machine's own address and mask"),
    ("lease", "look", "looks", "at this machine's own lease"),
    ("own-names", "look", "looks", "at this machine's own DNS servers"),
    ("offer", "DHCP offer", "DHCP offers", "asked for and not taken, only with --ask-dhcp"),
)
