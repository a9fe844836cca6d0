"""Writing: joins the script's parts into one file and puts a site's questions into it.

What people typed is only ever data. It stands as JSON in one raw string of the file, in ASCII and without a single
quote, which JSON may write as an escape; so nothing in it can end the string, and nothing is ever run.
"""

from __future__ import annotations

import ast
import functools
import json
import pathlib
import re
from collections import Counter
from typing import Any

from planner.papers.configs.words import one_line
from planner.papers.probe.tasks import Probe
from planner.plan import Plan
from planner.record.facts import Id

FOLDER = pathlib.Path(__file__).with_name("script")
PARTS = ("words", "names", "clock", "reach", "line", "leases", "certificate", "asking", "run")
SLOT = 'DATA = ""  # the site\'s questions, as JSON\n'
MEDIA_TYPE = "text/x-python; charset=utf-8"


def write_script(plan: Plan, probe: Probe, network_id: Id) -> str:
    """The script to run from one network. Raises ``KeyError`` for a network that has nothing to ask."""
    before, after = joined()
    return f"{before}DATA = r'''\n{embedded(data_of(plan, probe, network_id))}\n'''\n{after}"


def data_of(plan: Plan, probe: Probe, network_id: Id) -> dict[str, Any]:
    """What the script knows of a site: nothing but what its questions need."""
    tasks, place = probe.by_network[network_id], probe.places[network_id]
    facts = plan.facts
    wanted = Counter(task.ask["machine"] for task in tasks if "machine" in task.ask)
    return {
        "customer": one_line(facts.customer, 120),
        "customer_code": facts.customer_code,
        "site": one_line(facts.site.name, 120),
        "site_code": facts.site.code,
        "fingerprint": plan.fingerprint,
        "file": stem(plan, probe, network_id),
        "network": {
            "id": network_id,
            "name": one_line(place.network.label, 120),
            "subnet": str(place.block),
            "gateway": place.gateway,
        },
        "machines": [
            {"key": key, "name": probe.names.get(key, key), "count": count}
            for key, count in wanted.items()
        ],
        "tasks": [
            {"id": task.id, "kind": task.kind, "words": task.words, **task.ask} for task in tasks
        ],
    }


def stem(plan: Plan, probe: Probe, network_id: Id) -> str:
    """What files of this network are called, without their ending: ``larkfield-harbour-probe-rooms``."""
    words = (
        plan.facts.customer_code,
        plan.facts.site.code,
        "probe",
        probe.places[network_id].network.label,
    )
    plain = (re.sub(r"[^A-Za-z0-9]+", "-", word)[:40].strip("-").lower() for word in words)
    return "-".join(filter(None, plain))


def embedded(data: dict[str, Any]) -> str:
    """JSON that a raw string in single quotes can hold as it stands, one question a line."""
    head = {key: value for key, value in data.items() if key != "tasks"}
    lines = [f"{_plain(key)}: {_plain(value)}" for key, value in head.items()]
    tasks = ",\n".join(_plain(task) for task in data["tasks"])
    return "{" + ",\n".join([*lines, f'"tasks": [\n{tasks}\n]']) + "}"


def _plain(value: Any) -> str:
    return json.dumps(value, ensure_ascii=True).replace("'", "\\u0027").replace("\x7f", "\\u007f")


@functools.cache
def joined() -> tuple[str, str]:
    """The script without its questions, parted where they belong."""
    head = _source("head")
    imports: set[str] = set()
    bodies = [_body(name, imports) for name in PARTS]
    lines = [head.rstrip(), "", "from __future__ import annotations", "", *sorted(imports), ""]
    whole = "\n".join(lines) + "".join(bodies)
    before, _, after = whole.partition(SLOT)
    return before, after


def _source(name: str) -> str:
    return (FOLDER / f"{name}.py").read_text(encoding="utf-8")


def _body(name: str, imports: set[str]) -> str:
    """A part's code: its description as comments, its imports taken out and noted."""
    source = _source(name)
    tree, lines = ast.parse(source), source.splitlines()
    for node in tree.body:
        if isinstance(node, ast.Import):
            imports.update(f"import {alias.name}" for alias in node.names)
        if isinstance(node, ast.Import | ast.ImportFrom):
            lines[node.lineno - 1 : node.end_lineno] = [""] * (
                (node.end_lineno or node.lineno) - node.lineno + 1
            )
    first = tree.body[0]
    lines[: first.end_lineno] = [""] * (first.end_lineno or 0)
    told = [f"# {line}".rstrip() for line in (ast.get_docstring(tree) or "").splitlines()]
    code = "\n".join(lines).strip("\n")
    rule = "# " + "=" * 98
    return "\n\n" + "\n".join([rule, *told, rule]) + f"\n\n\n{code}\n"
