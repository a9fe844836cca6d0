"""Which checks and steps a site has: by its facts, numbered, in order, nothing answered ever lost."""

from __future__ import annotations

import dataclasses
import datetime as dt
import graphlib

import pytest

from planner.plan import Plan
from planner.record import facts as f
from planner.record.facts import Ref
from planner.stages import conditions, read
from planner.stages.choosing import _letters
from tests.factories import make, plan_of, site_facts
from tests.stages.examples import bench, clinic, empty


def names(stages) -> set[str]:
    return {key.partition("@")[0] for key in stages.checks}


def test_there_are_eight_stages_in_order():
    stages = Plan(empty()).stages
    assert [(stage.number, stage.name) for stage in stages.stages] == [
        (1, "Survey"),
        (2, "Ground"),
        (3, "Hosts"),
        (4, "Service"),
        (5, "Image"),
        (6, "Desktops"),
        (7, "Pilot"),
        (8, "Handover"),
    ]
    assert all(stage.purpose for stage in stages.stages)
    assert stages.stage(4).key == "service"
    assert stages.stage(0) is None and stages.stage(9) is None


def test_a_stage_always_asks_for_something_that_a_gate_can_rest_on():
    for stage in Plan(empty()).stages.stages:
        assert stage.checks, stage.name
        assert stage.gate.state == "shut"


# -- Conditions ----------------------------------------------------------------------------------

OF_SITE = [
    ("is-live", {"purpose": "live"}, {"purpose": "trial"}),
    (
        "has-directory",
        [f.Directory(directory_kind="domain")],
        [f.Directory(directory_kind="own-accounts")],
    ),
    ("has-directory", [], [f.Directory(directory_kind="own-accounts")]),
    ("own-accounts", [f.Directory(directory_kind="own-accounts")], []),
    ("many-hosts", [make(f.Host), make(f.Host)], [make(f.Host), make(f.Host, state="spare")]),
    ("many-appliances", [make(f.Appliance), make(f.Appliance)], [make(f.Appliance)]),
    ("shared-storage", [make(f.Datastore, sharing="shared")], [make(f.Datastore, sharing="local")]),
    ("thin-disks", [f.Service(disk_provisioning="thin")], []),
    ("thick-disks", [], [f.Service(disk_provisioning="thin")]),
    ("issued-certificate", [], [f.Service(certificate="own")]),
    ("own-certificate", [f.Service(certificate="own")], []),
    ("outside-access", [f.Service(outside_access="vpn")], [f.Service(outside_access="none")]),
    ("outside-access", [f.Service(outside_access="gateway")], []),
    (
        "outside-gateway",
        [f.Service(outside_access="gateway")],
        [f.Service(outside_access="vpn")],
    ),
    (
        "certificate-renews",
        [f.Service(certificate="issued", certificate_renewal="machine")],
        [f.Service(certificate="issued", certificate_renewal="hand")],
    ),
    (
        "certificate-renews",
        [f.Service(certificate="issued")],
        [f.Service(certificate="issued", certificate_authority="private")],
    ),
    ("key-server", [make(f.Image, activation="key-server")], [make(f.Image, activation="none")]),
    (
        "passes-printers",
        [make(f.Template, passes=("printers",))],
        [make(f.Template, passes=("usb",))],
    ),
    ("passes-printers", [make(f.Server, roles=("print",))], []),
    ("passes-usb", [make(f.Template, passes=("usb",))], []),
    ("passes-sound", [make(f.Template, passes=("sound",))], []),
    (
        "passes-sound-or-usb",
        [make(f.Template, passes=("sound",))],
        [make(f.Template, passes=("clipboard",))],
    ),
    ("has-profiles", [make(f.Template, profile_place="share")], [make(f.Template)]),
    (
        "service-own-address",
        [f.Service(address="10.0.0.30"), make(f.Appliance, address="10.0.0.31")],
        [f.Service(address="10.0.0.31"), make(f.Appliance, address="10.0.0.31")],
    ),
    ("service-own-address", [make(f.Appliance), make(f.Appliance)], [make(f.Appliance)]),
]


def plan_from(what) -> Plan:
    return plan_of(**what) if isinstance(what, dict) else plan_of(*what)


@pytest.mark.parametrize(("name", "yes", "no"), OF_SITE)
def test_conditions_of_the_site(name, yes, no):
    assert conditions.OF_SITE[name](plan_from(yes)) is True
    assert conditions.OF_SITE[name](plan_from(no)) is False


