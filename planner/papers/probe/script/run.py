"""Running: says what it will do, asks, asks its questions within a bounded time, and writes what was seen."""

from __future__ import annotations

import argparse
import collections
import collections.abc
import ipaddress
import json
import queue
import sys
import threading
import time
import typing

from planner.papers.probe.script.asking import (
    NOTHING_CAME,
    WORDS_OF_KINDS,
    Seen,
    Standing,
    Task,
    ask,
    judge,
)
from planner.papers.probe.script.line import Line, is_inside, line_on
from planner.papers.probe.script.words import FAILED, OK, UNTOLD, clean

DATA = ""  # the site's questions, as JSON
RESULTS = "deskwright probe results 1"
ALL_OK, SOME_FAILED, SOME_UNTOLD, NOT_RUN, STOPPED = 0, 1, 2, 3, 4
HANDS = 8  # questions at once
SLOWEST = 30.0  # seconds the slowest question may take; longer ones are left behind
ENDINGS = """exit codes: 0 everything is as planned; 1 something is not; 2 something could not be told;
3 nothing was asked; 4 stopped on the way, and the file has what was seen until then."""


class Ground(typing.TypedDict):
    """The network that the questions are asked from."""

    id: int
    name: str
    subnet: str
    gateway: str


class Machine(typing.TypedDict):
    """A running copy that somebody may name."""

    key: str
    name: str
    count: int


class Data(typing.TypedDict):
    """What the script knows of the site."""

    customer: str
    customer_code: str
    site: str
    site_code: str
    fingerprint: str
    file: str
    network: Ground
    machines: list[Machine]
    tasks: list[Task]


class Told(typing.TypedDict):
    """What the results say of every question."""

    id: str
    asked: str
    state: str
    seen: str
    ms: int


class Answer(Told, total=False):
    """The same, with the value where one was read."""

    value: str


class Place(typing.TypedDict):
    """What the results say of the machine that asked."""

    address: str
    prefix: int | None
    leased: bool | None
    system: str


class Report(typing.TypedDict):
    """What the file of results says."""

    format: str
    customer: str
    site: str
    fingerprint: str
    network: int
    network_name: str
    began: str
    ended: str
    machine: Place
    results: list[Answer]


if typing.TYPE_CHECKING:
    Timed = tuple[str, str, str, float]  # what was seen, and the seconds it took


class Parser(argparse.ArgumentParser):
    def error(self, message: str) -> typing.NoReturn:
        self.print_usage(sys.stderr)
        self.exit(NOT_RUN, f"{self.prog}: {clean(message)}\n")


def parsed(words: list[str] | None) -> argparse.Namespace:
    """The options."""
    parser = Parser(description=__doc__.split("\n\n")[0] if __doc__ else None, epilog=ENDINGS)
    parser.add_argument("--list", action="store_true", help="show every question and ask none")
    parser.add_argument("--yes", action="store_true", help="start without asking whether to")
    parser.add_argument(
        "--ask-dhcp",
        action="store_true",
        help="also ask for a DHCP offer; none is taken (administrator)",
    )
    parser.add_argument(
        "--at",
        action="append",
        default=[],
        metavar="NAME=ADDRESS",
        help="a running machine to try ports at",
    )
    parser.add_argument("--to", default="", metavar="FILE", help="where to write the results")
    parser.add_argument(
        "--patience", type=float, default=3.0, metavar="SECONDS", help="for one answer (3)"
    )
    parser.add_argument(
        "--seconds", type=float, default=600.0, metavar="SECONDS", help="for all of it (600)"
    )
    chosen = parser.parse_args(words)
    if not 0.1 <= chosen.patience <= 30 or not 1 <= chosen.seconds <= 7200:
        parser.error("--patience takes 0.1 to 30, --seconds 1 to 7200")
    return chosen


def say(text: str = "") -> None:
    """A line on the screen, whatever letters the screen knows."""
    encoding = sys.stdout.encoding or "ascii"
    sys.stdout.write(text.encode(encoding, "replace").decode(encoding) + "\n")
    sys.stdout.flush()


def machines_named(words: list[str], data: Data) -> dict[str, str]:
    """What ``--at`` says, by the machine's key. Raises ``ValueError`` for a name or an address that is none."""
    found = {}
    keys = {one["name"].casefold(): one["key"] for one in data["machines"]}
    keys.update({one["key"]: one["key"] for one in data["machines"]})
    for word in words:
        name, _, address = word.rpartition("=")
        key = keys.get(name.strip().casefold())
        if key is None:
            raise ValueError(
                "--at {}: there is no such machine here; there are {}".format(
                    word, sorted(keys) or "none"
                )
            )
        found[key] = str(ipaddress.IPv4Address(address.strip()))
    return found


