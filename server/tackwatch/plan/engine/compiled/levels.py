"""How good a plan on the desk is, in the levels of `model.Score`, compiled."""

import numpy as np
from numba import njit

from tackwatch.plan.engine.arrays import FAR

LEVELS = 6


@njit(cache=True, nogil=True)
def weigh(a, d, lacking, levels):
    """Write down what is weighed first: steps without room, lateness, missed work, what moved."""
    last, missed, moved = a.launch, 0, 0
    for i in range(len(a.work)):
        if d.start[i] == -FAR:
            continue
        if a.must[i] == 1 and d.end[i] > last:
            last = d.end[i]
        if a.told[i] < FAR:
            moved += 1 if d.start[i] != a.told[i] else 0
            for c in range(d.crew.shape[1]):
                if d.crew[i, c] >= 0 and a.told_by[i, d.crew[i, c]] == 0:
                    moved += 1
    for k in range(len(a.arc_before)):
        if d.missed[k] == 1:
            missed += a.arc_miss[k]
    levels[0], levels[1], levels[2], levels[3] = lacking, last - a.launch, missed, moved
    levels[4], levels[5] = 0, 0


@njit(cache=True, nogil=True)
def weigh_rest(a, d, levels):
    """Write down what is weighed last: idling with walks, and the uneven load."""
    idle, total, most = 0, 0, 0
    for p in range(a.people):
        for s in range(a.span_ptr[p], a.span_ptr[p + 1]):
            begin, end = a.span_from[s], a.span_to[s]
            first, last, busy, zone, here = -1, -1, 0, -1, -1
            for u in range(begin, end):
                i = d.owner[p, u]
                if i < 0:
                    continue
                first = u if first < 0 else first
                last = u
                busy += 1
                if i != here:
                    here = i
                    if a.walk[i] >= 0:
                        idle += 1 if zone >= 0 and zone != a.walk[i] else 0
                        zone = a.walk[i]
            if first >= 0:
                idle += last + 1 - first - busy
    for i in range(len(a.work)):
        for c in range(d.crew.shape[1]):
            if d.crew[i, c] >= 0:
                total += d.end[i] - d.start[i]
    load = np.zeros(max(a.people, 1), dtype=np.int64)
    for i in range(len(a.work)):
        for c in range(d.crew.shape[1]):
            if d.crew[i, c] >= 0:
                load[d.crew[i, c]] += d.end[i] - d.start[i]
    for p in range(a.people):
        most = max(most, load[p])
    levels[4] = idle
    levels[5] = most - total // a.people if a.people > 0 else 0


@njit(cache=True, nogil=True)
def compare(left, right, upto):
    """Give -1, 0 or 1 as the left levels are better than, equal to or worse than the right."""
    for x in range(upto):
        if left[x] != right[x]:
            return -1 if left[x] < right[x] else 1
    return 0
