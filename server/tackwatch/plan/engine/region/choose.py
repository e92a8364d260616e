"""Which part of a plan is made anew.

Rules
-----
* A plan of few steps is made anew as a whole, each step within some days of where it is.
* Of a larger one a part is taken around what costs most: a missed window, a step that moved, the
  steps that end last; else around a moment. What is linked to it, and what its people do, is near.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, Arrays
from tackwatch.plan.engine.compiled.desk import Desk
from tackwatch.plan.engine.region.masks import Part

WHOLE: Final = 200


def whole(a: Arrays, d: Desk, reach: int) -> Part:
    """Give the part that is everything, each step at most `reach` slots from where it is."""
    return _part(a, d, a.steps["fixed"] >= FAR, reach)


def around(a: Arrays, d: Desk, chance: np.random.Generator, size: int, reach: int) -> Part:
    """Give a part of at most `size` steps around what costs most."""
    free = a.steps["fixed"] >= FAR
    anchors = _anchors(a, d, chance, free)
    start = d.steps["start"].astype(np.float64)
    far = np.min([np.abs(start - start[i]) for i in anchors], axis=0)
    people = {int(p) for i in anchors for p in d.crew[i] if p >= 0}
    theirs = np.isin(d.crew, list(people)).any(axis=1)
    far = np.where(theirs, far * 0.6, far)
    for i in _linked(a, anchors):
        far[i] *= 0.2
    far *= 0.7 + 0.6 * chance.random(len(far))
    far[anchors] = -1
    far[~free] = np.inf
    nearest = np.argsort(far, kind="stable")[: min(size, int(free.sum()))]
    chosen = np.zeros(len(far), dtype=bool)
    chosen[nearest] = True
    return _part(a, d, chosen & free, reach)


def _anchors(
    a: Arrays, d: Desk, chance: np.random.Generator, free: NDArray[np.bool_]
) -> NDArray[np.int64]:
    missed, dice = np.flatnonzero(d.missed), chance.random()
    end = d.steps["end"]
    last = end[a.steps["must"] == 1].max(initial=0)
    if last > a.launch and dice < 0.4:
        late = np.flatnonzero((a.steps["must"] == 1) & (end > last - 96) & free)
        if len(late):
            return late[-3:]
    if len(missed) and dice < 0.85:
        k = chance.choice(missed)
        ends = np.array([a.arcs["before"][k], a.arcs["after"][k]])
        return ends[free[ends]] if free[ends].any() else _any(chance, free)
    moved = np.flatnonzero((a.steps["told"] < FAR) & (a.steps["told"] != d.steps["start"]) & free)
    if len(moved) and dice < 0.95:
        return chance.choice(moved, min(len(moved), int(chance.integers(1, 4))), replace=False)
    return _any(chance, free)


def _any(chance: np.random.Generator, free: NDArray[np.bool_]) -> NDArray[np.int64]:
    return chance.choice(np.flatnonzero(free), 1)


def _linked(a: Arrays, anchors: NDArray[np.int64]) -> set[int]:
    """Give the steps within two arcs of the anchors."""
    near = {int(i) for i in anchors}
    for _ in range(2):
        touched = np.isin(a.arcs["before"], list(near)) | np.isin(a.arcs["after"], list(near))
        near |= {int(i) for name in ("before", "after") for i in a.arcs[name][touched]}
    return near


def _part(a: Arrays, d: Desk, free: NDArray[np.bool_], reach: int) -> Part:
    """Let steps move within reach of where they are, and back to where they were told to be."""
    start = d.steps["start"].astype(np.int64)
    told = np.where(a.steps["told"] < FAR, a.steps["told"], start)
    lo, hi = np.minimum(start, told) - reach, np.maximum(start, told) + reach
    return Part(free, np.maximum(0, lo), np.minimum(a.slots, hi))
