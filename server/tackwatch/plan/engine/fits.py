"""For which ends of a coat the next one can be put on in time, by hours alone.

Theory
------
A window that closes in the night is the commonest mistake of the trade. Whether it will be met hangs on
when those work who have to meet it; that is known before anything is planned. Coats come in chains: the
next one must itself end at a time from which the one after can follow. So it is worked out from the ends
of the chains backwards.
"""

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

I32 = NDArray[np.int32]
Mask = NDArray[np.bool_]
I8 = NDArray[np.int8]
Columns = dict[str, Sequence[int] | I32 | I8]
FAR: Final = 2**29
NONE: Final = -1


class Fits:
    """What is worked out so far; the same question is answered once."""

    def __init__(self, free: I32) -> None:
        self.slots = free.shape[1] - 1
        self.ends = np.arange(self.slots + 1)
        self._stretch = free - self.ends.astype(np.int32)
        self._alone: dict[tuple[object, ...], Mask] = {}
        self._counted: dict[tuple[object, ...], NDArray[np.int64]] = {}
        self.rows: list[Mask] = []
        self.number: dict[tuple[object, ...], int] = {}

    def alone(self, able: tuple[int, ...], crew: int, work: int) -> Mask:
        """Mark the slots at which a step may begin by the hours of its people."""
        key = (able, crew, work)
        if key not in self._alone:
            fit = np.ones(self.slots + 1, dtype=bool)
            if crew:
                fit = (self._stretch[list(able)] >= max(work, 1)).sum(axis=0) >= crew
            self._alone[key] = fit
        return self._alone[key]

    def counted(
        self, able: tuple[int, ...], crew: int, work: int, then: tuple[int, ...]
    ) -> NDArray[np.int64]:
        """Count, up to each slot, where a step may begin so that what follows it can be met as well.

        `then` are the rows of the windows that it opens; they are left aside where nothing meets them all.
        """
        key = (able, crew, work, then)
        if key not in self._counted:
            fit = self.alone(able, crew, work)
            kept = fit.copy()
            for row in then:
                kept[: self.slots + 1 - work] &= self.rows[row][work:]
            kept[self.slots + 1 - work :] = False
            self._counted[key] = np.concatenate([[0], np.cumsum(kept if kept.any() else fit)])
        return self._counted[key]


def fitting(
    steps: Sequence[tuple[tuple[int, ...], int, int]],
    free: I32,
    tables: I32,
    arcs: Columns,
) -> tuple[I32, I32]:
    """Say for which ends of the step before the step after fits into its window.

    Parameters
    ----------
    steps
        Who may do a step, how many of them, how long it takes.
    free
        Free stretches, as `Arrays.free`.
    tables
        As `Arrays.tables`.
    arcs
        By name, as in `ARC`: `before`, `after`, `least`, `most`, `ready`, `last`, `order`.

    Returns
    -------
    rows, row
        Shape (rows, slots + 1): the next end that fits, `FAR` where there is none. By arc: its row, `NONE` for
        an arc without an upper side.
    """
    fits = Fits(free)
    row_of = np.full(len(arcs["before"]), NONE, dtype=np.int32)
    out: dict[int, list[int]] = {}
    for k in range(len(row_of)):
        if arcs["last"][k] != NONE or arcs["most"][k] < FAR:
            out.setdefault(int(arcs["before"][k]), []).append(k)
    for i in _from_the_last(len(steps), arcs):
        for k in out.get(i, ()):
            j = int(arcs["after"][k])
            then = tuple(sorted({int(row_of[x]) for x in out.get(j, ()) if row_of[x] != NONE}))
            row_of[k] = _row(fits, k, (*steps[j], then), tables, arcs)
    rows = [
        np.minimum.accumulate(np.where(fine, fits.ends, FAR)[::-1])[::-1].astype(np.int32)
        for fine in fits.rows
    ]
    return (np.array(rows) if rows else np.zeros((1, fits.slots + 1), dtype=np.int32)), row_of


def _row(
    fits: Fits,
    k: int,
    after: tuple[tuple[int, ...], int, int, tuple[int, ...]],
    tables: I32,
    arcs: Columns,
) -> int:
    gaps = tuple(int(arcs[name][k]) for name in ("least", "most", "ready", "last"))
    key = (*after, *gaps)
    if key not in fits.number:
        least, most, ready, last = gaps
        opens, closes = fits.ends + least, fits.ends + most
        if ready != NONE:
            opens = np.maximum(opens, tables[ready])
        if last != NONE:
            closes = np.minimum(closes, tables[last])
        counted = fits.counted(*after)
        opens, closes = np.clip(opens, 0, fits.slots + 1), np.clip(closes + 1, 0, fits.slots + 1)
        fits.number[key] = len(fits.rows)
        fits.rows.append(counted[np.maximum(opens, closes)] > counted[opens])
    return fits.number[key]


def _from_the_last(n: int, arcs: Columns) -> list[int]:
    """Sort the steps so that what comes after along the order arcs comes first."""
    waits = [0] * n
    into: list[list[int]] = [[] for _ in range(n)]
    for b, a, order in zip(arcs["before"], arcs["after"], arcs["order"], strict=True):
        if order:
            waits[int(b)] += 1
            into[int(a)].append(int(b))
    done = [i for i in range(n) if waits[i] == 0]
    for i in done:
        for b in into[i]:
            waits[b] -= 1
            if waits[b] == 0:
                done.append(b)
    return done
