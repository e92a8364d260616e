"""Keys to begin with: orders by how much hangs on a step, by a hint, by what was told."""

import numpy as np

from tackwatch.plan.engine.arrays import FAR, Arrays
from tackwatch.plan.engine.compiled.desk import GENE, Genes
from tackwatch.plan.model import Plan, Project


def tails(a: Arrays) -> np.ndarray:
    """Give, by step, the slots from its start to the end of all that hangs on it, cures as they mostly are."""
    gap, work = a.arcs["least"].astype(np.float64), a.steps["work"]
    for k in np.flatnonzero(a.arcs["ready"] >= 0):
        row = a.tables[a.arcs["ready"][k]]
        ends = np.arange(0, a.slots, max(1, a.slots // 200))
        known = row[ends] < FAR
        if known.any():
            gap[k] = max(gap[k], float(np.median((row[ends] - ends)[known])))
    tail = work.astype(np.float64)
    order = a.arcs["order"] == 1
    before, after = a.arcs["before"][order], a.arcs["after"][order]
    for _ in range(len(work)):
        longer = tail.copy()
        np.maximum.at(longer, before, work[before] + gap[order] + tail[after])
        if np.array_equal(longer, tail):
            break
        tail = longer
    return tail


def by_tail(a: Arrays, noise: float, chance: np.random.Generator, hold: int = 2) -> Genes:
    """Give keys by which what most hangs on comes first; `hold`: how a coat is held back, see `decode`."""
    tail = tails(a)
    keys = _plain(a)
    keys.steps["hold"], keys.steps["chain"] = hold, hold > 0
    keys.steps["prio"] = -tail * (1 + noise * chance.random(len(tail)))
    keys.who[:] += _scarce(a) + (noise > 0) * 0.3 * chance.random(keys.who.shape)
    return keys


def by_told(a: Arrays) -> Genes:
    """Give keys that keep to what was told, where that is possible."""
    keys = by_tail(a, 0.0, np.random.default_rng(0))
    told, start = a.steps["told"] < FAR, a.steps["told"]
    keys.steps["prio"][told] = start[told]
    if told.any():
        first, tail = start[told].min(), tails(a)
        keys.steps["prio"][~told] = first + tail.max() - tail[~told]
    return keys


def by_plan(a: Arrays, project: Project, plan: Plan, exactly: bool) -> Genes:
    """Give keys that lead to a plan, or near it where it breaks a rule."""
    keys = _plain(a)
    number = {step.id: i for i, step in enumerate(project.steps)}
    person = {one.id: p for p, one in enumerate(project.people)}
    keys.steps["prio"] = FAR
    for one in plan.placed:
        if (i := number.get(one.step_id)) is None:
            continue
        keys.steps["prio"][i] = one.start
        keys.steps["aim"][i] = one.start
        for id_ in one.people:
            if id_ in person:
                keys.who[i, person[id_]] -= 15 if exactly else 1
    return keys


def by_starts(a: Arrays, start: np.ndarray, crew: np.ndarray) -> Genes:
    """Give keys that lead to the plan with these starts and crews."""
    keys = _plain(a)
    keys.steps["prio"] = start
    keys.steps["aim"] = start
    for c in range(crew.shape[1]):
        has = np.flatnonzero(crew[:, c] >= 0)
        keys.who[has, crew[has, c]] = -15
    return keys


def _plain(a: Arrays) -> Genes:
    steps = np.zeros(len(a.steps), dtype=GENE)
    steps["hold"], steps["chain"] = 2, 1
    steps["aim"] = np.where(a.steps["told"] < FAR, a.steps["told"], -1)
    return Genes(steps, (-10.0 * a.told_by).astype(np.float32))


def _scarce(a: Arrays) -> np.ndarray:
    """Give, by person, how much they are sought: who can do little else goes first."""
    sought = np.zeros(max(a.people, 1))
    for step in a.steps:
        np.add.at(sought, a.lists[step["able_at"] : step["able_to"]], 1)
    scarce: np.ndarray = (0.5 * sought / max(1, sought.max(initial=1))).astype(np.float32)
    return scarce


def copy(source: Genes, target: Genes) -> None:
    """Copy keys."""
    for theirs, mine in zip(source, target, strict=True):
        mine[:] = theirs


def copied(source: Genes) -> Genes:
    """Give a copy of keys."""
    return Genes(source.steps.copy(), source.who.copy())