def outline(data: Data, line: Line) -> None:
    """What will be done, before it is done."""
    network, tasks = data["network"], data["tasks"]
    say(
        "Probe for {}, {} ({}), plan {}.".format(
            data["customer"], data["site"], data["site_code"], data["fingerprint"]
        )
    )
    say(
        "It asks from the network {}, {}. This machine is there as {}.".format(
            network["name"], network["subnet"], line.words
        )
    )
    say(f"It will ask {len(tasks)} questions:")
    counts = collections.Counter(task["kind"] for task in tasks)
    for kind, one, many, how in WORDS_OF_KINDS:
        if counts[kind]:
            say(
                "  {:4} {}{}".format(
                    counts[kind], one if counts[kind] == 1 else many, " " + how if how else ""
                )
            )
    say("It changes nothing, signs in nowhere, and carries no secret. --list shows every question.")


def agreed(prompt: str) -> bool:
    """Whether somebody at a keyboard says yes."""
    if not sys.stdin or not sys.stdin.isatty():
        say("Nobody is there to say yes: start it with --yes.")
        return False
    sys.stdout.write(prompt)
    sys.stdout.flush()
    return sys.stdin.readline().strip().lower() in ("y", "yes")


def asked_for_machines(data: Data, given: dict[str, str]) -> dict[str, str]:
    """Asks for machines that nobody named with ``--at``; an empty answer leaves one out."""
    for one in data["machines"]:
        while one["key"] not in given:
            say(
                "The address of a running copy of {} (to try {} more ports), or nothing:".format(
                    one["name"], one["count"]
                )
            )
            address = sys.stdin.readline().strip()
            if not address:
                break
            try:
                given[one["key"]] = str(ipaddress.IPv4Address(address))
            except ValueError:
                say(f"{clean(address)} is no IPv4 address.")
    return given


class Round:
    """All questions, asked by a few hands at once until the time is up or somebody stops it.

    What stayed silent is judged when everything else is answered: then it is known who answers at all.
    """

    def __init__(self, tasks: list[Task], here: Standing, seconds: float) -> None:
        self.tasks, self.here = tasks, here
        self.until = time.monotonic() + seconds
        self.results: dict[str, Timed] = {}
        self.stopped = False

    def run(self, progress: collections.abc.Callable[[int], None]) -> dict[str, Timed]:
        """Runs to the end; the answers by task, as (state, seen, value, seconds). ``progress`` is called with how
        many are done after each."""
        silent: dict[str, Timed] = {}
        done = 0
        try:
            for task, answer in self._by_hands(self.tasks, lambda task: ask(task, self.here)):
                if answer[0] == NOTHING_CAME:
                    silent[task["id"]] = answer
                    answer = (UNTOLD, answer[1] + ", and it was not looked at further", *answer[2:])
                else:
                    done += 1
                    progress(done)
                self.results[task["id"]] = answer
            waiting = [task for task in self.tasks if task["id"] in silent]
            for task, answer in self._by_hands(
                waiting, lambda task: judge(task, self.here, silent[task["id"]][1])
            ):
                self.results[task["id"]] = (*answer[:3], answer[3] + silent[task["id"]][3])
                done += 1
                progress(done)
        except KeyboardInterrupt:
            self.stopped = True
        return self.results

    def _by_hands(
        self, tasks: list[Task], ask_one: collections.abc.Callable[[Task], Seen]
    ) -> collections.abc.Iterator[tuple[Task, Timed]]:
        """Each task with its answer, as they come; those that nobody got to in time are left out."""
        waiting: queue.Queue[Task] = queue.Queue()
        answered: queue.Queue[tuple[Task, Timed]] = queue.Queue()
        for task in tasks:
            waiting.put(task)

        def work() -> None:
            while not self.stopped and time.monotonic() < self.until:
                try:
                    task = waiting.get_nowait()
                except queue.Empty:
                    return
                began = time.monotonic()
                answer = ask_one(task)
                answered.put((task, (*answer, time.monotonic() - began)))

        hands = [threading.Thread(target=work, daemon=True) for _ in range(min(HANDS, len(tasks)))]
        for hand in hands:
            hand.start()
        left, last = len(tasks), self.until + SLOWEST
        while left and time.monotonic() < last:
            working = any(hand.is_alive() for hand in hands)
            try:
                yield answered.get(timeout=0.1)
                left -= 1
            except queue.Empty:
                if not working:
                    return


