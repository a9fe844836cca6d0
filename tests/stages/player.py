"""A player who knows only the world, and does what a plan says step by step.

It knows what power, disks, machines, names, images, desktops, people and backups do, and what each step does to
them. It knows neither what the catalogue says of its steps nor their order: what it complains of is what somebody
standing there would see.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field

from planner.record import facts as f

ALONE = {"test-power-cut", "take-host-down", "switch-off-appliance", "rehearse-morning"}
AT_A_HOST = {
    *("build-array", "install-hypervisor", "raise-firmware", "change-host-secret"),
    *("make-label", "set-host-clock", "set-out-of-band", "fix-host"),
}


@dataclass(frozen=True)
class Move:
    """A step as it is done: its key, and from when to when."""

    key: str
    start: float
    finish: float

    @property
    def verb(self) -> str:
        return self.key.partition("@")[0]

    @property
    def id(self) -> int:
        return int(self.key.rpartition("-")[2]) if "@" in self.key else 0


def one_by_one(keys: Iterable[str]) -> list[Move]:
    return [Move(key, place, place + 1) for place, key in enumerate(keys)]


@dataclass
class Machine:
    """An image's machine: what is in it, whether it can still be worked on, and its copies."""

    there: bool = False
    inside: set[str] = field(default_factory=set)
    kept: frozenset[str] = frozenset()
    sealed: frozenset[str] | None = None
    way_in: bool = False
    tried: bool = False
    saved: bool = False
    on_hosts: bool = False


