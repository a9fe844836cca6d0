"""The probe's script as a file: one file, the standard library alone, and no typed text that could be run."""

from __future__ import annotations

import ast
import dataclasses
import glob
import json
import os
import pathlib
import shutil
import subprocess
import sys
from collections import Counter

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from planner.papers.probe import probe_of, stem, write_script
from planner.papers.probe.writing import FOLDER, PARTS, data_of, joined
from planner.plan import Plan
from planner.record import facts as f
from tests.factories import site_facts
from tests.papers.demo_facts import PLANNED, demo

ODD_TEXTS = st.text(max_size=40) | st.sampled_from(
    [
        "'''",
        '"""',
        "\\",
        "\\'''",
        "'''\nimport os\n'''",
        "r'''",
        "\x00",
        "\r",
        "\x85",
        "\u2028",
        "\ud800",
        "{0}",
        "%s",
        "-*- coding: utf-7 -*-",
        "\N{RIGHT-TO-LEFT OVERRIDE}",
        "\x1b[2J",
        "</script>",
        "\\N{BULLET}",
        "\x7f",
        "'",
    ]
)


def script_of(plan: Plan, network: str = "rooms") -> str:
    [id] = [one.id for one in plan.facts.networks if one.name == network]
    return write_script(plan, probe_of(plan), id)


def pythons() -> list[str]:
    """Every Python of 3.8 or newer on this machine, ours first, one of each release."""
    named = [shutil.which(f"python3.{minor}") for minor in range(8, 20)]
    kept = sorted(glob.glob(os.path.expanduser("~/.pyenv/versions/3.*/bin/python")))
    found = {}
    for path in [sys.executable, *filter(None, named), *kept]:
        said = subprocess.run(
            [path, "-c", "import sys; print(*sys.version_info[:2])"], capture_output=True, text=True
        )
        release = tuple(map(int, said.stdout.split())) if said.returncode == 0 else (0, 0)
        if release >= (3, 8):
            found.setdefault(release, path)
    return list(found.values())


# -- one file, any Python from 3.8 on ------------------------------------------------------------


@pytest.mark.parametrize("name", PLANNED)
def test_it_is_python_of_3_8_and_imports_the_standard_library_alone(name):
    plan = Plan(demo(name))
    probe = probe_of(plan)
    for network in list(probe.by_network)[:3]:
        tree = ast.parse(write_script(plan, probe, network), feature_version=(3, 8))
        imported = {
            alias.name
            for node in ast.walk(tree)
            if isinstance(node, ast.Import)
            for alias in node.names
        }
        imported |= {
            node.module or "" for node in ast.walk(tree) if isinstance(node, ast.ImportFrom)
        }
        assert {one.partition(".")[0] for one in imported} <= sys.stdlib_module_names
        assert not any(node.level for node in ast.walk(tree) if isinstance(node, ast.ImportFrom))
        assert ast.get_docstring(tree).startswith("Deskwright probe")