def shown_progress(count: int) -> collections.abc.Callable[[int], None]:
    """Shows how far it is: one line that changes on a terminal, a line for each tenth elsewhere."""

    def show(done: int) -> None:
        if sys.stdout.isatty():
            sys.stdout.write(f"\r{done} of {count}" + ("\n" if done == count else ""))
            sys.stdout.flush()
        elif done == count or done % max(1, count // 10) == 0:
            say(f"{done} of {count}")

    return show


def moment(seconds: float) -> str:
    return time.strftime("%Y-%m-%dT%H:%M:%SZ", time.gmtime(seconds))


def report(
    data: Data, line: Line, began: float, results: dict[str, Timed], stopped: bool
) -> Report:
    """What the file says. Its times are this machine's own clock's."""
    missing = (
        UNTOLD,
        "stopped before this was asked" if stopped else "the time was up before this was asked",
        "",
        0.0,
    )
    found: list[Answer] = []
    for task in data["tasks"]:
        state, seen, value, took = results.get(task["id"], missing)
        one: Answer = {
            "id": task["id"],
            "asked": task["words"],
            "state": state,
            "seen": seen,
            "ms": int(1000 * took),
        }
        if value:
            one["value"] = value
        found.append(one)
    machine: Place = {
        "address": line.address,
        "prefix": line.prefix,
        "leased": line.leased,
        "system": sys.platform,
    }
    return {
        "format": RESULTS,
        "customer": data["customer_code"],
        "site": data["site_code"],
        "fingerprint": data["fingerprint"],
        "network": data["network"]["id"],
        "network_name": data["network"]["name"],
        "began": moment(began),
        "ended": moment(time.time()),
        "machine": machine,
        "results": found,
    }


def told(results: list[Answer]) -> int:
    """Shows what is not as planned and what could not be told, then the counts; gives the exit code."""
    for state, head in ((FAILED, "Not as planned"), (UNTOLD, "Could not be told")):
        lines = [one for one in results if one["state"] == state]
        if lines:
            say(f"\n{head}:")
        for one in lines:
            say("  - {}\n    {}".format(clean(one["asked"]), one["seen"]))
    counts = collections.Counter(one["state"] for one in results)
    say(f"\n{counts[OK]} as planned, {counts[FAILED]} not, {counts[UNTOLD]} could not be told.")
    if counts[FAILED]:
        return SOME_FAILED
    if counts[UNTOLD]:
        return SOME_UNTOLD
    return ALL_OK


def main(words: list[str] | None = None) -> int:
    """The whole run; gives the exit code."""
    chosen = parsed(words)
    data: Data = json.loads(DATA)
    data["customer"] = clean(data["customer"], 120)
    data["site"] = clean(data["site"], 120)
    data["site_code"] = clean(data["site_code"], 120)
    if chosen.list:
        for task in data["tasks"]:
            say("{:14} {}".format(task["kind"], clean(task["words"])))
        return ALL_OK
    network = data["network"]
    network["name"] = clean(network["name"], 120)
    try:
        machines = machines_named(chosen.at, data)
    except ValueError as error:
        say(clean(error))
        return NOT_RUN
    line = line_on(network["subnet"], network["gateway"])
    if not is_inside(line.address, ipaddress.ip_network(network["subnet"])):
        if line.address:
            has = f"it has {line.address}"
        else:
            has = "it has no line that leads there"
        say(
            "This machine has no address in {}, {}: {}.".format(
                network["name"], network["subnet"], has
            )
        )
        say("Plug it in there, or take the script for the network it is in.")
        return NOT_RUN
    outline(data, line)
    if not chosen.yes:
        if not agreed("Go on? [y/N] "):
            return NOT_RUN
        machines = asked_for_machines(data, machines)
    began = time.time()
    path = chosen.to or "{}-{}.json".format(
        data["file"], time.strftime("%Y%m%d-%H%M%S", time.gmtime(began))
    )
    try:
        written = open(path, "x", encoding="ascii")  # noqa: SIM115  (made before anything is asked, kept to the end)
    except OSError as error:
        say(
            f"The file {clean(path)} cannot be made ({clean(error.strerror)}): say where with --to FILE."
        )
        return NOT_RUN
    with written:
        here = Standing(line, chosen.patience, machines, chosen.ask_dhcp)
        asking = Round(data["tasks"], here, chosen.seconds)
        results = asking.run(shown_progress(len(data["tasks"])))
        made = report(data, line, began, results, asking.stopped)
        json.dump(made, written, indent=1)
        written.write("\n")
    code = told(made["results"])
    say(f"Written to {clean(path)}. Give it to Deskwright: stages, probe, results.")
    if asking.stopped:
        return STOPPED
    return code


if __name__ == "__main__":
    sys.exit(main())