HOSTS = {
    "spare": make(f.Host, state="spare", out_of_band_address="10.0.0.9"),
    "bought": make(f.Host, state="to-buy"),
    "old": make(f.Host, state="existing", weight_kg=40.0),
    "light": make(f.Host, state="to-buy", weight_kg=8.5),
    "heavy": make(f.Host, state="to-buy", weight_kg=9.0),
    "console": make(f.Host, out_of_band_address="10.0.0.8"),
}
OF_RECORD = [
    ("host-works", HOSTS["bought"], HOSTS["spare"]),
    ("host-to-buy", HOSTS["bought"], HOSTS["old"]),
    ("host-in-use", HOSTS["old"], HOSTS["bought"]),
    (
        "host-to-lift",
        HOSTS["heavy"],
        HOSTS["light"],
    ),  # Source: NIOSH Pub. 94-110, the lifting equation at a rack: 8.57 kg
    (
        "host-to-lift",
        HOSTS["bought"],
        HOSTS["old"],
    ),  # a weight nobody knows counts as heavy; what stands is not carried
    ("host-out-of-band", HOSTS["console"], HOSTS["spare"]),
    (
        "network-of-desktops",
        make(f.Network, purpose="desktops"),
        make(f.Network, purpose="management"),
    ),
    ("network-tagged", make(f.Network, vlan=40), make(f.Network)),
    ("network-hands-out", make(f.Network), make(f.Network, dhcp="none")),
    (
        "image-by-key-server",
        make(f.Image, activation="key-server"),
        make(f.Image, activation="none"),
    ),
    ("image-by-multiple-key", make(f.Image, activation="multiple-key"), make(f.Image)),
    ("image-by-subscription", make(f.Image, activation="subscription"), make(f.Image)),
    ("image-activation-open", make(f.Image), make(f.Image, activation="none")),
    ("image-to-activate", make(f.Image), make(f.Image, activation="none")),
    ("image-from-machine", make(f.Image, source_machine="office-2"), make(f.Image)),
    ("image-from-medium", make(f.Image), make(f.Image, source_machine="office-2")),
    ("application-licensed", make(f.Application), make(f.Application, licensed_by="free")),
    ("template-on-standby", make(f.Template), make(f.Template, standby=0)),
    ("template-resets", make(f.Template), make(f.Template, reset_rule="kept")),
    ("template-kept", make(f.Template, reset_rule="kept"), make(f.Template)),
]


@pytest.mark.parametrize(("name", "yes", "no"), OF_RECORD)
def test_conditions_of_a_record(name, yes, no):
    kind, holds = conditions.OF_RECORD[name]
    plan = plan_of(yes, no)
    assert yes.kind == no.kind == kind
    assert holds(plan, yes) is True
    assert holds(plan, no) is False


def test_a_network_that_a_template_uses_is_one_of_desktops():
    network = make(f.Network, purpose="clients")
    plan = plan_of(network, make(f.Template, network_id=network.id))
    assert conditions.OF_RECORD["network-of-desktops"][1](plan, network) is True


def test_the_second_appliance_joins_the_first():
    first, second = make(f.Appliance), make(f.Appliance)
    plan = plan_of(first, second)
    assert [conditions.OF_RECORD["appliance-later"][1](plan, one) for one in (first, second)] == [
        False,
        True,
    ]


def test_every_condition_is_tried_here():
    tried = {case[0] for case in (*OF_SITE, *OF_RECORD)} | {"appliance-later"}
    assert {*conditions.OF_SITE, *conditions.OF_RECORD} - tried == set()


def test_a_lower_limit_of_the_house_is_kept_to():
    plan = plan_of(HOSTS["light"], f.Assumed(key="host.lift-alone-kg", value=20.0))
    assert conditions.OF_RECORD["host-to-lift"][1](plan, HOSTS["light"]) is True


# -- By the facts --------------------------------------------------------------------------------


def test_a_site_without_a_directory_has_no_directory_checks():
    with_one, without = names(Plan(clinic()).stages), names(Plan(bench()).stages)
    directory = {
        "unit-exists",
        "join-account-right",
        "sign-in-allowed",
        "image-in-domain",
        "desktops-in-unit",
    }
    assert directory <= with_one
    assert not directory & without
    assert "own-accounts-made" in without - with_one


def test_a_second_host_brings_the_test_that_takes_one_down():
    one = [make(f.Host, name="a")]
    assert "host-down-survived" not in names(plan_of(*one).stages)
    assert "host-down-survived" in names(plan_of(*one, make(f.Host, name="b")).stages)