class Player:
    """One site's world. ``complaints`` are (key of the step, what is wrong)."""

    def __init__(self, facts: f.SiteFacts):
        self.facts = facts
        self.live = facts.site.purpose == "live"
        self.directory = facts.directory.directory_kind != "own-accounts"
        self.hosts = {one.id: one for one in facts.hosts if one.state != "spare"}
        self.asked: dict[str, set[int]] = {}  # what is to be done at all, and for which records
        self.kinds: dict[str, str] = {}  # of which kind these are
        self.done: set[str] = set()  # what stays as it was made: verb, or verb@id
        self.machines = {one.id: Machine() for one in facts.images}
        self.running: set[int] = set()  # templates whose desktops run
        self.people: set[int] = set()  # seat groups of which somebody works on a desktop
        self.backups: list[tuple[frozenset[int], frozenset[int]]] = []  # templates, groups it knows
        self.complaints: list[tuple[str, str]] = []

    # -- playing ---------------------------------------------------------------------------------

    def play(self, moves: Iterable[Move], whole: Iterable[str] = ()) -> list[tuple[str, str]]:
        """Does the moves in their times; a step that cannot be done is told, and done all the same.

        ``whole`` are all steps of the plan, where only some of them are done.
        """
        moves = list(moves)
        for key in whole or [one.key for one in moves]:
            verb, _, anchor = key.partition("@")
            kind, _, id = anchor.rpartition("-")
            self.kinds[verb] = kind
            self.asked.setdefault(verb, set()).add(int(id or 0))
        events = [(one.finish, 0, one) for one in moves] + [(one.start, 1, one) for one in moves]
        under_way: list[Move] = []
        for _, starts, move in sorted(events, key=lambda one: (round(one[0], 6), one[1])):
            if starts:
                self._begin(move, under_way)
                under_way.append(move)
            else:
                under_way.remove(move)
                self._end(move)
        return self.complaints

    def _begin(self, move: Move, under_way: list[Move]) -> None:
        now = lambda true, words: true or self.complaints.append((move.key, words))  # noqa: E731
        for other in under_way:
            now(not {move.verb, other.verb} & ALONE, f"runs beside {other.key}, which stops all")
            flashing = "raise-firmware" in (move.verb, other.verb)
            same = self._touched(move) & self._touched(other)
            now(not (flashing and same), "works at a host whose firmware is being flashed")
        rule = RULES.get(move.verb)
        if rule:
            rule(self, move.id, now)

    def _touched(self, move: Move) -> set[int]:
        """The hosts that somebody works at."""
        if move.verb == "build-array":
            return set(self.on(self.find("datastores", move.id).host_id))
        return {move.id} if move.verb in AT_A_HOST else set()

    def _end(self, move: Move) -> None:
        self.done |= {move.verb, f"{move.verb}@{move.id}"}
        change = CHANGES.get(move.verb)
        if change:
            change(self, move.id)

    # -- looking ---------------------------------------------------------------------------------

    def did(self, verb: str, ids: Iterable[int] | None = None) -> bool:
        """Whether it was done, for each of these."""
        return verb in self.done if ids is None else all(f"{verb}@{id}" in self.done for id in ids)

    def did_here(self, needed: str, verb: str, id: int) -> bool:
        """Whether a step that is asked for was done: for the record itself, once for another kind's, or everywhere."""
        if needed not in self.asked:
            return True
        asked = self.asked[needed]
        if self.kinds[verb] == self.kinds[needed]:
            return self.did(needed, {id} & asked)
        return self.did(needed, asked) if not self.kinds[verb] else self.did(needed)

    def find(self, kind: str, id: int):
        return next(one for one in getattr(self.facts, kind) if one.id == id)

    def on(self, id: int | None) -> list[int]:
        """A host by its id; every host that works while nobody knows which, none for a spare."""
        known = {one.id for one in self.facts.hosts}
        return [id] if id in self.hosts else [] if id in known else list(self.hosts)

    def desktop_networks(self) -> list[int]:
        used = {one.network_id for one in self.facts.templates}
        found = [one for one in self.facts.networks if one.purpose == "desktops" or one.id in used]
        return [one.id for one in found if one.dhcp != "none"]

    def loads_at_risk(self, hosts: Iterable[int]) -> bool:
        """Whether something runs on these hosts that nobody has restored elsewhere yet."""
        used = [id for id in hosts if self.hosts[id].state == "existing"]
        return not self.did("restore-host-load", used)

    def service_up(self) -> bool:
        return self.did("create-service") and self.did("deploy-appliance", self.appliances())

    def appliances(self) -> list[int]:
        return [one.id for one in self.facts.appliances]

    def people_known(self) -> bool:
        return self.did("connect-directory" if self.directory else "make-own-accounts")

    def groups_of(self, template: int) -> list[int]:
        return [one.id for one in self.facts.seat_groups if one.template_id == template]

    def templates_of(self, group: int) -> list[int]:
        known = {one.id for one in self.facts.templates}
        id = self.find("seat_groups", group).template_id
        return [id] if id in known else list(known)

    def images_of(self, template: int) -> list[int]:
        id = self.find("templates", template).image_id
        return [id] if id in self.machines else list(self.machines)

    def images_for(self, group: int) -> set[int]:
        return {image for one in self.templates_of(group) for image in self.images_of(one)}

    def can_sign_in(self, group: int) -> str:
        """Why somebody of a seat group cannot sign in at the entry name; "" when they can."""
        trust = (
            "publish-own-certificate"
            if self.facts.service.certificate == "own"
            else "install-certificate"
        )
        reasons = (
            (self.did("enter-entry-name"), "the entry name answers nowhere"),
            (self.service_up(), "no service answers"),
            (self.did(trust), "the page warns, or is nobody's"),
            (self.running.issuperset(self.templates_of(group)), "no desktop runs"),
            (self.did("assign-seats", [group]), "nothing is assigned to them"),
            (not self.directory or self.did("allow-sign-in"), "no policy lets them in"),
        )
        return next((words for true, words in reasons if not true), "")


Must = Callable[[bool, str], object]
Rule = Callable[[Player, int, Must], None]
RULES: dict[str, Rule] = {}
CHANGES: dict[str, Callable[[Player, int], None]] = {}


def rule(*verbs: str) -> Callable[[Rule], Rule]:
    def register(function: Rule) -> Rule:
        RULES.update(dict.fromkeys(verbs, function))
        return function

    return register


def change(*verbs: str):
    def register(function):
        CHANGES.update(dict.fromkeys(verbs, function))
        return function

    return register


# -- place and hosts -----------------------------------------------------------------------------


