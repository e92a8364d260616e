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

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, I32, Arrays
from tackwatch.plan.engine.compiled.how import inner

HELD_TRIES = 300
REPAIRS = 40


GENE: Final = np.dtype(
    [("prio", "f8"), ("rel", "i4"), ("aim", "i4"), ("hold", "i4"), ("chain", "i4")], align=True
)
SEAT: Final = np.dtype(
    [("start", "i4"), ("end", "i4"), ("wet", "i4"), ("waits", "i4"), ("rel", "i4")], align=True
)


class Genes(NamedTuple):
    """What decides a plan: records of type `GENE` by step; `who`, shape (steps, people), where less is better."""

    steps: NDArray[np.void]
    who: NDArray[np.float32]


class Desk(NamedTuple):
    """Where a plan is drawn up.

    `steps` are records of type `SEAT`, with a `start` of `-FAR` where a step has no place; `crew`: shape (steps,
    largest crew); `missed`: by arc; `failed`: a step without room, the other end of a gap that is why, and how
    much later that would have to be.
    """

    steps: NDArray[np.void]
    crew: I32
    missed: I32
    failed: I32
    owner: I32
    free: I32
    taken: I32
    load: I32
    ready: I32


def desk(a: Arrays) -> Desk:
    """Lay out an empty desk."""
    n = len(a.steps)
    held = (a.steps["held_to"] - a.steps["held_at"]).max(initial=1)
    return Desk(
        steps=np.zeros(n, dtype=SEAT),
        crew=np.full((n, max(int(a.steps["crew"].max(initial=1)), int(held))), -1, dtype=np.int32),
        missed=np.zeros(len(a.arcs), dtype=np.int32),
        failed=np.full(3, -1, dtype=np.int32),
        owner=np.full((max(a.people, 1), a.slots + 1), -1, dtype=np.int32),
        free=a.free.copy(),
        taken=np.zeros((max(len(a.holds), 1), a.slots + 1), dtype=np.int32),
        load=np.zeros(max(a.people, 1), dtype=np.int32),
        ready=np.zeros(2 * n + 2, dtype=np.int32),
    )


@inner
def _entry(a, row, end):
    return a.tables[row, min(max(end, 0), a.slots)]


@inner
def opens(a, arc, end):
    """Give the first start that an arc leaves after an end."""
    first = end + a.arcs[arc].least
    if a.arcs[arc].ready >= 0:
        first = max(first, _entry(a, a.arcs[arc].ready, end))
    return first


@inner
def closes(a, arc, end):
    """Give the last start that an arc leaves after an end."""
    last = min(end + a.arcs[arc].most, FAR)
    if a.arcs[arc].last >= 0:
        last = min(last, _entry(a, a.arcs[arc].last, end))
    return last


@inner
def _limits(a, d, i):
    """Give what placed steps leave to `i`: first and last start, least and largest end, first miss."""
    lo, hi, end_lo, end_hi, soft = a.steps[i].earliest, FAR, 0, FAR, FAR
    by_hi, by_end = -1, -1
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = a.lists[q]
        end = d.steps[a.arcs[k].before].end
        if d.steps[a.arcs[k].before].start == -FAR:
            continue
        lo = max(lo, opens(a, k, end))
        last = closes(a, k, end)
        if a.arcs[k].miss >= 0:
            soft = min(soft, last)
        elif last < hi:
            hi, by_hi = last, k
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = a.lists[q]
        start = d.steps[a.arcs[k].after].start
        if start == -FAR:
            continue
        if start - a.arcs[k].least < end_hi:
            end_hi, by_end = start - a.arcs[k].least, k
        if a.arcs[k].most < FAR and a.arcs[k].miss < 0:
            end_lo = max(end_lo, start - a.arcs[k].most)
    return lo, hi, end_lo, end_hi, soft, by_hi, by_end


@inner
def _length(a, d, i, t):
    """Give how long a step takes that begins at `t`."""
    length = a.steps[i].work
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = a.lists[q]
        b = a.arcs[k].before
        if a.arcs[k].miss >= 0 and d.steps[b].start != -FAR and t > closes(a, k, d.steps[b].end):
            length += a.arcs[k].miss
    return length


@inner
def _people_next(a, d, i, t, e):
    """Give `t` if enough people are free from `t` to `e`, or the next slot that may do."""
    n, jump = 0, FAR
    for q in range(a.steps[i].able_at, a.steps[i].able_to):
        p = a.lists[q]
        until = d.free[p, t]
        if until >= e and until > t:
            n += 1
            if n == a.steps[i].crew:
                return t
            continue
        if until == 0:
            until = t + 1
            if d.owner[p, t] >= 0:
                until = max(until, d.steps[d.owner[p, t]].end)
        jump = min(jump, a.comes[p, min(max(until, t + 1), a.slots)])
    return jump


@inner
def _places_next(a, d, i, t, e):
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        room = a.holds[a.lists[q]] - a.lists[q + 1]
        taken = d.taken[a.lists[q]]
        for u in range(e - 1, t - 1, -1):
            if taken[u] > room:
                return u + 1
    return t


