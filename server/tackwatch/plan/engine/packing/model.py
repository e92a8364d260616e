"""The constraint model of a project that takes the short way."""

from dataclasses import dataclass
from typing import Final

import numpy as np
from ortools.sat.python import cp_model

from tackwatch.plan.engine.packing.short import Ints, Short, heads, tails

FAR: Final = 2**40


@dataclass(frozen=True)
class Answer:
    """What CP-SAT says: starts if it has some, a bound of the span, and whether there is proof that there are none."""

    start: Ints | None
    bound: int
    infeasible: bool


def pack_by_model(
    p: Short, hint: Ints | None, least: int, most: int, seconds: float, workers: int, seed: int
) -> Answer:
    """Ask CP-SAT for a packing that takes from `least` to `most` slots.

    Parameters
    ----------
    p : Short
        The project.
    hint : array, optional
        Starts to begin with.
    least, most : int
        What is known of the span.
    seconds, workers, seed
        How to search.
    """
    model = cp_model.CpModel()
    head, tail = heads(p), tails(p)
    last = np.where(p.must, most - tail, p.slots - p.work)
    for _ in range(len(p.work) + 1):
        sooner = last.copy()
        np.minimum.at(sooner, p.tail, last[p.head] - p.gap)
        if np.array_equal(sooner, last):
            break
        last = sooner
    if (last < head).any():
        return Answer(None, least, infeasible=hint is None)
    start = [model.new_int_var(int(a), int(b), "") for a, b in zip(head, last, strict=True)]
    for b, a, gap in zip(p.tail.tolist(), p.head.tolist(), p.gap.tolist(), strict=True):
        model.add(start[a] >= start[b] + gap)
    interval = [
        model.new_fixed_size_interval_var(s, int(n), "") for s, n in zip(start, p.work, strict=True)
    ]
    for k, holds in enumerate(p.holds.tolist()):
        using = np.flatnonzero((p.demand[:, k] > 0) & (p.work > 0))
        if p.demand[using, k].sum() > holds:
            model.add_cumulative(
                [interval[i] for i in using], [int(p.demand[i, k]) for i in using], holds
            )
    span = model.new_int_var(least, most, "")
    for i in np.flatnonzero(p.must):
        model.add(span >= start[i] + int(p.work[i]))
    if hint is not None:
        for s, value in zip(start, hint.tolist(), strict=True):
            model.add_hint(s, value)
        model.add_hint(span, int((hint + p.work)[p.must].max()))
    model.minimize(span)
    solver = cp_model.CpSolver()
    solver.parameters.max_time_in_seconds = max(seconds, 0.01)
    solver.parameters.num_workers = workers
    solver.parameters.random_seed = seed
    status = solver.solve(model)
    if status in (cp_model.OPTIMAL, cp_model.FEASIBLE):
        found = np.array([solver.value(s) for s in start], dtype=np.int64)
        return Answer(found, int(np.ceil(solver.best_objective_bound - 1e-6)), False)
    return Answer(None, least, status == cp_model.INFEASIBLE)
