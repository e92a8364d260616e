"""What the lateness is at least, without search.

Theory
------
Each step ends at the earliest when those before it do so, its cures have run, and its people, none of
them busy with anything else, are there. And a group of people can do no more than the slots in which
they are there: what only they can do is not done before these have come to the work, wherever it begins.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, NONE, Arrays

Ints = NDArray[np.int64]
NO_WAY: Final = np.int64(FAR)


def least_lateness(a: Arrays) -> int:
    """Give a lateness that no plan is below."""
    must = a.steps["must"] == 1
    if not must.any():
        return 0
    ends = earliest_ends(a)
    last = max(int(ends[must].max()), _by_people(a, ends - a.steps["work"], must))
    return max(0, min(last, a.slots) - a.launch)


def earliest_ends(a: Arrays) -> Ints:
    """Give the earliest ends of steps, each by what comes before it and by the hours of its people alone."""
    work = a.steps["work"].astype(np.int64)
    fixed = a.steps["fixed"] < FAR
    start = np.where(fixed, a.steps["fixed"], a.steps["earliest"]).astype(np.int64)
    next_fit = _Hours(a)
    waits = np.bincount(a.arcs["after"][a.arcs["order"] == 1], minlength=len(work))
    free = [int(i) for i in np.flatnonzero(waits == 0)]
    for i in free:
        if not fixed[i]:
            start[i] = next_fit(i, int(start[i]))
        for k in a.lists[a.steps["out_at"][i] : a.steps["out_to"][i]]:
            if not a.arcs["order"][k]:
                continue
            j, end = int(a.arcs["after"][k]), int(start[i] + work[i])
            opens = end + int(a.arcs["least"][k])
            row = a.arcs["ready"][k]
            if row != NONE:
                opens = max(opens, int(a.tables[row, min(max(end, 0), a.slots)]))
            if not fixed[j]:
                start[j] = max(start[j], opens)
            waits[j] -= 1
            if waits[j] == 0:
                free.append(j)
    return start + work


class _Hours:
    """When a step that is alone may begin, from a slot on."""

    def __init__(self, a: Arrays) -> None:
        self.a = a
        self._stretch = a.free - np.arange(a.slots + 1, dtype=np.int32)
        self._next: dict[tuple[object, ...], Ints] = {}

    def __call__(self, i: int, slot: int) -> int:
        step = self.a.steps[i]
        if step["crew"] == 0 or slot > self.a.slots:
            return slot
        able = tuple(self.a.lists[step["able_at"] : step["able_to"]].tolist())
        key = (able, int(step["crew"]), int(step["work"]))
        if key not in self._next:
            fit = (self._stretch[list(able)] >= max(key[2], 1)).sum(axis=0) >= key[1]
            slots = np.where(fit, np.arange(self.a.slots + 1), NO_WAY)
            self._next[key] = np.minimum.accumulate(slots[::-1])[::-1]
        return int(self._next[key][max(slot, 0)])


def _by_people(a: Arrays, starts: Ints, must: NDArray[np.bool_]) -> int:
    """Give when the people of each group have been there for as long as what only they can do takes."""
    able = [
        frozenset(a.lists[one["able_at"] : one["able_to"]].tolist()) if one["crew"] else frozenset()
        for one in a.steps
    ]
    open_ = a.free > 0
    last = 0
    for group in {*able, frozenset(range(a.people))} - {frozenset()}:
        theirs = [
            i for i, who in enumerate(able)
            if who and who <= group and must[i] and a.steps["fixed"][i] >= FAR
        ]  # fmt: skip
        there = np.concatenate([[0], np.cumsum(open_[sorted(group)].sum(axis=0))])
        theirs.sort(key=lambda i: -starts[i])
        effort = 0
        for i in theirs:
            effort += int(a.steps["work"][i]) * int(a.steps["crew"][i])
            begin = min(max(int(starts[i]), 0), a.slots)
            last = max(last, int(np.searchsorted(there, there[begin] + effort)))
    return last
