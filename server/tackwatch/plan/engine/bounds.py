"""What the lateness is at least, without search.

Theory
------
Each step ends at the earliest when those before it do so, its cures have run, and its people, none of
them busy with anything else, are there. And a group of people can do no more than the slots in which
they are there: what only they can do is not done before these have come to the work, wherever it begins.

An end that is assumed is refuted in the same way from both sides: backwards from it each step must end
by when those after it have to begin, so that some step has no room left, or some people have more to do
between two slots than there are slots (destructive bounds: Klein, Scholl 1999). The latest end that is refuted
is found by halving.
"""

from itertools import combinations
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, NONE, Arrays

Ints = NDArray[np.int64]
NO_WAY: Final = np.int64(FAR)
MOST_GROUPS: Final = 64
MOST_EDGES: Final = 160  # slots from which, and until which, work is summed up


def least_lateness(a: Arrays, found: int | None = None) -> int:
    """Give a lateness that no plan is below.

    Parameters
    ----------
    found
        The lateness of a plan; with it, ends before that one are refuted as far as it goes.
    """
    must = a.steps["must"] == 1
    if not must.any():
        return 0
    ends = earliest_ends(a)
    groups = _Groups(a, ends - a.steps["work"])
    last = max(int(ends[must].max()), groups.last(must))
    least = max(0, min(last, a.slots) - a.launch)
    if found is None or found <= least:
        return least
    latest, low, high = _Latest(a), least, found
    while low < high:
        middle = (low + high) // 2
        by = latest.ends(a.launch + middle)
        if (by < ends).any() or groups.overfull(by):
            low = middle + 1
        else:
            high = middle
    return low


def earliest_ends(a: Arrays) -> Ints:
    """Give the earliest ends of steps, each by what comes before it and by the hours of its people alone."""
    work = a.steps["work"].astype(np.int64)
    fixed = a.steps["fixed"] < FAR
    start = np.where(fixed, a.steps["fixed"], a.steps["earliest"]).astype(np.int64)
    hours = _Hours(a)
    for i in _along(a):
        if not fixed[i]:
            start[i] = hours.next(i, int(start[i]))
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
    return start + work


def _along(a: Arrays) -> list[int]:
    """Sort the steps along the order arcs."""
    waits = np.bincount(a.arcs["after"][a.arcs["order"] == 1], minlength=len(a.steps))
    sorted_ = [int(i) for i in np.flatnonzero(waits == 0)]
    for i in sorted_:
        for k in a.lists[a.steps["out_at"][i] : a.steps["out_to"][i]]:
            if a.arcs["order"][k]:
                j = int(a.arcs["after"][k])
                waits[j] -= 1
                if waits[j] == 0:
                    sorted_.append(j)
    return sorted_


class _Hours:
    """When a step that is alone may begin, from a slot on, or at the latest."""

    def __init__(self, a: Arrays) -> None:
        self.a = a
        self._stretch = a.free - np.arange(a.slots + 1, dtype=np.int32)
        self._at: dict[tuple[object, ...], tuple[Ints, Ints]] = {}

    def next(self, i: int, slot: int) -> int:
        """Give the first slot from `slot` on at which `i` may begin."""
        if self.a.steps["crew"][i] == 0 or slot > self.a.slots:
            return slot
        return int(self._starts(i)[0][max(slot, 0)])

    def last(self, i: int, slot: int) -> int:
        """Give the last slot up to `slot` at which `i` may begin; less than 0 where there is none."""
        if self.a.steps["crew"][i] == 0 or slot < 0:
            return slot
        return int(self._starts(i)[1][min(slot, self.a.slots)])

    def _starts(self, i: int) -> tuple[Ints, Ints]:
        step = self.a.steps[i]
        able = tuple(self.a.lists[step["able_at"] : step["able_to"]].tolist())
        key = (able, int(step["crew"]), int(step["work"]))
        if key not in self._at:
            fit = (self._stretch[list(able)] >= max(key[2], 1)).sum(axis=0) >= key[1]
            slots = np.arange(self.a.slots + 1)
            later = np.minimum.accumulate(np.where(fit, slots, NO_WAY)[::-1])[::-1]
            sooner = np.maximum.accumulate(np.where(fit, slots, -NO_WAY))
            self._at[key] = (later, sooner)
        return self._at[key]