def test_a_second_appliance_brings_the_step_that_joins_it():
    first, second = make(f.Appliance, name="a"), make(f.Appliance, name="b")
    assert not [key for key in plan_of(first).stages.steps if key.startswith("join-appliance")]
    joined = [
        key for key in plan_of(first, second).stages.steps if key.startswith("join-appliance")
    ]
    assert joined == [f"join-appliance@{second.ref.anchor}"]


def test_a_key_server_brings_its_count_check():
    keyed, other = make(f.Image, activation="key-server"), make(f.Image, activation="none")
    found = [key for key in plan_of(keyed, other).stages.checks if key.startswith("activation-by")]
    assert found == [f"activation-by-key-server@image-{keyed.id}"]


def test_one_check_for_each_record_it_is_for():
    hosts = [
        make(f.Host, name=name, address=f"10.0.0.{n}") for n, name in enumerate("abc", start=1)
    ]
    stages = plan_of(*hosts, make(f.Host, name="d", state="spare")).stages
    found = [one for key, one in stages.checks.items() if key.startswith("host-reachable@")]
    assert [(one.key, one.value, one.ref) for one in found] == [
        (f"host-reachable@host-{host.id}", host.address, Ref("host", host.id, "address"))
        for host in hosts
    ]
    assert [one.value_name for one in found] == ["a", "b", "c"]
    assert "answers at 10.0.0.2" in found[1].title


def test_a_value_nobody_knows_is_not_offered_for_copying():
    host = make(f.Host, name="a")
    check = plan_of(host).stages.checks[f"host-reachable@host-{host.id}"]
    assert check.value == ""
    assert "not known yet" in check.title


def test_a_value_points_at_the_record_it_comes_from():
    network = make(f.Network, dhcp_first="10.0.0.5", dhcp_last="10.0.0.9")
    host = make(f.Host, name="a")
    template, appliance = (
        make(f.Template, network_id=network.id),
        make(f.Appliance, host_id=host.id),
    )
    checks = plan_of(network, host, template, appliance).stages.checks
    assert checks[f"desktops-leased@{template.ref.anchor}"].ref == network.ref
    placed = checks[f"appliance-placed@{appliance.ref.anchor}"]
    assert (placed.value, placed.ref) == ("a", appliance.ref.at("host_id"))


def test_an_image_of_which_nobody_knows_how_it_is_activated_is_asked_for():
    image = make(f.Image)
    assert f"activation-settled@{image.ref.anchor}" in plan_of(image).stages.checks
    free = make(f.Image, activation="none")
    found = plan_of(free).stages
    assert not [key for key in (*found.checks, *found.steps) if "activation" in key]


def test_a_spare_host_is_asked_for_little():
    spare = make(f.Host, name="a", state="spare")
    found = {
        key.partition("@")[0]
        for key in plan_of(spare).stages.checks
        if key.endswith(spare.ref.anchor)
    }
    assert "host-stands" not in found and "host-reachable" not in found


def test_check_of_a_single_record_points_at_its_field():
    stages = plan_of(f.Service(id=4, entry_name="desk.example")).stages
    assert stages.checks["entry-name-resolves"].ref == Ref("service", 4, "entry_name")
    assert stages.checks["entry-name-resolves"].chapter == 5
    assert stages.checks["flows-open"].ref is None


# -- Numbers -------------------------------------------------------------------------------------


def test_numbers_follow_the_work_and_do_not_move():
    """A step, then the checks it settles; and the same thing bears the same number at every site."""
    read_once = read()
    for entries in read_once.by_stage.values():
        numbers = sorted(one.number for part in entries for one in part)
        assert numbers == list(range(1, len(numbers) + 1))
    for step in read_once.steps.values():
        following = sorted(read_once.checks[key].number for key in step.settles)
        assert following == list(range(step.number + 1, step.number + 1 + len(following)))
    clinics, benches = Plan(clinic()).stages, Plan(bench()).stages
    for key in set(clinics.checks) & set(benches.checks):
        if "@" not in key:
            assert clinics.checks[key].number == benches.checks[key].number


def test_several_records_share_a_number_with_letters():
    alone, two = make(f.Host, name="a"), make(f.Host, name="b")
    key = f"host-reachable@{alone.ref.anchor}"
    number = plan_of(alone).stages.checks[key].number
    both = plan_of(alone, two).stages.checks
    assert both[key].number == f"{number}a"
    assert both[f"host-reachable@{two.ref.anchor}"].number == f"{number}b"
    assert [_letters(count) for count in (0, 25, 26, 51, 52, 701, 702)] == [
        "a",
        "z",
        "aa",
        "az",
        "ba",
        "zz",
        "aaa",
    ]


