"""The desk on which a plan is drawn up: who is free, what is taken, and where a step has room beside what stands there.

Rules
-----
* As each end is known when the step after is placed, what hangs on that end, the cure, is looked up exactly.
* What stands there binds from both sides: what a step comes after, and what comes after it.
"""

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, I32, Arrays
from tackwatch.plan.engine.compiled.how import inner

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
def entry(a, row, end):
    """Look up a table at an end."""
    return a.tables[row, min(max(end, 0), a.slots)]


@inner
def opens(a, arc, end):
    """Give the first start that an arc leaves after an end."""
    first = end + a.arcs[arc].least
    if a.arcs[arc].ready >= 0:
        first = max(first, entry(a, a.arcs[arc].ready, end))
    return first


@inner
def closes(a, arc, end):
    """Give the last start that an arc leaves after an end."""
    last = min(end + a.arcs[arc].most, FAR)
    if a.arcs[arc].last >= 0:
        last = min(last, entry(a, a.arcs[arc].last, end))
    return last


@inner
def limits(a, d, i):
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
def length_of(a, d, i, t):
    """Give how long a step takes that begins at `t`."""
    length = a.steps[i].work
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = a.lists[q]
        b = a.arcs[k].before
        if a.arcs[k].miss >= 0 and d.steps[b].start != -FAR and t > closes(a, k, d.steps[b].end):
            length += a.arcs[k].miss
    return length


@inner
def person_next(a, d, p, t, length, before):
    """Give the next slot from `t` from which a person is free for a while; any from `before` on if none is before."""
    while t < before:
        until = d.free[p, t]
        if until - t >= length and until > t:
            return t
        if until == 0:
            until = t + 1
            if d.owner[p, t] >= 0:
                until = max(until, d.steps[d.owner[p, t]].end)
        t = a.comes[p, min(until, a.slots)]
    return t


@inner
def people_next(a, d, i, t, e, told):
    """Give `t` if enough people, or those that were told, are free from `t` to `e`, or the next slot that may do."""
    n, jump = 0, FAR
    for q in range(a.steps[i].able_at, a.steps[i].able_to):
        p = a.lists[q]
        if told and a.told_by[i, p] == 0:
            continue
        later = person_next(a, d, p, t, e - t, min(jump, a.slots))
        if later > t:
            jump = min(jump, later)
            continue
        n += 1
        if n == a.steps[i].crew:
            return t
    return jump


@inner
def places_next(a, d, i, t, e):
    """Give `t` if the places have room from `t` to `e`, or the next slot that may do."""
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        room = a.holds[a.lists[q]] - a.lists[q + 1]
        taken = d.taken[a.lists[q]]
        for u in range(e - 1, t - 1, -1):
            if taken[u] > room:
                return u + 1
    return t


@inner
def zones_next(a, d, i, t, e):
    """Give `t` if no dust meets what is wet, or the next slot that may do."""
    for q in range(a.steps[i].opp_at, a.steps[i].opp_to, 2):
        j = a.lists[q]
        if d.steps[j].start == -FAR:
            continue
        if a.lists[q + 1] == 1:
            if max(t, d.steps[j].start) < min(e, d.steps[j].wet):
                return d.steps[j].wet
        else:
            wet = e if a.steps[i].dry < 0 else entry(a, a.steps[i].dry, e)
            if max(t, d.steps[j].start) < min(wet, d.steps[j].end):
                return d.steps[j].end
    return t


@inner
def all_next(a, d, i, t, e, told):
    """Give `t` if people, places and zones leave room from `t` to `e`, or the next slot that may do."""
    later = t
    if a.steps[i].crew > 0:
        later = people_next(a, d, i, t, e, told)
    if later == t:
        later = places_next(a, d, i, t, e)
    if later == t:
        later = zones_next(a, d, i, t, e)
    return later


@inner
def first_room(a, d, i, t, hi, end_lo, end_hi, soft):
    """Give the first slot from `t` at which `i` has room; `-1` if there is none."""
    while t <= hi:
        e = t + (a.steps[i].work if t <= soft else length_of(a, d, i, t))
        if e > a.slots or e > end_hi:
            return -1
        if e < end_lo:
            t += end_lo - e
            continue
        later = all_next(a, d, i, t, e, False)
        if later == t:
            return t
        t = later
    return -1


@inner
def book(a, d, i, p, t, e):
    """Take a person's time from `t` to `e`."""
    u = t - 1
    while u >= 0 and d.free[p, u] > t:
        d.free[p, u] = t
        u -= 1
    for u in range(t, e):
        d.free[p, u] = 0
        d.owner[p, u] = i
    d.load[p] += e - t


@inner
def put(a, d, i, t, e):
    """Write a step down, and take its places."""
    d.steps[i].start, d.steps[i].end = t, e
    d.steps[i].wet = e if a.steps[i].dry < 0 else entry(a, a.steps[i].dry, e)
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        for u in range(max(t, 0), min(e, a.slots)):
            d.taken[a.lists[q], u] += a.lists[q + 1]
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = a.lists[q]
        end = d.steps[a.arcs[k].before].end
        late = end > -FAR and t > closes(a, k, end)
        d.missed[k] = 1 if a.arcs[k].miss >= 0 and late else 0


@inner
def clear(a, d):
    """Take all off the desk but what is fixed."""
    # Loops, since what is assigned to whole arrays takes seconds to compile.
    for p in range(d.free.shape[0]):
        d.load[p] = 0
        for u in range(d.free.shape[1]):
            d.free[p, u], d.owner[p, u] = a.free[p, u], -1
    for k in range(d.taken.shape[0]):
        for u in range(d.taken.shape[1]):
            d.taken[k, u] = 0
    for k in range(len(d.missed)):
        d.missed[k] = 0
    for x in range(3):
        d.failed[x] = -1
    for i in range(len(a.steps)):
        d.steps[i].start, d.steps[i].end = -FAR, -FAR
        for c in range(d.crew.shape[1]):
            d.crew[i, c] = -1
    for i in range(len(a.steps)):
        if a.steps[i].fixed >= FAR:
            continue
        t, e = a.steps[i].fixed, a.steps[i].fixed + a.steps[i].work
        for c in range(a.steps[i].held_to - a.steps[i].held_at):
            p = a.lists[a.steps[i].held_at + c]
            d.crew[i, c] = p
            book(a, d, i, p, min(max(t, 0), a.slots), min(max(e, 0), a.slots))
        put(a, d, i, t, e)