class _Latest:
    """By when steps must end for all that must be done by launch to end by a slot."""

    def __init__(self, a: Arrays) -> None:
        self.a, self._hours, self._order = a, _Hours(a), _along(a)[::-1]
        self._fixed = a.steps["fixed"] < FAR

    def ends(self, by: int) -> Ints:
        """Give the latest ends, by step; those of fixed ones are far away."""
        a = self.a
        ends = np.where(a.steps["must"] == 1, min(by, a.slots), a.slots).astype(np.int64)
        work = a.steps["work"].astype(np.int64)
        for i in self._order:
            if self._fixed[i]:
                ends[i] = FAR
                continue
            for k in a.lists[a.steps["out_at"][i] : a.steps["out_to"][i]]:
                j = int(a.arcs["after"][k])
                if a.arcs["order"][k] and not self._fixed[j]:
                    ends[i] = min(ends[i], self._before(int(k), int(ends[j] - work[j])))
            ends[i] = self._hours.last(i, int(ends[i] - work[i])) + work[i]
        return ends

    def _before(self, k: int, start: int) -> int:
        """Give the last end after which the step after an arc may begin at `start`."""
        end = start - int(self.a.arcs["least"][k])
        row = self.a.arcs["ready"][k]
        if row != NONE:
            opens = np.maximum.accumulate(self.a.tables[row])
            end = min(end, int(np.searchsorted(opens, start, side="right")) - 1)
        return end


class _Groups:
    """What only some people can do, and when they are there; `starts` are the earliest of steps."""

    def __init__(self, a: Arrays, starts: Ints) -> None:
        self.a, self._starts = a, starts
        self._effort = a.steps["work"].astype(np.int64) * a.steps["crew"]
        able = [
            frozenset(a.lists[one["able_at"] : one["able_to"]].tolist())
            if one["crew"] and one["fixed"] >= FAR
            else frozenset()
            for one in a.steps
        ]
        self._of = [
            (np.array([bool(who) and who <= group for who in able]), self._there(group))
            for group in _unions({*able} - {frozenset()}, a.people)
        ]

    def _there(self, group: frozenset[int]) -> Ints:
        """Give the slots of the group before each slot."""
        return np.concatenate([[0], np.cumsum((self.a.free[sorted(group)] > 0).sum(axis=0))])

    def last(self, must: NDArray[np.bool_]) -> int:
        """Give when the people of each group have been there for as long as what only they can do takes."""
        last = 0
        for theirs, there in self._of:
            chosen = np.flatnonzero(theirs & must)
            chosen = chosen[np.argsort(-self._starts[chosen], kind="stable")]
            effort = np.cumsum(self._effort[chosen])
            begin = np.clip(self._starts[chosen], 0, self.a.slots)
            if len(chosen):
                last = max(last, int(np.searchsorted(there, there[begin] + effort).max()))
        return last

    def overfull(self, by: Ints) -> bool:
        """Say whether some people have more to do between two slots than there are slots."""
        return any(self._overfull(theirs, there, by) for theirs, there in self._of)

    def _overfull(self, theirs: NDArray[np.bool_], there: Ints, by: Ints) -> bool:
        within = theirs & (by <= self.a.slots)
        if not within.any():
            return False
        starts = np.clip(self._starts[within], 0, self.a.slots)
        ends = np.clip(by[within], 0, self.a.slots)
        begin, end = _edges(starts), _edges(ends)
        first = np.searchsorted(begin, starts, side="right") - 1
        last = np.searchsorted(end, ends)
        inside = (first >= 0) & (last < len(end))
        effort = np.zeros((len(begin), len(end)), dtype=np.int64)
        np.add.at(effort, (first[inside], last[inside]), self._effort[within][inside])
        effort = effort[::-1].cumsum(axis=0)[::-1].cumsum(axis=1)
        room = np.maximum(there[end][None, :] - there[begin][:, None], 0)
        return bool((effort > room).any())


def _edges(slots: Ints) -> Ints:
    """Give some of the slots, in order."""
    edges = np.unique(slots)
    if len(edges) > MOST_EDGES:
        edges = edges[np.linspace(0, len(edges) - 1, MOST_EDGES).astype(np.int64)]
    return edges


def _unions(able: set[frozenset[int]], people: int) -> list[frozenset[int]]:
    """Give all people, those who are able for the same, and unions of these as far as there are few."""
    groups = {frozenset(range(people)), *able} - {frozenset()}
    known = sorted(groups, key=lambda group: (len(group), sorted(group)))
    for left, right in combinations(known, 2):
        if len(groups) >= MOST_GROUPS:
            break
        groups.add(left | right)
    return sorted(groups, key=lambda group: (len(group), sorted(group)))
