"""How good a plan on the desk is, in the levels of `model.Score`, compiled.

Rules
-----
* Lateness is the end of one step, so that most changes leave it as it is. Who is guided is shown moreover how soon all
  that must be done by launch ends on the whole: what makes room is kept, and a late end falls when there is enough.
* That level is of no worth to people, so the last part of a search is not guided.
"""

import numpy as np

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.how import inner

LEVELS = 8


@inner
def weigh(a, d, lacking, guided, levels):
    """Write down what is weighed first: steps without room, lateness, missed work, what moved, a late plan's ends."""
    last, missed, moved, ends = a.launch, 0, 0, 0
    for i in range(len(a.steps)):
        if d.steps[i].start == -FAR:
            continue
        if a.steps[i].must == 1:
            ends += d.steps[i].end
            last = max(last, d.steps[i].end)
        if a.steps[i].told < FAR:
            moved += 1 if d.steps[i].start != a.steps[i].told else 0
            for c in range(d.crew.shape[1]):
                if d.crew[i, c] >= 0 and a.told_by[i, d.crew[i, c]] == 0:
                    moved += 1
    for k in range(len(a.arcs)):
        if d.missed[k] == 1:
            missed += a.arcs[k].miss
    levels[0], levels[1], levels[2], levels[3] = lacking, last - a.launch, missed, moved
    levels[4] = ends if guided == 1 and last > a.launch else 0
    levels[5], levels[6], levels[7] = 0, 0, 0


@inner
def weigh_rest(a, d, levels):
    """Write down what is weighed last: idling with walks, the uneven load; among equals, what begins sooner."""
    idle, total, most, early = 0, 0, 0, 0
    for i in range(len(a.steps)):
        early += max(d.steps[i].start, 0)
    for s in range(len(a.spans)):
        p = a.spans[s, 0]
        first, last, busy, zone, here = -1, -1, 0, -1, -1
        for u in range(a.spans[s, 1], a.spans[s, 2]):
            i = d.owner[p, u]
            if i < 0:
                continue
            first = u if first < 0 else first
            last = u
            busy += 1
            if i != here:
                here = i
                if a.steps[i].walk >= 0:
                    idle += 1 if zone >= 0 and zone != a.steps[i].walk else 0
                    zone = a.steps[i].walk
        if first >= 0:
            idle += last + 1 - first - busy
    load = np.zeros(max(a.people, 1), dtype=np.int64)
    for i in range(len(a.steps)):
        for c in range(d.crew.shape[1]):
            if d.crew[i, c] >= 0:
                load[d.crew[i, c]] += d.steps[i].end - d.steps[i].start
                total += d.steps[i].end - d.steps[i].start
    for p in range(a.people):
        most = max(most, load[p])
    levels[5], levels[7] = idle, early
    levels[6] = most - total // a.people if a.people > 0 else 0


@inner
def compare(left, right, upto):
    """Give -1, 0 or 1 as the left levels are better than, equal to or worse than the right."""
    for x in range(upto):
        if left[x] != right[x]:
            return -1 if left[x] < right[x] else 1
    return 0