def test_the_run_sheet_is_in_the_order_of_numbers():
    for stage in Plan(clinic()).stages.stages:
        assert len(stage.sheet) == len(stage.checks) + len(stage.steps)
        assert len({one.number for one in stage.sheet}) == len(stage.sheet)
        order = [one.key for one in stage.sheet]
        for step in stage.steps:
            assert all(order.index(step.key) < order.index(key) for key in step.settles)


def test_thirty_hosts_stand_in_their_order_on_the_run_sheet():
    hosts = [make(f.Host, name=f"h{count}") for count in range(30)]
    sheet = plan_of(*hosts).stages.stages[2].sheet
    found = [one.ref.id for one in sheet if one.key.startswith("host-reachable@")]
    assert found == [host.id for host in hosts]


# -- What comes before what ----------------------------------------------------------------------


@pytest.mark.parametrize("make_site", [clinic, bench, empty])
def test_steps_can_be_done_in_some_order(make_site):
    steps = Plan(make_site()).stages.steps
    order = graphlib.TopologicalSorter({key: step.after for key, step in steps.items()})
    assert set(order.static_order()) == set(
        steps
    )  # no circle, and nothing waits for a step that is not there
    for step in steps.values():
        assert all(steps[key].stage <= step.stage for key in step.after)


@pytest.mark.parametrize("make_site", [clinic, bench])
def test_checks_are_settled_by_steps_that_apply(make_site):
    stages = Plan(make_site()).stages
    settled = [key for step in stages.steps.values() for key in step.settles]
    assert set(settled) == set(stages.checks)


def test_a_step_waits_for_the_same_record_only():
    first, second = make(f.Host, name="a", state="to-buy"), make(f.Host, name="b", state="to-buy")
    steps = plan_of(first, second).stages.steps
    assert steps[f"fix-host@host-{second.id}"].after == (
        f"carry-host@host-{second.id}",
        "look-at-room",
    )


def test_a_step_looks_past_one_that_does_not_apply():
    """A light host is not carried by two; it is still unpacked before it is fixed."""
    light = make(f.Host, name="a", state="to-buy", weight_kg=8.0)
    steps = plan_of(light).stages.steps
    assert f"carry-host@host-{light.id}" not in steps
    assert f"unpack-host@host-{light.id}" in steps[f"fix-host@host-{light.id}"].after


def waited_for(steps, key: str, record: f.Record, other: str) -> set[str]:
    """Which steps of an entry a record's step comes directly after."""
    after = steps[f"{key}@{record.ref.anchor}"].after
    return {one for one in after if one.partition("@")[0] == other}


def test_a_step_waits_for_what_its_record_refers_to():
    images = [make(f.Image, name=name) for name in "ab"]
    template = make(f.Template, image_id=images[1].id)
    steps = plan_of(*images, template).stages.steps
    assert waited_for(steps, "make-template", template, "copy-to-hosts") == {
        f"copy-to-hosts@image-{images[1].id}"
    }


def test_a_step_waits_for_all_while_nobody_knows_which():
    images = [make(f.Image, name=name) for name in "ab"]
    template = make(f.Template)
    steps = plan_of(*images, template).stages.steps
    waits = waited_for(steps, "make-template", template, "copy-to-hosts")
    assert waits == {f"copy-to-hosts@image-{image.id}" for image in images}


def test_a_step_waits_for_what_refers_to_its_record():
    hosts = [make(f.Host, name=name) for name in "ab"]
    stores = [make(f.Datastore, sharing="local", host_id=host.id) for host in hosts]
    shared = make(f.Datastore, sharing="shared")
    steps = plan_of(*hosts, *stores, shared).stages.steps
    waits = steps[f"install-hypervisor@host-{hosts[0].id}"].after
    assert f"build-array@datastore-{stores[0].id}" in waits
    assert f"build-array@datastore-{stores[1].id}" not in waits
    assert f"build-array@datastore-{shared.id}" in waits  # it is no one host's, so every host's


def test_a_local_datastore_counts_for_its_own_host_alone():
    """The second host has no store of its own: it waits for its own firmware, not for the first one's array."""
    first, second = make(f.Host, name="a"), make(f.Host, name="b")
    local = make(f.Datastore, sharing="local", host_id=first.id)
    steps = plan_of(first, second, local).stages.steps
    waits = steps[f"install-hypervisor@host-{second.id}"].after
    assert f"build-array@datastore-{local.id}" not in waits
    assert f"raise-firmware@host-{second.id}" in waits
    assert f"raise-firmware@host-{first.id}" not in waits