@rule("restore-host-load")
def _(world: Player, id: int, must: Must) -> None:
    own = [one.id for one in world.facts.datastores if one.host_id == id]
    wiped = world.did("install-hypervisor", [id]) or any(
        world.did("build-array", [one]) for one in own
    )
    must(not wiped, "what ran there is wiped already")


@rule("carry-host", "fix-host")
def _(world: Player, id: int, must: Must) -> None:
    host = world.find("hosts", id)
    must(host.state != "to-buy" or world.did("unpack-host", [id]), "the host is still in its box")
    must(world.did("look-at-room"), "nobody knows whether there is room for it")


@rule("power-hosts")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("fix-host", world.hosts), "a host that is to be plugged in is not in its place")


@rule("raise-firmware")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("power-hosts"), "the host has no power")
    must(not world.did("install-hypervisor", [id]), "the hypervisor runs on the host already")
    must(not world.loads_at_risk([id]), "what runs there has no proven backup")
    must(world.did("agree-hours"), "nobody agreed when it may be down")
    must(not world.people, "people work on the hosts")


@rule("build-array")
def _(world: Player, id: int, must: Must) -> None:
    hosts = world.on(world.find("datastores", id).host_id)
    must(world.did("power-hosts"), "the disks have no power")
    must(world.did("raise-firmware", hosts), "its controller's firmware is to be flashed yet")
    must(not world.loads_at_risk(hosts), "its disks hold what has no proven backup")
    must(not world.people, "people work on the hosts")


@rule("install-hypervisor")
def _(world: Player, id: int, must: Must) -> None:
    local = [one.id for one in world.facts.datastores if one.host_id == id]
    must(world.did("power-hosts"), "the host has no power")
    must(world.did("raise-firmware", [id]), "the host's firmware is to be flashed yet")
    must(world.did("build-array", local), "there is no disk to install on")
    must(world.did("reserve-host-address", [id]), "its address may be somebody else's")
    must(world.did("enter-host-name", [id]), "its name leads nowhere")
    must(not world.loads_at_risk([id]), "its disks hold what has no proven backup")
    must(not world.people, "people work on the hosts")


@rule("connect-supply", "warm-up-room", "compare-hosts")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("install-hypervisor", world.hosts), "a host does not run yet")


@rule("change-host-secret", "make-label", "set-host-clock")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("install-hypervisor", [id]), "no hypervisor runs there")


@rule("set-out-of-band")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("power-hosts"), "its console has no power")


@rule("check-datastore", "share-store")
def _(world: Player, id: int, must: Must) -> None:
    hosts = world.on(world.find("datastores", id).host_id)
    must(world.did("install-hypervisor", hosts), "no hypervisor is there to attach it to")
    must(world.did("build-array", [id]), "there is no array")


# -- ground --------------------------------------------------------------------------------------


@rule("set-scope", "try-flows")
def _(world: Player, id: int, must: Must) -> None:
    wanted = [id] if id else [one.id for one in world.facts.networks]
    must(world.did("make-network", wanted), "the network is not there")


@rule("make-network", "enter-entry-name")
def _(world: Player, id: int, must: Must) -> None:
    must(
        world.did("ring-key-holders"), "nobody opened the firewall, the switch or the names for us"
    )


@rule("make-join-account", "allow-sign-in")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("make-unit"), "there is no unit to give rights on")


@rule("order-certificate")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("enter-entry-name"), "who issues it finds no such name")


# -- service -------------------------------------------------------------------------------------


@rule("deploy-appliance")
def _(world: Player, id: int, must: Must) -> None:
    one = world.find("appliances", id)
    hosts, stores = world.on(one.host_id), [store.id for store in world.facts.datastores]
    must(world.did("fetch-package"), "there is no package that anybody compared")
    must(world.did("install-hypervisor", hosts), "no hypervisor runs to deploy it to")
    must(
        world.did("check-datastore", [one.datastore_id] if one.datastore_id in stores else stores),
        "no datastore is attached",
    )
    must(world.did("make-label", hosts), "its host has no network for it")
    must(world.did("set-host-clock", hosts), "it starts with its host's wrong time")
    must(world.did("compare-hosts"), "nobody knows whether the machines are those of the plan")
    must(world.did("read-capacity"), "nobody knows whether it fits")
    must(world.did("reserve-appliance-address", [id]), "its address may be somebody else's")


