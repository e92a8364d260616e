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

from typing import NamedTuple

import numpy as np
from numba import njit
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, I8, I32, Arrays

HELD_TRIES = 300
REPAIRS = 40


class Genes(NamedTuple):
    """What decides a plan. By step; `who` has shape (steps, people), and less is better."""

    prio: NDArray[np.float64]
    rel: I32
    hold: I8
    chain: I8
    aim: I32
    who: NDArray[np.float32]


class Desk(NamedTuple):
    """Where a plan is drawn up; its first five fields are the answer.

    `start`, `end`: `-1` where a step has no place. `crew`: shape (steps, largest crew). `missed`: by arc.
    """

    start: I32
    end: I32
    crew: I32
    missed: I8
    failed: I32
    wet: I32
    owner: I32
    free: I32
    taken: I32
    load: I32
    waits: I32
    ready: I32
    rel: I32


def desk(a: Arrays) -> Desk:
    """Lay out an empty desk."""
    n, most = (
        len(a.work),
        max(int(a.crew.max(initial=1)), int(np.diff(a.held_ptr).max(initial=1)), 1),
    )
    return Desk(
        start=np.full(n, -1, dtype=np.int32),
        end=np.full(n, -1, dtype=np.int32),
        crew=np.full((n, most), -1, dtype=np.int32),
        missed=np.zeros(len(a.arc_before), dtype=np.int8),
        failed=np.full(3, -1, dtype=np.int32),
        wet=np.zeros(n, dtype=np.int32),
        owner=np.full((max(a.people, 1), a.slots + 1), -1, dtype=np.int32),
        free=a.free.copy(),
        taken=np.zeros((max(len(a.holds), 1), a.slots + 1), dtype=np.int32),
        load=np.zeros(max(a.people, 1), dtype=np.int32),
        waits=np.zeros(n, dtype=np.int32),
        ready=np.zeros(2 * n + 2, dtype=np.int32),
        rel=np.zeros(n, dtype=np.int32),
    )


@njit(cache=True, nogil=True)
def _entry(a, row, end):
    return a.tables[row, min(max(end, 0), a.slots)]


@njit(cache=True, nogil=True)
def opens(a, arc, end):
    """Give the first start that an arc leaves after an end."""
    first = end + a.arc_min[arc]
    if a.arc_ready[arc] >= 0:
        first = max(first, _entry(a, a.arc_ready[arc], end))
    return first


@njit(cache=True, nogil=True)
def closes(a, arc, end):
    """Give the last start that an arc leaves after an end."""
    last = min(end + a.arc_max[arc], FAR)
    if a.arc_last[arc] >= 0:
        last = min(last, _entry(a, a.arc_last[arc], end))
    return last


@njit(cache=True, nogil=True)
def _limits(a, d, i):
    """Give what placed steps leave to `i`: first and last start, least and largest end, first miss."""
    lo, hi, end_lo, end_hi, soft = a.earliest[i], FAR, 0, FAR, FAR
    by_hi, by_end = -1, -1
    for q in range(a.in_ptr[i], a.in_ptr[i + 1]):
        k = a.in_idx[q]
        end = d.end[a.arc_before[k]]
        if d.start[a.arc_before[k]] == -FAR:
            continue
        lo = max(lo, opens(a, k, end))
        last = closes(a, k, end)
        if a.arc_miss[k] >= 0:
            soft = min(soft, last)
        elif last < hi:
            hi, by_hi = last, k
    for q in range(a.out_ptr[i], a.out_ptr[i + 1]):
        k = a.out_idx[q]
        start = d.start[a.arc_after[k]]
        if start == -FAR:
            continue
        if start - a.arc_min[k] < end_hi:
            end_hi, by_end = start - a.arc_min[k], k
        if a.arc_max[k] < FAR and a.arc_miss[k] < 0:
            end_lo = max(end_lo, start - a.arc_max[k])
    return lo, hi, end_lo, end_hi, soft, by_hi, by_end


@njit(cache=True, nogil=True)
def _length(a, d, i, t):
    """Give how long a step takes that begins at `t`."""
    length = a.work[i]
    for q in range(a.in_ptr[i], a.in_ptr[i + 1]):
        k = a.in_idx[q]
        b = a.arc_before[k]
        if a.arc_miss[k] >= 0 and d.start[b] != -FAR and t > closes(a, k, d.end[b]):
            length += a.arc_miss[k]
    return length


