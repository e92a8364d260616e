"""Labour done so far, and the fan of what is left.

Rules
-----
* What is left at the end of a day is all that a sample still does after it, what is found included.
* The fan ends with the first day at whose end nothing is left in nine of ten samples.
* A sample in which work does not end counts as more than any other.
"""

from collections.abc import Sequence
from itertools import accumulate

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast.answer import BurnUp, DayLeft
from tackwatch.plan.forecast.record import DayDone


def burn_up(
    done: Sequence[DayDone],
    labour: NDArray[np.float32],
    endless: NDArray[np.bool_],
    day_start: NDArray[np.int32],
    now: int,
) -> BurnUp:
    """Sum up the labour of samples by day; `labour` has the shape (samples, days)."""
    by_day = sorted(done, key=lambda one: one.day)
    sums = accumulate(one.labour for one in by_day)
    added = tuple((one.day, labour) for one, labour in zip(by_day, sums, strict=True))
    so_far = added[-1][1] if added else 0.0
    total = labour.sum(axis=1)
    total[endless] = np.inf
    left: list[DayLeft] = []
    today = int(np.searchsorted(day_start, now, side="right")) - 1
    rest, did = total.copy(), np.full_like(total, so_far)
    for day in range(today, labour.shape[1]):
        rest -= labour[:, day]
        did += labour[:, day]
        p10, p50, p90 = _of_hundred(rest)
        left.append(DayLeft(int(day_start[day]), p10, p50, p90, _of_hundred(did)))
        if p90 <= 0:
            break
    return BurnUp(added, tuple(left), so_far + _of_hundred(total)[1])


def _of_hundred(values: NDArray[np.float32]) -> tuple[float, float, float]:
    n = values.size
    at = [max(0, -(-n * p // 100) - 1) for p in (10, 50, 90)]
    part = np.partition(values, at)
    return float(part[at[0]]), float(part[at[1]]), float(part[at[2]])