@rule("address-appliance", "check-disks")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("deploy-appliance", [id] if id else world.appliances()), "no appliance runs")


@rule("change-service-secret", "set-service-clock")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("address-appliance", [id]), "the appliance answers nowhere")


@rule("create-service")
def _(world: Player, id: int, must: Must) -> None:
    first = world.appliances()[:1]
    must(world.did("change-service-secret", first), "it would run with its initial secret")
    must(world.did("set-service-clock", first), "its clock is wrong")
    must(world.did("enter-entry-name"), "the entry name answers nowhere")
    must(world.did("check-disks"), "its disks may have to be made anew, and the service with them")


@rule("connect-hosts")
def _(world: Player, id: int, must: Must) -> None:
    must(world.service_up(), "no service answers")
    must(world.did("change-host-secret", world.hosts), "it would hold a host's initial secret")
    must(world.did("make-label", world.hosts), "it finds no network on a host")
    must(world.did("try-flows"), "nobody knows whether it reaches the hosts")


@rule("connect-directory")
def _(world: Player, id: int, must: Must) -> None:
    must(world.service_up(), "no service answers")
    must(world.did("set-host-clock", world.hosts), "clocks apart: the directory refuses")
    must(world.did("compare-clocks"), "clocks apart: the directory refuses")
    must(world.did("set-service-clock", world.appliances()), "clocks apart: the directory refuses")


@rule("make-own-accounts", "publish-own-certificate")
def _(world: Player, id: int, must: Must) -> None:
    must(world.service_up(), "no service answers")


@rule("join-appliance")
def _(world: Player, id: int, must: Must) -> None:
    must(world.service_up(), "there is no service to join")
    must(world.did("change-service-secret", [id]), "it would join with its initial secret")
    must(world.did("set-service-clock", [id]), "its clock is wrong")


@rule("install-certificate")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("order-certificate"), "there is no certificate")
    must(world.service_up(), "no service answers")
    must(world.did("join-appliance", world.appliances()[1:]), "a later appliance comes without it")


@rule("back-up-service")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("connect-hosts"), "the backup knows no hosts")
    must(world.people_known(), "the backup knows no people")


@rule("back-up-seats")
def _(world: Player, id: int, must: Must) -> None:
    groups = [one.id for one in world.facts.seat_groups]
    must(world.did("assign-seats", groups), "the backup knows no assignments")


@change("back-up-service", "back-up-seats")
def _(world: Player, id: int) -> None:
    made = {one.id for one in world.facts.templates if world.did("make-template", [one.id])}
    assigned = {one.id for one in world.facts.seat_groups if world.did("assign-seats", [one.id])}
    world.backups.append((frozenset(made), frozenset(assigned)))


# -- image ---------------------------------------------------------------------------------------

INSIDE = (
    *("join-image", "update-image", "install-agent", "open-agent-ports", "allow-remote-sign-in"),
    *("follow-supplier", "quieten-image", "install-applications", "set-activation"),
)


@rule("install-image", "copy-source")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("connect-hosts"), "there is no host to make it on")
    must(world.did("look-at-source", [id]), "nobody knows what it is made from")


@change("install-image", "copy-source")
def _(world: Player, id: int) -> None:
    world.machines[id].there = True


@rule(*INSIDE, "clean-image")
def _(world: Player, id: int, must: Must) -> None:
    must(world.machines[id].there, "there is nothing to work on")
    must(
        world.machines[id].sealed is None, "the machine is sealed, and a sealed one is never opened"
    )


def inside(verb: str) -> None:
    @change(verb)
    def _(world: Player, id: int) -> None:
        world.machines[id].inside.add(verb)


for _verb in (*INSIDE, "clean-image"):
    inside(_verb)


def after_too(
    verb: str, needed: str, words: str, when: Callable[[Player, int], bool] = lambda world, id: True
) -> None:
    """One more rule for work inside an image's machine: another piece of work comes first."""
    first = RULES[verb]

    @rule(verb)
    def _(world: Player, id: int, must: Must) -> None:
        first(world, id, must)
        must(not when(world, id) or needed in world.machines[id].inside or world.did(needed), words)