@inner
def _zones_next(a, d, i, t, e):
    for q in range(a.steps[i].opp_at, a.steps[i].opp_to, 2):
        j = a.lists[q]
        if d.steps[j].start == -FAR:
            continue
        if a.lists[q + 1] == 1:
            if max(t, d.steps[j].start) < min(e, d.steps[j].wet):
                return d.steps[j].wet
        else:
            wet = e if a.steps[i].dry < 0 else _entry(a, a.steps[i].dry, e)
            if max(t, d.steps[j].start) < min(wet, d.steps[j].end):
                return d.steps[j].end
    return t


@inner
def _first(a, d, i, t, hi, end_lo, end_hi, soft):
    """Give the first slot from `t` at which `i` has room; `-1` if there is none."""
    while t <= hi:
        e = t + (a.steps[i].work if t <= soft else _length(a, d, i, t))
        if e > a.slots or e > end_hi:
            return -1
        if e < end_lo:
            t += end_lo - e
            continue
        later = t
        if a.steps[i].crew > 0:
            later = _people_next(a, d, i, t, e)
        if later == t:
            later = _places_next(a, d, i, t, e)
        if later == t:
            later = _zones_next(a, d, i, t, e)
        if later == t:
            return t
        t = later
    return -1


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
            lo, hi, end_lo, end_hi, soft, _, _ = _limits(a, d, j)
            lo, hi = max(lo, opens(a, k, e)), min(hi, closes(a, k, e))
            t = _first(a, d, j, lo, hi, end_lo, end_hi, soft)
            while t >= 0:
                later = _by_hours(a, d, j, t + a.steps[j].work)
                if later == 0 or later >= FAR // 2:
                    break
                t = _first(a, d, j, t + later, hi, end_lo, end_hi, soft)
            if t < 0:
                return 1
    return 0


@inner
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


@inner
def _book(a, d, i, p, t, e):
    u = t - 1
    while u >= 0 and d.free[p, u] > t:
        d.free[p, u] = t
        u -= 1
    for u in range(t, e):
        d.free[p, u] = 0
        d.owner[p, u] = i
    d.load[p] += e - t


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
        _book(a, d, i, d.crew[i, c], t, e)


@inner
def _put(a, d, i, t, e):
    """Write a step down, and take its places."""
    d.steps[i].start, d.steps[i].end = t, e
    d.steps[i].wet = e if a.steps[i].dry < 0 else _entry(a, a.steps[i].dry, e)
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        for u in range(max(t, 0), min(e, a.slots)):
            d.taken[a.lists[q], u] += a.lists[q + 1]
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = a.lists[q]
        late = t > closes(a, k, d.steps[a.arcs[k].before].end)
        d.missed[k] = 1 if a.arcs[k].miss >= 0 and late else 0


@inner
def _clear(a, d):
    d.free[:] = a.free
    d.owner[:] = -1
    d.taken[:] = 0
    d.steps.start[:] = -FAR
    d.steps.end[:] = -FAR
    d.crew[:] = -1
    d.missed[:] = 0
    d.load[:] = 0
    d.failed[:] = -1
    for i in range(len(a.steps)):
        if a.steps[i].fixed >= FAR:
            continue
        t, e = a.steps[i].fixed, a.steps[i].fixed + a.steps[i].work
        for c in range(a.steps[i].held_to - a.steps[i].held_at):
            p = a.lists[a.steps[i].held_at + c]
            d.crew[i, c] = p
            _book(a, d, i, p, min(max(t, 0), a.slots), min(max(e, 0), a.slots))
        _put(a, d, i, t, e)


@inner
def _place(a, d, g, i):
    """Find room for a step; False, with the reason in `failed`, if there is none."""
    lo, hi, end_lo, end_hi, soft, by_hi, by_end = _limits(a, d, i)
    lo = max(lo, d.steps[i].rel)
    t = -1
    if lo <= g.steps[i].aim <= hi:
        t = _first(a, d, i, g.steps[i].aim, g.steps[i].aim, end_lo, end_hi, soft)
    if t < 0:
        t = _first(a, d, i, lo, hi, end_lo, end_hi, soft)
        if t >= 0 and g.steps[i].hold > 0:
            t = _held(a, d, i, t, hi, end_lo, end_hi, soft, g.steps[i].hold)
    if t < 0:
        d.failed[0] = i
        if by_hi >= 0 or by_end >= 0:
            wanted = _first(a, d, i, lo, FAR, 0, FAR, soft)
            if wanted >= 0 and by_hi >= 0 and wanted > hi:
                d.failed[1], d.failed[2] = a.arcs[by_hi].before, wanted - hi
            elif wanted >= 0 and by_end >= 0 and wanted + a.steps[i].work > end_hi:
                d.failed[1], d.failed[2] = a.arcs[by_end].after, wanted + a.steps[i].work - end_hi
        return False
    e = t + _length(a, d, i, t)
    _pick(a, d, g, i, t, e)
    _put(a, d, i, t, e)
    return True


@inner
def _once(a, d, g, repairing):
    """Place all steps once; give how many found no room."""
    n = len(a.steps)
    _clear(a, d)
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
