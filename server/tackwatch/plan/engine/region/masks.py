"""Where the steps of a part may begin, by all that stays.

Theory
------
What stays in place is no constraint of the model: it is taken out of the slots at which a step may
begin. So the model has only the steps of the part, and each of their starts has a domain with holes
for nights, for people who are taken, and for all that is tied to a step that stays.
"""

from dataclasses import dataclass
from itertools import product
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, NONE, Arrays
from tackwatch.plan.engine.compiled.desk import Desk

Mask = NDArray[np.bool_]
MOST_MISSES: Final = 2


@dataclass(frozen=True)
class Part:
    """Steps that may move, and how far: from `lo` to `hi`, by step; `free` marks them."""

    free: Mask
    lo: NDArray[np.int64]
    hi: NDArray[np.int64]


@dataclass(frozen=True)
class Room:
    """Where a step may begin.

    Attributes
    ----------
    soft
        Arcs into it that it may miss.
    by_misses
        For each choice of missed ones among `soft`: its length, and who may begin where: starts by person (`NONE`
        for a step without a crew).
    """

    step: int
    soft: tuple[int, ...]
    by_misses: dict[tuple[bool, ...], tuple[int, dict[int, NDArray[np.int64]]]]

    def starts(self) -> NDArray[np.int64]:
        """Give all slots at which it may begin, whoever does it and whatever it misses."""
        return _union([s for _, who in self.by_misses.values() for s in who.values()])

    def ends(self) -> NDArray[np.int64]:
        """Give all slots at which it may end."""
        return _union([s + n for n, who in self.by_misses.values() for s in who.values()])


class Stays:
    """What stays: free stretches of people, places taken."""

    def __init__(self, a: Arrays, d: Desk, part: Part) -> None:
        self.a, self.d, self.part = a, d, part
        self.from_ = max(0, int(part.lo[part.free].min()))
        self.to = min(a.slots, int((part.hi + a.steps["work"])[part.free].max()) + 200)
        owner = d.owner[:, self.from_ : self.to]
        taken = (owner >= 0) & ~part.free[np.maximum(owner, 0)]
        there = (a.free[:, self.from_ : self.to] > 0) & ~taken
        # Two spans of one person may touch: the end of the calendar's stretch is heeded too.
        until = np.where(there, FAR, np.arange(self.from_, self.to))
        until = np.minimum.accumulate(until[:, ::-1], axis=1)[:, ::-1]
        self.until = np.minimum(until, a.free[:, self.from_ : self.to])
        self.until[~there] = 0

    def room(self, i: int) -> Room:
        """Work out where step `i` may begin."""
        a, d, part = self.a, self.d, self.part
        step = a.steps[i]
        t = np.arange(max(part.lo[i], self.from_), min(part.hi[i], self.to - 1) + 1)
        into = a.lists[step["in_at"] : step["in_to"]]
        soft = [
            int(k) for k in into if a.arcs["miss"][k] >= 0 and self._may_close(int(k), int(t[-1]))
        ]
        by_misses = {}
        for misses in product((False, True), repeat=len(soft)):
            length = int(step["work"]) + sum(
                int(a.arcs["miss"][k]) for k, m in zip(soft, misses, strict=True) if m
            )
            fine = self._alone(i, t, length)
            for k, m in zip(soft, misses, strict=True):
                b = a.arcs["before"][k]
                if not part.free[b]:
                    fine &= (t > self._closes(k, d.steps["end"][b])) == m
            by_misses[misses] = (length, self._who(i, t, length, fine))
        return Room(i, tuple(soft), by_misses)

    def _may_close(self, k: int, latest: int) -> bool:
        """Say whether a step may come too late for an arc at all."""
        b = self.a.arcs["before"][k]
        if self.part.free[b]:
            return bool(self._closes(k, self.part.lo[b]) < latest)
        return bool(self._closes(k, self.d.steps["end"][b]) < latest)

    def _alone(self, i: int, t: NDArray[np.int64], length: int) -> Mask:
        """Mark the starts that agree with all that stays, people aside."""
        a, d, free = self.a, self.d, self.part.free
        step, e = a.steps[i], t + length
        fine: Mask = (t >= step["earliest"]) & (e <= a.slots)
        for k in a.lists[step["in_at"] : step["in_to"]]:
            b = a.arcs["before"][k]
            if free[b]:
                continue
            end = d.steps["end"][b]
            fine &= t >= self._opens(k, end)
            if a.arcs["miss"][k] == NONE:
                fine &= t <= self._closes(k, end)
        for k in a.lists[step["out_at"] : step["out_to"]]:
            j = a.arcs["after"][k]
            if free[j]:
                continue
            start = d.steps["start"][j]
            fine &= self._opens(k, e) <= start
            fine &= (self._closes(k, e) >= start) == (d.missed[k] == 0)
        pairs = a.lists[step["opp_at"] : step["opp_to"]].reshape(-1, 2)
        for j, dusty in pairs:
            if free[j]:
                continue
            other = d.steps[j]
            if dusty:
                fine &= np.maximum(t, other["start"]) >= np.minimum(e, other["wet"])
            else:
                fine &= np.maximum(t, other["start"]) >= np.minimum(self.wet(i, e), other["end"])
        return fine

    def _who(
        self, i: int, t: NDArray[np.int64], length: int, fine: Mask
    ) -> dict[int, NDArray[np.int64]]:
        step = self.a.steps[i]
        if step["crew"] == 0:
            return {NONE: t[fine]} if fine.any() else {}
        who = {}
        for p in self.a.lists[step["able_at"] : step["able_to"]]:
            until = self.until[p, t - self.from_]
            there = t[fine & (until >= t + length) & (until > t)]
            if len(there):
                who[int(p)] = there
        return who if len(who) >= step["crew"] else {}

    def wet(self, i: int, e: NDArray[np.int64]) -> NDArray[np.int64]:
        """Give when what a step leaves wet is dry."""
        row = self.a.steps["dry"][i]
        return (
            e if row == NONE else self.a.tables[row][np.clip(e, 0, self.a.slots)].astype(np.int64)
        )

    def _opens(self, k: int, end: NDArray[np.int64]) -> NDArray[np.int64]:
        return opens(self.a, k, end)

    def _closes(self, k: int, end: NDArray[np.int64]) -> NDArray[np.int64]:
        return closes(self.a, k, end)


def opens(a: Arrays, k: int, end: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give the first starts that an arc leaves after ends."""
    end = np.asarray(end, dtype=np.int64)
    first = end + int(a.arcs["least"][k])
    row = a.arcs["ready"][k]
    return first if row == NONE else np.maximum(first, a.tables[row][np.clip(end, 0, a.slots)])


def closes(a: Arrays, k: int, end: NDArray[np.int64]) -> NDArray[np.int64]:
    """Give the last starts that an arc leaves after ends."""
    end = np.asarray(end, dtype=np.int64)
    last = np.minimum(end + int(a.arcs["most"][k]), FAR)
    row = a.arcs["last"][k]
    return last if row == NONE else np.minimum(last, a.tables[row][np.clip(end, 0, a.slots)])


def _union(parts: list[NDArray[np.int64]]) -> NDArray[np.int64]:
    return np.unique(np.concatenate(parts)) if parts else np.zeros(0, dtype=np.int64)
