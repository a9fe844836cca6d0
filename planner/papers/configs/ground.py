"""What several configurations of one plan are made from, each worked out once, when it is first asked for."""

from __future__ import annotations

import functools

from planner.papers.configs.firewall_rules import Rule, rules
from planner.papers.configs.names import Names, names
from planner.papers.configs.problems import Problem
from planner.papers.configs.scopes import Scope, scopes
from planner.plan import Plan


class Ground:
    """A plan's names, DHCP scopes and firewall rules; scopes and rules with what had to be left out of them."""

    def __init__(self, plan: Plan):
        self.plan = plan

    @functools.cached_property
    def names(self) -> Names:
        return names(self.plan)

    @functools.cached_property
    def scopes(self) -> tuple[list[Scope], list[Problem]]:
        return scopes(self.plan)

    @functools.cached_property
    def rules(self) -> tuple[list[Rule], list[Problem]]:
        return rules(self.plan)
