"""The exact answer to a packing: an integer programme for HiGHS.

Asked only when the quick ways and the quick bounds disagree. The wording of the programme: whole
numbers x[class, host]; each host's memory and vCPU and each pool's disk hold; the sum is largest.
"""

from __future__ import annotations

import math
from types import ModuleType
from typing import TYPE_CHECKING

import numpy as np

from planner.engine.placement.packing.bounds import reachable
from planner.engine.placement.packing.problem import Problem, Work

if TYPE_CHECKING:
    from highspy import HighsLp

Row = tuple[float, float, list[tuple[int, int]]]  # least, most, (column, factor) of each term
VARIABLES = 4000  # beyond it the solver is not asked
DESKTOPS = 10**6  # nor beyond so many: its arithmetic is in floating point
SECONDS = 1.0  # for one answer

Placed = tuple[tuple[int, ...], ...]


def solve(
    problem: Problem, least: list[int], most: list[int], bound: int, work: Work
) -> tuple[Placed, int] | None:
    """The placement with the most desktops, between ``least`` and ``most`` of each class, and an upper
    bound on how many can be placed (equal to those placed when the answer is proved).

    ``bound`` is an upper bound already known. ``None`` when the solver was not asked (too large, no
    time left) or came back without a placement.
    """
    wide, tall = len(problem.bins), len(problem.classes)
    if wide * tall > VARIABLES or bound > DESKTOPS or work.solver_seconds <= 0:
        return None
    import highspy  # loading it takes longer than most answers: only where it is needed

    highs = highspy.Highs()
    highs.setOptionValue("output_flag", False)
    highs.setOptionValue("threads", 1)
    highs.setOptionValue("random_seed", 1)
    highs.setOptionValue("time_limit", min(SECONDS, work.solver_seconds))
    highs.setOptionValue("mip_rel_gap", 0.0)
    highs.setOptionValue("mip_abs_gap", 0.999)
    highs.passModel(_model(highspy, problem, least, most, bound, work))
    highs.run()
    work.solver_calls += 1
    work.solver_seconds -= highs.getRunTime()
    info = highs.getInfo()
    if highs.getModelStatus() == highspy.HighsModelStatus.kInfeasible:
        return None
    if info.primal_solution_status != highspy.SolutionStatus.kSolutionStatusFeasible:
        return None
    values = np.rint(np.array(highs.getSolution().col_value)).astype(np.int64).reshape(tall, wide)
    placed = tuple(tuple(int(count) for count in row) for row in values)
    if not holds(problem, placed, least, most):
        return None
    at_most = bound
    if math.isfinite(info.mip_dual_bound):
        at_most = min(bound, math.floor(info.mip_dual_bound + 1e-6))
    return placed, max(at_most, int(values.sum()))


def holds(problem: Problem, placed: Placed, least: list[int], most: list[int]) -> bool:
    """Whether a placement keeps every limit, in whole numbers: the solver's rounding is not believed."""
    for number, row in enumerate(placed):
        if min(row, default=0) < 0 or not least[number] <= sum(row) <= most[number]:
            return False
    pools = [0] * len(problem.pools)
    for at, one in enumerate(problem.bins):
        counts = [(ask, row[at]) for ask, row in zip(problem.classes, placed, strict=True)]
        if sum(ask.memory * count for ask, count in counts) > one.memory:
            return False
        if sum(ask.vcpu * count for ask, count in counts) > one.vcpu:
            return False
        if one.pool >= 0:
            pools[one.pool] += sum(ask.disk * count for ask, count in counts)
    return all(used <= size for used, size in zip(pools, problem.pools, strict=True))


def _model(
    highspy: ModuleType, problem: Problem, least: list[int], most: list[int], bound: int, work: Work
) -> HighsLp:
    """Variables class by class, host by host. Room is cut to what the desktops' sizes can reach."""
    wide, tall = len(problem.bins), len(problem.classes)
    rows: list[Row] = []
    for dimension in ("memory", "vcpu"):
        sizes = [getattr(one, dimension) for one in problem.classes]
        asks = tuple(
            sorted(
                (size, most[number]) for number, size in enumerate(sizes) if size and most[number]
            )
        )
        if asks:
            step = math.gcd(*(size for size, _ in asks))
        else:
            step = 1
        for at, one in enumerate(problem.bins):
            room = reachable(getattr(one, dimension), asks, work) // step
            rows.append(
                (
                    -math.inf,
                    room,
                    [(n * wide + at, size // step) for n, size in enumerate(sizes) if size],
                )
            )
    for pool, size in enumerate(problem.pools):
        members = [at for at, one in enumerate(problem.bins) if one.pool == pool]
        terms = [
            (n * wide + at, ask.disk)
            for n, ask in enumerate(problem.classes)
            if ask.disk
            for at in members
        ]
        if terms:
            rows.append((-math.inf, size, terms))
    for number in range(tall):
        rows.append((least[number], most[number], [(number * wide + at, 1) for at in range(wide)]))
    rows.append((-math.inf, bound, [(column, 1) for column in range(wide * tall)]))
    return _lp(highspy, problem, most, rows)


def _lp(highspy: ModuleType, problem: Problem, most: list[int], rows: list[Row]) -> HighsLp:
    wide, tall = len(problem.bins), len(problem.classes)
    lp: HighsLp = highspy.HighsLp()
    lp.num_col_, lp.num_row_ = wide * tall, len(rows)
    lp.sense_ = highspy.ObjSense.kMaximize
    lp.col_cost_ = np.ones(wide * tall)
    lp.col_lower_ = np.zeros(wide * tall)
    lp.col_upper_ = np.array(
        [
            min(
                most[n],
                one.memory // ask.memory if ask.memory else most[n],
                one.vcpu // ask.vcpu if ask.vcpu else most[n],
            )
            for n, ask in enumerate(problem.classes)
            for one in problem.bins
        ],
        dtype=float,
    )
    lp.row_lower_ = np.array([row[0] for row in rows], dtype=float)
    lp.row_upper_ = np.array([row[1] for row in rows], dtype=float)
    starts = np.cumsum([0] + [len(row[2]) for row in rows])
    lp.a_matrix_.format_ = highspy.MatrixFormat.kRowwise
    lp.a_matrix_.start_ = starts
    lp.a_matrix_.index_ = np.array([column for row in rows for column, _ in row[2]], dtype=np.int32)
    lp.a_matrix_.value_ = np.array([value for row in rows for _, value in row[2]], dtype=float)
    lp.integrality_ = [highspy.HighsVarType.kInteger] * (wide * tall)
    return lp
