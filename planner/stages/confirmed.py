"""Which flows of the port sheet somebody has seen pass: what the answers of the checks say of each.

``fixtures/catalogue/ports.toml`` names the checks that prove a rule's flows. One that is asked for each
record of a kind proves a flow when it is proven for everybody at one of the flow's ends. ``flows-open``
tries the whole sheet and proves every line; where it failed, nobody knows which line it was.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import Annotated

from planner.catalogue import files as catalogue
from planner.engine.flows.ends import Holder
from planner.engine.flows.port_sheet import Flow
from planner.engine.results import Results
from planner.record.choices import AnswerState
from planner.record.facts import Ref, Template, ref_of
from planner.stages.answers import moment
from planner.stages.results import SiteCheck, Stages

WHOLE_SHEET = "flows-open"


@dataclass(frozen=True, slots=True)
class Confirmation:
    """What is known of one flow: one of the five answers' states, and the checks it rests on."""

    state: Annotated[str, AnswerState] = AnswerState.OPEN
    checks: tuple[SiteCheck, ...] = ()


def confirmed(plan: Results, stages: Stages) -> tuple[Confirmation, ...]:
    """One confirmation for each flow of the plan, in the sheet's order.

    Of several looks the newest counts, whether it saw the flow pass or fail; only where nobody looked
    does *on trust* count, and then *excused*.
    """
    prover = _Prover(plan, stages)
    return tuple(prover.of(flow) for flow in plan.flows.flows)


class _Prover:
    def __init__(self, plan: Results, stages: Stages):
        self.plan, self.checks = plan, stages.checks
        self.rules = catalogue.load("ports")["rules"]
        templates = plan.facts.templates
        self._record_of: dict[str, Callable[[Ref], Ref | None]] = {
            "image": _through(templates, "image_id", "image"),
            "network": _through(templates, "network_id", "network"),
        }
        self._by_name: dict[str, dict[Ref | None, SiteCheck]] = {}
        for key, check in self.checks.items():
            name, _, anchor = key.partition("@")
            self._by_name.setdefault(name, {})[ref_of(anchor)] = check

    def of(self, flow: Flow) -> Confirmation:
        proofs = [WHOLE_SHEET, *(self.rules.get(flow.rule, {}).get("proofs", ()))]
        evidence = [one for proof in proofs for one in self._evidence(proof, flow)]
        looked = [one for one in evidence if one.state in (AnswerState.PROVEN, AnswerState.FAILED)]
        if looked:
            return max(looked, key=lambda one: max(moment(check.answer.at) for check in one.checks))
        said = [
            one
            for state in (AnswerState.TRUST, AnswerState.EXCUSED)
            for one in evidence
            if one.state == state
        ]
        if said:
            return said[0]
        return Confirmation()

    def _evidence(self, proof: str, flow: Flow) -> Iterator[Confirmation]:
        name, _, only = proof.partition(":")
        if only and only not in (flow.transport, f"{flow.ports}/{flow.transport}"):
            return
        asked = self._by_name.get(name, {})
        if None in asked:
            check = asked[None]
            if name != WHOLE_SHEET or check.state != AnswerState.FAILED:
                yield Confirmation(check.state, (check,))
            return
        kind = next((ref.kind for ref in asked if ref is not None), "")
        for end in (flow.source, flow.target):
            found = self._of_end(end.holders, kind, asked)
            if found:
                yield _together(found)

    def _of_end(
        self, holders: tuple[Holder, ...], kind: str, asked: dict[Ref | None, SiteCheck]
    ) -> list[SiteCheck]:
        """The checks that cover everybody at an end; empty when somebody is not covered."""
        found: dict[str, SiteCheck] = {}
        through = self._record_of.get(kind, _itself)
        for holder in holders:
            if holder.ref is not None:
                ref = through(holder.ref)
            else:
                ref = None
            if ref is not None:
                check = asked.get(ref)
            else:
                check = None
            if check is None:
                return []
            found[check.key] = check
        return list(found.values())


def _itself(ref: Ref) -> Ref:
    return ref


def _through(templates: tuple[Template, ...], field: str, kind: str) -> Callable[[Ref], Ref | None]:
    """From a template to the record it refers to: what is proven for an image is proven for its desktops."""
    refers = {
        one.ref: Ref(kind, getattr(one, field))
        for one in templates
        if getattr(one, field) is not None
    }
    return refers.get


BETTER = (  # best first; a failed one decides alone
    AnswerState.PROVEN,
    AnswerState.TRUST,
    AnswerState.EXCUSED,
    AnswerState.OPEN,
)


def _together(checks: list[SiteCheck]) -> Confirmation:
    """Checks of everybody at one end as one: failed when one is, else as good as the worst of them."""
    failed = tuple(check for check in checks if check.state == AnswerState.FAILED)
    if failed:
        return Confirmation(AnswerState.FAILED, failed)
    states = [AnswerState(check.state) for check in checks]
    return Confirmation(max(states, key=BETTER.index), tuple(checks))