@njit(cache=True, nogil=True)
def _people_next(a, d, i, t, e):
    """Give `t` if enough people are free from `t` to `e`, or the next slot that may do."""
    n, jump = 0, FAR
    for q in range(a.able_ptr[i], a.able_ptr[i + 1]):
        p = a.able_idx[q]
        until = d.free[p, t]
        if until >= e and until > t:
            n += 1
            if n == a.crew[i]:
                return t
            continue
        if until == 0:
            until = t + 1
            if d.owner[p, t] >= 0:
                until = max(until, d.end[d.owner[p, t]])
        jump = min(jump, a.comes[p, min(max(until, t + 1), a.slots)])
    return jump


@njit(cache=True, nogil=True)
def _places_next(a, d, i, t, e):
    for q in range(a.use_ptr[i], a.use_ptr[i + 1]):
        room = a.holds[a.use_idx[q]] - a.use_units[q]
        taken = d.taken[a.use_idx[q]]
        for u in range(e - 1, t - 1, -1):
            if taken[u] > room:
                return u + 1
    return t


@njit(cache=True, nogil=True)
def _zones_next(a, d, i, t, e):
    for q in range(a.opp_ptr[i], a.opp_ptr[i + 1]):
        j = a.opp_idx[q]
        if d.start[j] == -FAR:
            continue
        if a.opp_dust[q] == 1:
            if max(t, d.start[j]) < min(e, d.wet[j]):
                return d.wet[j]
        else:
            wet = e if a.dry[i] < 0 else _entry(a, a.dry[i], e)
            if max(t, d.start[j]) < min(wet, d.end[j]):
                return d.end[j]
    return t


@njit(cache=True, nogil=True)
def _first(a, d, i, t, hi, end_lo, end_hi, soft):
    """Give the first slot from `t` at which `i` has room; `-1` if there is none."""
    while t <= hi:
        e = t + (a.work[i] if t <= soft else _length(a, d, i, t))
        if e > a.slots or e > end_hi:
            return -1
        if e < end_lo:
            t += end_lo - e
            continue
        later = t
        if a.crew[i] > 0:
            later = _people_next(a, d, i, t, e)
        if later == t:
            later = _places_next(a, d, i, t, e)
        if later == t:
            later = _zones_next(a, d, i, t, e)
        if later == t:
            return t
        t = later
    return -1


@njit(cache=True, nogil=True)
def _can_follow(a, d, i, e, hold):
    """Say whether the windows that `i` opens when it ends at `e` can be met; 0, or slots to go on."""
    for q in range(a.out_ptr[i], a.out_ptr[i + 1]):
        k = a.out_idx[q]
        j = a.arc_after[k]
        if a.arc_fits[k] < 0 or d.start[j] != -FAR:
            continue
        fine = a.fits[a.arc_fits[k], min(max(e, 0), a.slots)]
        if fine > e:
            return fine - e
        if hold > 1 and a.crew[j] > 0:
            lo, hi, end_lo, end_hi, soft, _, _ = _limits(a, d, j)
            lo, last = max(lo, opens(a, k, e)), closes(a, k, e)
            if _first(a, d, j, lo, min(hi, last), end_lo, end_hi, soft) < 0:
                return 1
    return 0


@njit(cache=True, nogil=True)
def _held(a, d, i, t, hi, end_lo, end_hi, soft, hold):
    """Give the first slot from `t` at which `i` has room and its windows can be met, else the first at all."""
    found = t
    for _ in range(HELD_TRIES):
        later = _can_follow(a, d, i, found + _length(a, d, i, found), hold)
        if later == 0:
            return found
        if later >= FAR // 2:
            break
        found = _first(a, d, i, found + later, hi, end_lo, end_hi, soft)
        if found < 0 or (found > soft and t <= soft):
            break
    return t


@njit(cache=True, nogil=True)
def _book(a, d, i, p, t, e):
    u = t - 1
    while u >= 0 and d.free[p, u] > 0:
        d.free[p, u] = t
        u -= 1
    for u in range(t, e):
        d.free[p, u] = 0
        d.owner[p, u] = i
    d.load[p] += e - t


@njit(cache=True, nogil=True)
def _pick(a, d, g, i, t, e):
    """Choose and book the crew."""
    for c in range(a.crew[i]):
        best, least = -1, np.inf
        for q in range(a.able_ptr[i], a.able_ptr[i + 1]):
            p = a.able_idx[q]
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
                elif a.group[j] >= 0 and a.group[j] == a.group[i]:
                    cost -= 0.4
                elif a.walk[j] >= 0 and a.walk[i] >= 0 and a.walk[j] != a.walk[i]:
                    cost += 0.1
            if cost < least:
                best, least = p, cost
        d.crew[i, c] = best
    for c in range(a.crew[i]):
        _book(a, d, i, d.crew[i, c], t, e)


