"""Open hours as arrays, on past the project's horizon.

Rules
-----
* A forecast looks farther than a plan: past the horizon the last week of each calendar, and of each
  table of cures, repeats (the last day where the project is shorter than a week).
* Several people have the hours that all of them have. Nobody's time is always open.
"""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.model import Span, Table

Ints = NDArray[np.int32]
LATER: Final = 2**30
"""Later than any slot that is looked at."""


@dataclass(frozen=True, slots=True)
class Reach:
    """How far the project's grid goes, how far is looked, and what repeats in between."""

    slots: int
    n: int
    period: int

    @classmethod
    def of(cls, slots: int, slot_s: int) -> "Reach":
        """Look as far again as the project does, and 13 weeks at least."""
        day = max(1, 86_400 // slot_s)
        period = 7 * day if slots >= 7 * day else day
        return cls(slots, slots + max(slots, 13 * 7 * day), period)


def open_mask(spans: Iterable[Span], reach: Reach) -> NDArray[np.bool_]:
    """Say of each slot whether it is open, repeating the last period."""
    mask = np.zeros(reach.n, dtype=np.bool_)
    for start, end in spans:
        mask[max(start, 0) : min(end, reach.slots)] = True
    period = min(reach.period, reach.slots)
    last = mask[reach.slots - period : reach.slots]
    times = -(-(reach.n - reach.slots) // period)
    mask[reach.slots :] = np.tile(last, times)[: reach.n - reach.slots]
    return mask


def longer(table: Table, reach: Reach) -> Ints:
    """Give a table for every end up to the reach, repeating the last period's gaps."""
    gap = np.minimum(table - np.arange(table.size), LATER)
    period = min(reach.period, table.size)
    rest = reach.n + 1 - table.size
    gap = np.concatenate((gap, np.tile(gap[-period:], -(-rest // period))[:rest]))
    return np.minimum(gap + np.arange(reach.n + 1), LATER).astype(np.int32)


def hours_of(masks: Sequence[NDArray[np.bool_]]) -> tuple[Ints, Ints]:
    """Work the hours of calendars out.

    Returns
    -------
    hours
        Shape (calendars, slots + 1, 3): open slots from here to the end of the span (0 where it is closed,
        without end past the last slot); where the next span begins; open slots before this one.
    slot_of
        Shape (calendars, slots + 1): the slot of the open slot that has this number, past the last where there
        is none.
    """
    n = masks[0].size
    hours = np.zeros((len(masks), n + 1, 3), dtype=np.int32)
    slot_of = np.full((len(masks), n + 1), n, dtype=np.int32)
    at = np.arange(n, dtype=np.int32)
    for c, mask in enumerate(masks):
        starts = mask & ~np.concatenate(([False], mask[:-1]))
        hours[c, :n, 0] = np.where(mask, _next(~mask, n) - at, 0)
        hours[c, :, 1] = np.concatenate((_next(starts, n)[1:], [n, n]))
        hours[c, 1:, 2] = np.cumsum(mask)
        slot_of[c, : int(mask.sum())] = np.flatnonzero(mask)
    hours[:, n, 0] = LATER
    return hours, slot_of


def _next(true: NDArray[np.bool_], n: int) -> Ints:
    """Give the first index at or after each at which it is true; `n` where there is none."""
    found = np.where(true, np.arange(n), n)
    return np.minimum.accumulate(found[::-1])[::-1].astype(np.int32)


def day_starts(days: Sequence[int], reach: Reach, slot_s: int) -> Ints:
    """Give the slots at which days begin, from 0 on, with the reach's end at the end."""
    day = max(1, 86_400 // slot_s)
    starts = [one for one in days if 0 < one < reach.n]
    last = starts[-1] if starts else 0
    every = [0, *starts, *range(last + day, reach.n, day), reach.n]
    return np.array(every, dtype=np.int32)