def in_directory(world: Player, id: int) -> bool:
    return world.directory


def by_key_server(world: Player, id: int) -> bool:
    return world.find("images", id).activation == "key-server"


after_too("join-image", "make-join-account", "no account may join it", in_directory)
after_too("update-image", "join-image", "its updates come by the directory's policy", in_directory)
after_too("allow-remote-sign-in", "join-image", "the seat groups are not known on it", in_directory)
after_too("allow-remote-sign-in", "allow-sign-in", "no policy lets them in", in_directory)
after_too("install-agent", "create-service", "there is no service for the agent to find")
after_too("open-agent-ports", "install-agent", "no agent listens")
after_too(
    "set-activation",
    "find-key-server",
    "nobody knows whether the key server answers",
    by_key_server,
)


@rule("save-unsealed")
def _(world: Player, id: int, must: Must) -> None:
    activated = world.find("images", id).activation != "none"
    wanted = {verb for verb in (*INSIDE, "clean-image") if verb != "join-image" or world.directory}
    missing = wanted - world.machines[id].inside - (set() if activated else {"set-activation"})
    must(not missing, f"the copy that is kept lacks {', '.join(sorted(missing))}")


@change("save-unsealed")
def _(world: Player, id: int) -> None:
    world.machines[id].kept = frozenset(world.machines[id].inside)


@rule("seal-image", "seal-image-alone")
def _(world: Player, id: int, must: Must) -> None:
    machine = world.machines[id]
    must(bool(machine.kept), "sealing cannot be undone, and nothing is kept")
    must(machine.kept == machine.inside, "what is kept is older than what is sealed")


@change("seal-image", "seal-image-alone")
def _(world: Player, id: int) -> None:
    world.machines[id].sealed = frozenset(world.machines[id].inside)


@rule("open-trial-way")
def _(world: Player, id: int, must: Must) -> None:
    must(world.machines[id].sealed is not None, "there is no sealed copy to start")


@change("open-trial-way")
def _(world: Player, id: int) -> None:
    world.machines[id].way_in = True


@rule("try-sealed-copy")
def _(world: Player, id: int, must: Must) -> None:
    served = [one.id for one in world.facts.seat_groups if id in world.images_for(one.id)]
    by_service = any(not world.can_sign_in(one) for one in served)
    must(world.machines[id].way_in or by_service, "there is no way in to a sealed copy")
    must(world.people_known(), "nobody is known who could sign in")


@change("try-sealed-copy")
def _(world: Player, id: int) -> None:
    world.machines[id].tried = True


@rule("save-image")
def _(world: Player, id: int, must: Must) -> None:
    must(world.machines[id].tried, "what is kept for everybody was tried by nobody")


@change("save-image")
def _(world: Player, id: int) -> None:
    world.machines[id].saved = True


@rule("copy-to-hosts")
def _(world: Player, id: int, must: Must) -> None:
    must(world.machines[id].saved, "there is no generation to copy")


@change("copy-to-hosts")
def _(world: Player, id: int) -> None:
    world.machines[id].on_hosts = True


# -- desktops ------------------------------------------------------------------------------------


@rule("make-template")
def _(world: Player, id: int, must: Must) -> None:
    images = [world.machines[one] for one in world.images_of(id)]
    shared = [
        one.id
        for one in world.facts.datastores
        if any(store.sharing == "shared" for store in world.facts.datastores)
    ]
    must(all(one.on_hosts for one in images), "its image is on no host")
    must(
        len(world.hosts) < 2 or world.did("share-store", shared),
        "a host may not see where its desktops lie",
    )


@rule("start-first-desktops")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("make-template", [id]), "there is no template")
    own = world.find("templates", id).network_id
    networks = [one for one in world.desktop_networks() if own in (one, None)]
    must(world.did("set-scope", networks), "nobody hands out addresses to them")


@change("start-first-desktops")
def _(world: Player, id: int) -> None:
    world.running.add(id)


@rule("find-in-directory", "read-leases")
def _(world: Player, id: int, must: Must) -> None:
    must(id in world.running, "no desktop runs")


