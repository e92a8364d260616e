"""Gaps alone: whether they contradict one another, and which of them order the steps.

Theory
------
Least and largest gaps between steps of known length are a system of differences: a graph whose arcs
say `start(b) >= start(a) + weight`. It has a solution exactly when no circle has a weight above 0
(Roy 1962; Bellman 1958).
"""

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.errors import InfeasibleError

I32 = NDArray[np.int32]
I8 = NDArray[np.int8]


def order_arcs(
    work: I32, before: I32, after: I32, least: I32, most: I32, window: I8, kept: I8
) -> I8:
    """Mark the arcs along which steps are placed.

    Parameters
    ----------
    work : array
        Lengths, by step.
    before, after, least, most, window, kept : array
        By arc: its ends, its gaps, whether it has a window, whether its upper side must be kept.

    Raises
    ------
    InfeasibleError
        When the gaps contradict one another.
    """
    _earliest(work, before, after, least, most, kept)
    weight = work[before].astype(np.int64) + least
    firm = (window == 0) & (kept == 1)
    order: I8 = ((weight >= 0) | ~firm).astype(np.int8)
    while len(stuck := _in_circles(len(work), before, after, order)):
        loose = np.isin(before, stuck) & np.isin(after, stuck) & (order == 1) & (weight <= 0)
        if not (loose & firm).any():
            raise InfeasibleError(proved=False)
        order[loose & firm] = 0
    return order


def _earliest(work: I32, before: I32, after: I32, least: I32, most: I32, kept: I8) -> None:
    tail = np.concatenate([before, after[(kept == 1) & (most < 2**29)]])
    head = np.concatenate([after, before[(kept == 1) & (most < 2**29)]])
    weight = np.concatenate([
        work[before].astype(np.int64) + least,
        -(work[before].astype(np.int64) + most)[(kept == 1) & (most < 2**29)],
    ])  # fmt: skip
    start = np.zeros(len(work), dtype=np.int64)
    for _ in range(len(work) + 1):
        later = start.copy()
        np.maximum.at(later, head, start[tail] + weight)
        if (later == start).all():
            return
        start = later
    raise InfeasibleError(proved=True)


def _in_circles(n: int, before: I32, after: I32, order: I8) -> NDArray[np.int64]:
    """Give the steps that cannot be reached by taking away steps without one before them."""
    waits = np.bincount(after[order == 1], minlength=n)
    gone = np.zeros(n, dtype=bool)
    while (free := (waits == 0) & ~gone).any():
        gone |= free
        leaving = (order == 1) & free[before]
        waits -= np.bincount(after[leaving], minlength=n)
    return np.flatnonzero(~gone)
