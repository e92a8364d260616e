"""From an order of steps to a plan: serial schedule generation, compiled.

Theory
------
Steps are placed one after the other, along the order arcs and by priority, each at the first slot at
which everything that was placed before leaves it room (Kolisch 1996). As each end is known when the
step after is placed, what hangs on that end, the cure, is looked up exactly.

Rules
-----
* A coat is held back: a step is not placed where a window that it opens could not be met, by the
  hours of those who have to meet it (`hold` 1) or moreover by what they already have to do (`hold` 2).
* What a window was opened for is placed at once (`chain`), before others take its people.
* An `aim` is a slot to begin at, if that is possible; `rel` a slot not to begin before.
* A largest gap that cannot be kept sends the other end of the gap later, and all is placed anew.
"""

import numpy as np

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.desk import (
    book,
    clear,
    closes,
    first_room,
    length_of,
    limits,
    opens,
    put,
)
from tackwatch.plan.engine.compiled.how import inner

HELD_TRIES = 300
REPAIRS = 40


@inner
def _by_hours(a, d, i, e):
    """Say whether the windows that `i` opens when it ends at `e` can be met by hours: 0, or slots to go on."""
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = a.lists[q]
        if a.arcs[k].fits < 0 or d.steps[a.arcs[k].after].start != -FAR:
            continue
        fine = a.fits[a.arcs[k].fits, min(max(e, 0), a.slots)]
        if fine > e:
            return fine - e
    return 0


@inner
def _can_follow(a, d, i, e, hold):
    """Say whether the windows that `i` opens when it ends at `e` can be met; 0, or slots to go on."""
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = a.lists[q]
        j = a.arcs[k].after
        if a.arcs[k].fits < 0 or d.steps[j].start != -FAR:
            continue
        fine = a.fits[a.arcs[k].fits, min(max(e, 0), a.slots)]
        if fine > e:
            return fine - e
        if hold > 1 and a.steps[j].crew > 0:
            lo, hi, end_lo, end_hi, soft, _, _ = limits(a, d, j)
            lo, hi = max(lo, opens(a, k, e)), min(hi, closes(a, k, e))
            t = first_room(a, d, j, lo, hi, end_lo, end_hi, soft)
            while t >= 0:
                later = _by_hours(a, d, j, t + a.steps[j].work)
                if later == 0 or later >= FAR // 2:
                    break
                t = first_room(a, d, j, t + later, hi, end_lo, end_hi, soft)
            if t < 0:
                return 1
    return 0


@inner
def _held(a, d, i, t, hi, end_lo, end_hi, soft, hold):
    """Give the first slot from `t` at which `i` has room and its windows can be met, else the first at all."""
    found = t
    for _ in range(HELD_TRIES):
        later = _can_follow(a, d, i, found + length_of(a, d, i, found), hold)
        if later == 0:
            return found
        if later >= FAR // 2:
            break
        found = first_room(a, d, i, found + later, hi, end_lo, end_hi, soft)
        if found < 0 or (found > soft and t <= soft):
            break
    return t


@inner
def _pick(a, d, g, i, t, e):
    """Choose and book the crew."""
    for c in range(a.steps[i].crew):
        best, least = -1, np.inf
        for q in range(a.steps[i].able_at, a.steps[i].able_to):
            p = a.lists[q]
            if d.free[p, t] < e or d.free[p, t] <= t:
                continue
            again = False
            for b in range(c):
                again = again or d.crew[i, b] == p
            if again:
                continue
            cost = g.who[i, p] + 0.002 * d.load[p]
            if t > 0:
                j = d.owner[p, t - 1]
                if j < 0:
                    cost += 0.2 if a.free[p, t - 1] > 0 else 0.1
                elif a.steps[j].group >= 0 and a.steps[j].group == a.steps[i].group:
                    cost -= 0.4
                elif (
                    a.steps[j].walk >= 0
                    and a.steps[i].walk >= 0
                    and a.steps[j].walk != a.steps[i].walk
                ):
                    cost += 0.1
            if cost < least:
                best, least = p, cost
        d.crew[i, c] = best
    for c in range(a.steps[i].crew):
        book(a, d, i, d.crew[i, c], t, e)