@rule("assign-seats")
def _(world: Player, id: int, must: Must) -> None:
    must(world.people_known(), "the service knows no such group")
    must(world.running.issuperset(world.templates_of(id)), "no desktop runs")


@rule("watch-standby", "try-reset", "save-kept", "try-passes")
def _(world: Player, id: int, must: Must) -> None:
    must(id in world.running, "no desktop runs")
    must(world.did("assign-seats", world.groups_of(id)), "nobody is assigned who could sign in")


@rule("tidy-desktops")
def _(world: Player, id: int, must: Must) -> None:
    tried = [one.id for one in world.facts.images if not world.machines[one.id].tried]
    must(not tried, "a trial copy is removed that nobody has tried")


@change("tidy-desktops")
def _(world: Player, id: int) -> None:
    for machine in world.machines.values():
        machine.way_in = False


# -- breaking it on purpose ----------------------------------------------------------------------


@rule("test-power-cut")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("connect-supply"), "no host hears the signal, all fall")
    must(
        world.running == {one.id for one in world.facts.templates},
        "no desktop runs that would have to shut down: it proves nothing",
    )
    must(not world.people, "people work on desktops that lose their power")
    must(world.did("agree-hours"), "nobody agreed when it may be down")
    must(bool(world.backups), "should the service not come back, there is no backup")


@rule("pilot-sign-in")
def _(world: Player, id: int, must: Must) -> None:
    why = world.can_sign_in(id)
    must(not why, why)
    must(
        not world.live or world.did("test-power-cut"),
        "people work where a power cut was never tried",
    )


@change("pilot-sign-in")
def _(world: Player, id: int) -> None:
    world.people.add(id)


@rule("pilot-work")
def _(world: Player, id: int, must: Must) -> None:
    must(id in world.people, "nobody of them is signed in")


@rule("refuse-stranger", "try-printing", "try-sound-and-usb", "cut-line", "sign-in-from-home")
def _(world: Player, id: int, must: Must) -> None:
    groups = [one.id for one in world.facts.seat_groups]
    why = next(filter(None, map(world.can_sign_in, groups)), "")
    must(not why, why)


@rule("rehearse-morning", "take-host-down", "switch-off-appliance")
def _(world: Player, id: int, must: Must) -> None:
    groups = {one.id for one in world.facts.seat_groups}
    must(world.people == groups, "no desktop is in use: it proves nothing")
    must(world.did("agree-hours"), "nobody agreed when people may be disturbed")


def also_in_a_cool_room(verb: str) -> None:
    first = RULES[verb]

    @rule(verb)
    def _(world: Player, id: int, must: Must) -> None:
        first(world, id, must)
        must(
            world.did("warm-up-room"), "nobody knows whether the room stays cool under such a load"
        )


also_in_a_cool_room("rehearse-morning")


def also_after_a_backup(verb: str) -> None:
    first = RULES[verb]

    @rule(verb)
    def _(world: Player, id: int, must: Must) -> None:
        first(world, id, must)
        _knows_all(world, must)


def _knows_all(world: Player, must: Must) -> None:
    """The newest backup brings every template and every assignment of the plan back."""
    templates, groups = world.backups[-1] if world.backups else (frozenset(), frozenset())
    must(bool(world.backups), "there is no backup")
    must(templates == {one.id for one in world.facts.templates}, "the backup lacks templates")
    must(groups == {one.id for one in world.facts.seat_groups}, "the backup lacks assignments")


also_after_a_backup("take-host-down")
also_after_a_backup("switch-off-appliance")


@rule("restore-service")
def _(world: Player, id: int, must: Must) -> None:
    _knows_all(world, must)


# -- handing over --------------------------------------------------------------------------------


@rule("pilot-day", "show-people", "settle-old-machines")
def _(world: Player, id: int, must: Must) -> None:
    groups = {one.id for one in world.facts.seat_groups}
    must(world.people == groups, "nobody has a desktop to work on")


@rule("start-watching", "start-backups")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("connect-hosts"), "there is nothing to watch or to save")


@rule("print-book")
def _(world: Player, id: int, must: Must) -> None:
    must(world.did("enter-built"), "the book does not say what was built")
    must(world.did("change-secrets"), "the book is printed before the secrets' days are known")


