"""A hosts file: the names to try with before DNS knows them. Source: hosts(5)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator

from planner.engine.addresses import ipv4
from planner.papers.configs.ground import Ground
from planner.papers.configs.names import Named
from planner.papers.configs.parts import Config, head
from planner.papers.configs.problems import Edition, Problem
from planner.papers.configs.words import commented, one_line
from planner.plan import Plan

TITLE = "Hosts file"
REPLACES = (
    "nothing. Its lines are added below those that stand in the file already, and taken out again once DNS "
    "answers for these names."
)
CAUTIONS = (
    "It is for one machine at a time, to try things before DNS is ready. A forgotten line sends people to an old "
    "address for years.",
    "It has no line for the machine itself (localhost): leave the one that is there.",
)


def hosts_file(plan: Plan, edition: Edition) -> Config:
    """A line for every address, its whole name first."""
    ground = Ground(plan)
    found, problems = ground.names, lacking(ground)
    lines = commented(
        head(plan, edition, title=TITLE, replaces=REPLACES, cautions=CAUTIONS, problems=problems),
        "#",
    )
    short = Counter(one.short for one in found.named)
    ordered = sorted(found.named, key=lambda one: (one.address is None, one.address or 0, one.name))
    lines += [line for one in ordered for line in _lines(one, short)]
    return Config("\n".join(lines) + "\n", problems)


def lacking(ground: Ground) -> tuple[Problem, ...]:
    """What the file of a plan lacks."""
    return ground.names.problems


def _lines(one: Named, short: Counter[str]) -> Iterator[str]:
    if one.domain and "." not in one.short and short[one.short] == 1:
        also = one.short
    else:
        also = ""
    text = "  ".join(filter(None, (one.name, also, f"# {one.role}: {one_line(one.label, 60)}")))
    if one.address is not None:
        yield f"{ipv4.to_text(one.address):15}  {text}"
    if one.ipv6 is not None:
        yield f"{one.ipv6!s:15}  {text}"