@njit(cache=True, nogil=True)
def _put(a, d, i, t, e):
    """Write a step down, and take its places."""
    d.start[i], d.end[i] = t, e
    d.wet[i] = e if a.dry[i] < 0 else _entry(a, a.dry[i], e)
    for q in range(a.use_ptr[i], a.use_ptr[i + 1]):
        for u in range(max(t, 0), min(e, a.slots)):
            d.taken[a.use_idx[q], u] += a.use_units[q]
    for q in range(a.in_ptr[i], a.in_ptr[i + 1]):
        k = a.in_idx[q]
        late = t > closes(a, k, d.end[a.arc_before[k]])
        d.missed[k] = 1 if a.arc_miss[k] >= 0 and late else 0


@njit(cache=True, nogil=True)
def _clear(a, d):
    d.free[:] = a.free
    d.owner[:] = -1
    d.taken[:] = 0
    d.start[:] = -FAR
    d.end[:] = -FAR
    d.crew[:] = -1
    d.missed[:] = 0
    d.load[:] = 0
    d.failed[:] = -1
    for i in range(len(a.work)):
        if a.fixed[i] >= FAR:
            continue
        t, e = a.fixed[i], a.fixed[i] + a.work[i]
        for c in range(a.held_ptr[i + 1] - a.held_ptr[i]):
            p = a.held_idx[a.held_ptr[i] + c]
            d.crew[i, c] = p
            _book(a, d, i, p, min(max(t, 0), a.slots), min(max(e, 0), a.slots))
        _put(a, d, i, t, e)


@njit(cache=True, nogil=True)
def _place(a, d, g, i):
    """Find room for a step; False, with the reason in `failed`, if there is none."""
    lo, hi, end_lo, end_hi, soft, by_hi, by_end = _limits(a, d, i)
    lo = max(lo, d.rel[i])
    t = -1
    if lo <= g.aim[i] <= hi:
        t = _first(a, d, i, g.aim[i], g.aim[i], end_lo, end_hi, soft)
    if t < 0:
        t = _first(a, d, i, lo, hi, end_lo, end_hi, soft)
        if t >= 0 and g.hold[i] > 0:
            t = _held(a, d, i, t, hi, end_lo, end_hi, soft, g.hold[i])
    if t < 0:
        d.failed[0] = i
        if by_hi >= 0 or by_end >= 0:
            wanted = _first(a, d, i, lo, FAR, 0, FAR, soft)
            if wanted >= 0 and by_hi >= 0 and wanted > hi:
                d.failed[1], d.failed[2] = a.arc_before[by_hi], wanted - hi
            elif wanted >= 0 and by_end >= 0 and wanted + a.work[i] > end_hi:
                d.failed[1], d.failed[2] = a.arc_after[by_end], wanted + a.work[i] - end_hi
        return False
    e = t + _length(a, d, i, t)
    _pick(a, d, g, i, t, e)
    _put(a, d, i, t, e)
    return True


@njit(cache=True, nogil=True)
def _once(a, d, g, repairing):
    """Place all steps once; give how many found no room."""
    n = len(a.work)
    _clear(a, d)
    d.waits[:] = 0
    for k in range(len(a.arc_before)):
        if a.arc_order[k] == 1 and a.fixed[a.arc_before[k]] >= FAR:
            d.waits[a.arc_after[k]] += 1
    size, urgent, left = 0, 0, 0
    for i in range(n):
        if a.fixed[i] >= FAR:
            left += 1
            if d.waits[i] == 0:
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
                if g.prio[d.ready[x]] < g.prio[d.ready[at]]:
                    at = x
        i = d.ready[at]
        d.ready[at] = d.ready[size - 1]
        size -= 1
        if not _place(a, d, g, i):
            if repairing and d.failed[1] >= 0:
                return left - done
            continue
        done += 1
        for q in range(a.out_ptr[i], a.out_ptr[i + 1]):
            k = a.out_idx[q]
            if a.arc_order[k] == 0:
                continue
            j = a.arc_after[k]
            d.waits[j] -= 1
            if d.waits[j] == 0:
                d.ready[size] = j
                size += 1
                if g.chain[i] > 0 and a.arc_fits[k] >= 0:
                    urgent += 1
                elif urgent > 0:
                    d.ready[size - 1], d.ready[size - 1 - urgent] = d.ready[size - 1 - urgent], j
    return left - done


@njit(cache=True, nogil=True)
def decode(a, d, g):
    """Draw up the plan that `g` says; give how many steps found no room."""
    d.rel[:] = g.rel
    for _ in range(REPAIRS):
        lacking = _once(a, d, g, True)
        other = d.failed[1]
        if lacking == 0 or other < 0 or a.fixed[other] < FAR:
            break
        d.rel[other] = d.start[other] + d.failed[2]
    if lacking > 0:
        lacking = _once(a, d, g, False)
    return lacking