@rule("sign-handover")
def _(world: Player, id: int, must: Must) -> None:
    for verb in (
        "restore-service",
        "start-watching",
        "start-backups",
        "show-people",
        "print-book",
        "agree-calls",
    ):
        must(world.did(verb), f"signed without “{verb}”")


# What else somebody on the spot would see: the step, what was not done, and what comes of it.
SEEN = (
    ("point-desktop-dns", "set-scope", "there is no scope whose servers could be set"),
    ("try-outside", "try-flows", "what fails may be any line of the firewall"),
    ("find-key-server", "try-flows", "what fails may be any line of the firewall"),
    ("make-label", "set-scope", "no test machine gets a lease on it"),
    ("set-host-clock", "compare-clocks", "the source itself may be wrong"),
    ("set-service-clock", "compare-clocks", "the source itself may be wrong"),
    ("connect-hosts", "try-credentials", "nobody can fetch its secret"),
    ("connect-directory", "try-credentials", "nobody can fetch its secret"),
    ("connect-directory", "try-flows", "nobody knows whether it reaches the directory"),
    ("join-image", "point-desktop-dns", "the machine does not find the domain"),
    ("clean-image", "install-applications", "what is installed later dirties it again"),
    ("clean-image", "follow-supplier", "what is changed later dirties it again"),
    ("clean-image", "quieten-image", "the disk is not quiet"),
    ("clean-image", "set-activation", "what is tried later dirties it again"),
    ("try-sealed-copy", "make-profile-place", "settings have nowhere to live"),
    ("compare-images", "copy-to-hosts", "the list is not whole yet"),
    ("tidy-desktops", "watch-standby", "what it is watched on is gone"),
    ("tidy-desktops", "try-reset", "what it is tried on is gone"),
    ("tidy-desktops", "try-passes", "what it is tried on is gone"),
    ("tidy-desktops", "find-in-directory", "an account in the wrong place is left behind"),
    ("tidy-desktops", "compare-images", "an image for trying is left behind"),
    ("back-up-seats", "tidy-desktops", "the backup brings the trial templates back"),
    ("rehearse-morning", "watch-standby", "nobody knows whether standby holds"),
    ("sign-in-from-home", "try-outside", "what is open to the world nobody knows"),
    ("pilot-day", "pilot-work", "they meet in the first hour what one hour would have shown"),
    ("pilot-day", "try-printing", "they meet on the first day what one page would have shown"),
    ("start-backups", "copy-to-hosts", "there is no image to save"),
    ("start-backups", "back-up-service", "what runs by itself never ran by hand"),
    ("show-people", "pilot-day", "what the pilot finds is shown wrong to all"),
    ("show-administrators", "print-book", "they have no book in hand"),
    ("agree-calls", "print-book", "the sheet that is hung up is not printed"),
    ("note-renewals", "print-book", "the days may move once more"),
    ("change-secrets", "restore-service", "the restore needs the old ones once more"),
    ("clear-trust", "take-host-down", "the greatest thing on trust is left"),
    ("clear-trust", "start-watching", "what is on trust there is left"),
    ("sign-handover", "clear-trust", "both sign for what nobody looked at"),
    ("sign-handover", "show-administrators", "nobody can look after it"),
)


def seen(verb: str, needed: str, words: str) -> None:
    first = RULES.get(verb)

    @rule(verb)
    def _(world: Player, id: int, must: Must) -> None:
        if first:
            first(world, id, must)
        must(world.did_here(needed, verb, id), words)


for _seen in SEEN:
    seen(*_seen)


@rule("sign-out-and-in")
def _(world: Player, id: int, must: Must) -> None:
    groups = set(world.groups_of(id))
    must(not groups or bool(groups & world.people), "nobody has settings to lose")
    must(
        world.did_here("try-reset", "sign-out-and-in", id), "nobody knows whether there is a reset"
    )


@rule("make-unit", "compare-clocks", "enter-host-name")
def _(world: Player, id: int, must: Must) -> None:
    proven = world.did("restore-server", [one.id for one in world.facts.servers])
    must(proven, "a server is touched whose backup nobody restored")