def test_a_label_waits_for_the_desktops_scope_though_the_host_is_on_another_network():
    management, desktops = (
        make(f.Network, purpose="management", dhcp="none"),
        make(f.Network, purpose="desktops"),
    )
    host = make(f.Host, network_id=management.id)
    steps = plan_of(management, desktops, host).stages.steps
    assert f"set-scope@network-{desktops.id}" in steps[f"make-label@host-{host.id}"].after


def test_an_images_step_settles_its_own_applications_only():
    images = [make(f.Image, name=name) for name in "ab"]
    app = make(f.Application, image_id=images[0].id)
    steps = plan_of(*images, app).stages.steps
    assert steps[f"install-applications@image-{images[0].id}"].settles == (
        f"application-ready@application-{app.id}",
    )
    assert steps[f"install-applications@image-{images[1].id}"].settles == ()


# -- Own checks, answers, what is gone -----------------------------------------------------------


def answer(key: str, state: str = "proven", **values) -> f.Answer:
    return f.Answer(check=key, state=state, **values)


def test_an_own_check_joins_its_stage_last():
    own = make(f.OwnCheck, name="The tills stay up", stage=3, why="They sell.", how="Look.")
    stage = plan_of(own, answer(f"own@owncheck-{own.id}", proof="seen")).stages.stages[2]
    last = stage.checks[-1]
    assert (last.title, last.why, last.origin, last.state, last.ref) == (
        "The tills stay up",
        "They sell.",
        "own",
        "proven",
        own.ref,
    )
    assert last.number == "3.201"


@pytest.mark.parametrize(("stage", "shown"), [(0, 1), (-5, 1), (9, 8), (10**12, 8)])
def test_an_own_check_of_no_stage_goes_to_the_nearest(stage, shown):
    own = make(f.OwnCheck, name="x", stage=stage)
    assert plan_of(own).stages.checks[f"own@owncheck-{own.id}"].stage == shown


def test_the_newest_answer_counts():
    early, late = (
        dt.datetime(2026, 3, 1, 9, tzinfo=dt.UTC),
        dt.datetime(2026, 3, 1, 10, tzinfo=dt.UTC),
    )
    answers = (
        answer("scope-agreed", "proven", at=late),
        answer("scope-agreed", "failed", at=early),
    )
    assert plan_of(*answers).stages.checks["scope-agreed"].state == "proven"


def test_an_answered_check_that_no_longer_applies_is_kept():
    host = make(f.Host, name="mill-h1", state="to-buy", address="10.0.0.1")
    key = f"host-delivered@{host.ref.anchor}"
    given = answer(key, proof="both boxes whole")
    assert not plan_of(host, given).stages.gone
    stays = dataclasses.replace(host, state="existing")
    gone = plan_of(stays, given).stages.gone
    assert [(one.key, one.answer, one.stage) for one in gone] == [(key, given, 3)]
    assert "mill-h1 was delivered" in gone[0].title
    removed = plan_of(given).stages.gone
    assert removed[0].answer == given
    assert f"{host.ref.anchor}, removed" in removed[0].title


def test_an_answer_to_a_check_that_the_catalogue_lost_is_kept():
    given = (
        answer("no-such-check", "failed", proof="x"),
        answer("own@owncheck-77"),
        answer("scope-agreed@host-3"),
    )
    gone = {one.key: one for one in plan_of(*given).stages.gone}
    assert set(gone) == {one.check for one in given}
    assert gone["no-such-check"].answer.proof == "x"
    assert gone["own@owncheck-77"].origin == "own"


def test_an_open_answer_leaves_nothing_behind():
    assert plan_of(answer("no-such-check", "open")).stages.gone == ()


def test_counts_and_fullness():
    answers = [
        answer("scope-agreed"),
        answer("people-counted", "trust"),
        answer("room-seen", "failed"),
        answer("flows-open", "excused"),
    ]
    stages = plan_of(*answers).stages
    survey = stages.stages[0]
    assert survey.counts == {
        "open": survey.total - 3,
        "proven": 1,
        "trust": 1,
        "excused": 0,
        "failed": 1,
    }
    assert survey.answered == 3
    assert (stages.answered, stages.total) == (4, len(stages.checks))
    assert stages.fullness == pytest.approx(4 / len(stages.checks))
    assert stages.passed == 0
    assert stages.current.number == 1


def test_the_plan_stays_what_it_is():
    """Working the stages out twice gives the same, and changes nothing in the facts."""
    facts = clinic()
    before = f.fingerprint(facts)
    assert Plan(facts).stages == Plan(facts).stages
    assert f.fingerprint(facts) == before
    assert site_facts().answers == ()