@inner
def _place(a, d, g, i):
    """Find room for a step; False, with the reason in `failed`, if there is none."""
    lo, hi, end_lo, end_hi, soft, by_hi, by_end = limits(a, d, i)
    lo = max(lo, d.steps[i].rel)
    t = -1
    if lo <= g.steps[i].aim <= hi:
        t = first_room(a, d, i, g.steps[i].aim, g.steps[i].aim, end_lo, end_hi, soft)
    if t < 0:
        t = first_room(a, d, i, lo, hi, end_lo, end_hi, soft)
        if t >= 0 and g.steps[i].hold > 0:
            t = _held(a, d, i, t, hi, end_lo, end_hi, soft, g.steps[i].hold)
    if t < 0:
        d.failed[0] = i
        if by_hi >= 0 or by_end >= 0:
            wanted = first_room(a, d, i, lo, FAR, 0, FAR, soft)
            if wanted >= 0 and by_hi >= 0 and wanted > hi:
                d.failed[1], d.failed[2] = a.arcs[by_hi].before, wanted - hi
            elif wanted >= 0 and by_end >= 0 and wanted + a.steps[i].work > end_hi:
                d.failed[1], d.failed[2] = a.arcs[by_end].after, wanted + a.steps[i].work - end_hi
        return False
    e = t + length_of(a, d, i, t)
    _pick(a, d, g, i, t, e)
    put(a, d, i, t, e)
    return True


@inner
def _once(a, d, g, repairing):
    """Place all steps once; give how many found no room."""
    n = len(a.steps)
    clear(a, d)
    d.steps.waits[:] = 0
    for k in range(len(a.arcs)):
        if a.arcs[k].order == 1 and a.steps[a.arcs[k].before].fixed >= FAR:
            d.steps[a.arcs[k].after].waits += 1
    size, urgent, left = 0, 0, 0
    for i in range(n):
        if a.steps[i].fixed >= FAR:
            left += 1
            if d.steps[i].waits == 0:
                d.ready[size] = i
                size += 1
    done = 0
    while size > 0:
        if urgent > 0:
            at = size - 1
            urgent -= 1
        else:
            at = 0
            for x in range(1, size):
                if g.steps[d.ready[x]].prio < g.steps[d.ready[at]].prio:
                    at = x
        i = d.ready[at]
        d.ready[at] = d.ready[size - 1]
        size -= 1
        if not _place(a, d, g, i):
            if repairing and d.failed[1] >= 0:
                return left - done
            continue
        done += 1
        for q in range(a.steps[i].out_at, a.steps[i].out_to):
            k = a.lists[q]
            if a.arcs[k].order == 0:
                continue
            j = a.arcs[k].after
            d.steps[j].waits -= 1
            if d.steps[j].waits == 0:
                d.ready[size] = j
                size += 1
                if g.steps[i].chain > 0 and a.arcs[k].fits >= 0:
                    urgent += 1
                elif urgent > 0:
                    d.ready[size - 1], d.ready[size - 1 - urgent] = d.ready[size - 1 - urgent], j
    return left - done


@inner
def decode(a, d, g):
    """Draw up the plan that `g` says; give how many steps found no room."""
    for i in range(len(a.steps)):
        d.steps[i].rel = g.steps[i].rel
    for _ in range(REPAIRS):
        lacking = _once(a, d, g, True)
        other = d.failed[1]
        if lacking == 0 or other < 0 or a.steps[other].fixed < FAR:
            break
        d.steps[other].rel = d.steps[other].start + d.failed[2]
    if lacking > 0:
        lacking = _once(a, d, g, False)
    return lacking