def test_it_uses_nothing_newer_than_3_8():
    """What the grammar does not tell: methods, modules and arguments that came later."""
    newer = {
        "removeprefix",
        "removesuffix",
        "bit_count",
        "is_relative_to",
        "to_thread",
        "strict",
        "pairwise",
        "UTC",
    }
    for part in PARTS:
        tree = ast.parse((FOLDER / f"{part}.py").read_text(encoding="utf-8"))
        used = {node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
        used |= {
            word.arg
            for node in ast.walk(tree)
            if isinstance(node, ast.Call)
            for word in node.keywords
        }
        assert not used & newer, part


def test_the_parts_share_one_namespace():
    names = Counter()
    for part in PARTS:
        for node in ast.parse((FOLDER / f"{part}.py").read_text(encoding="utf-8")).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                names[node.name] += 1
            elif isinstance(node, ast.Assign):
                names.update(
                    target.id
                    for place in node.targets
                    for target in ast.walk(place)
                    if isinstance(target, ast.Name)
                )
    assert [name for name, count in names.items() if count > 1] == []


def test_it_is_joined_from_all_its_parts():
    script = script_of(Plan(demo("harbour")))
    assert "planner" not in script
    for part in PARTS:
        source = (FOLDER / f"{part}.py").read_text(encoding="utf-8")
        for node in ast.parse(source).body:
            if isinstance(node, ast.FunctionDef | ast.ClassDef):
                assert ast.get_source_segment(source, node) in script, node.name


@pytest.mark.parametrize("python", pythons())
def test_it_says_what_it_would_ask_and_asks_nobody_else(python, tmp_path):
    plan = Plan(demo("harbour"))
    path = tmp_path / "probe.py"
    path.write_text(script_of(plan), encoding="utf-8")

    def run(*options):
        command = [python, "-W", "error", str(path), *options]
        return subprocess.run(
            command, capture_output=True, text=True, cwd=tmp_path, stdin=subprocess.DEVNULL
        )

    listed = run("--list")
    tasks = next(
        tasks
        for id, tasks in probe_of(plan).by_network.items()
        if plan.facts.named("network", id) == "rooms"
    )
    assert listed.returncode == 0 and len(listed.stdout.splitlines()) == len(tasks)
    assert all(task.words in listed.stdout for task in tasks)
    helped = run("--help")
    assert helped.returncode == 0 and "exit codes" in helped.stdout
    assert run("--seconds", "0").returncode == 3 and run("--nothing-like-it").returncode == 3
    assert (
        run("--at", "nobody=10.0.0.1").returncode == 3 and run("--at", "surgery=x").returncode == 3
    )
    elsewhere = run("--yes")  # this machine is not at Harbour Lane
    assert elsewhere.returncode == 3 and "no address in rooms" in elsewhere.stdout
    assert list(tmp_path.iterdir()) == [path]


# -- typed text is data --------------------------------------------------------------------------


def odd_site(texts: list[str]) -> f.SiteFacts:
    """A site whose every text is one of these, where there is room for one."""
    a, b, c, d, e, g = texts
    return site_facts(
        f.Site(id=1, name=a, code=b, purpose="live"),
        f.Network(
            id=1,
            name=c,
            cidr="10.0.0.0/24",
            gateway="10.0.0.1",
            dns_servers=("10.0.0.5", d),
            domain_suffix=e,
            purpose="management",
            dhcp="range",
            dhcp_first="10.0.0.9",
            dhcp_last="10.0.0.99",
            dhcp_server=g,
        ),
        f.Server(
            id=1, name=d, address="10.0.0.5", roles=("directory", "dns", "time"), network_id=1
        ),
        f.Host(id=1, name=e, management_name=g, address="10.0.0.11", network_id=1, mac=a),
        f.Directory(id=1, directory_kind="domain", domain=b),
        f.Service(
            id=1,
            name=c,
            entry_name=d,
            address="10.0.0.30",
            agent_ports=(e, "8443/tcp"),
            certificate="own",
        ),
        f.Appliance(id=1, name=g, address="10.0.0.31", network_id=1, host_id=1),
        f.Image(id=1, name=a),
        f.Template(id=1, name=b, image_id=1, network_id=1),
        f.SeatGroup(id=1, name=c, template_id=1, network_id=1),
        f.OwnFlow(
            id=1, name=d, from_network_id=1, to_what="10.0.0.40", transport="tcp", ports="5432"
        ),
        customer=e,
        customer_code=g,
    )


@settings(max_examples=100, deadline=None, suppress_health_check=list(HealthCheck))
@given(st.lists(ODD_TEXTS, min_size=6, max_size=6))
def test_no_text_breaks_out_of_its_place(texts):
    """The file's code is the same whoever typed what; what differs is one statement, which is one constant's text."""
    plan = Plan(odd_site(texts))
    probe = probe_of(plan)
    script = write_script(plan, probe, 1)
    before, after = joined()
    assert script.startswith(before) and script.endswith(after) and before.endswith("\n")
    slot = script[len(before) : len(script) - len(after)]
    assert slot.endswith("\n") and slot.replace("\n", "").isprintable() and slot.isascii()
    [place] = ast.parse(slot).body
    assert isinstance(place, ast.Assign) and [target.id for target in place.targets] == ["DATA"]
    assert isinstance(place.value, ast.Constant) and isinstance(place.value.value, str)
    assert json.loads(place.value.value) == json.loads(json.dumps(data_of(plan, probe, 1)))


@pytest.mark.parametrize(
    "text", ["'''\nimport os\n'''", "\\", "\ud800", "\x00", "-*- coding: utf-7 -*-"]
)
def test_the_whole_file_is_the_same_code(text):
    plan = Plan(odd_site([text] * 6))
    code = [
        ast.parse(script)
        for script in (write_script(plan, probe_of(plan), 1), script_of(Plan(demo("harbour"))))
    ]
    for tree in code:
        for node in tree.body:
            if isinstance(node, ast.Assign) and getattr(node.targets[0], "id", "") == "DATA":
                node.value = ast.Constant("")
    assert ast.dump(code[0]) == ast.dump(code[1])


@settings(max_examples=50, deadline=None)
@given(st.lists(ODD_TEXTS, min_size=3, max_size=3))
def test_a_files_name_is_plain(texts):
    plan = Plan(odd_site([*texts, *texts]))
    name = stem(plan, probe_of(plan), 1)
    assert name == pathlib.PurePosixPath(name).name and all(
        one.isascii() and (one.isalnum() or one == "-") for one in name
    )


def test_what_it_shows_cannot_move_the_cursor(tmp_path):
    network = dataclasses.replace(
        demo("harbour").networks[0], name="a\x1b[2Jb\rc\n\N{RIGHT-TO-LEFT OVERRIDE}d"
    )
    facts = dataclasses.replace(demo("harbour"), networks=(network, *demo("harbour").networks[1:]))
    plan = Plan(facts)
    path = tmp_path / "probe.py"
    path.write_text(write_script(plan, probe_of(plan), network.id), encoding="utf-8")
    for options in (["--list"], ["--yes"]):
        said = subprocess.run(
            [sys.executable, path, *options], capture_output=True, stdin=subprocess.DEVNULL
        )
        text = said.stdout.decode()
        assert "a [2Jb c d" in text and text.replace("\n", "").isprintable()


def test_a_screen_of_few_letters_is_enough(tmp_path):
    path = tmp_path / "probe.py"
    path.write_text(script_of(Plan(demo("harbour"))), encoding="utf-8")
    told = {**os.environ, "PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    for options in (["--list"], ["--help"], ["--yes"]):
        said = subprocess.run(
            [sys.executable, path, *options],
            capture_output=True,
            env=told,
            stdin=subprocess.DEVNULL,
        )
        assert said.returncode in (0, 3) and b"Traceback" not in said.stderr
