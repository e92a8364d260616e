"""Packing steps that need no people into places: a population of orders, compiled.

Theory
------
Serial schedule generation from an order of steps, then justification to the right and back to the
left, which never lengthens a schedule and mostly shortens it (Valls, Ballestin, Quintanilla 2005).
Orders are crossed at two points, so that a child keeps the beginning and end of one and the middle's
order of the other (Hartmann 1998).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import I32
from tackwatch.plan.engine.compiled.chance import below, draw
from tackwatch.plan.engine.compiled.how import inner, outer


class Pack(NamedTuple):
    """What is to be packed.

    `work`, `demand` (steps, places), `holds`; arcs `start(b) >= start(a) + gap`, `gap` not below 0, by the step
    they end at (`in_*`) and begin at (`out_*`); `topo`: an order along the arcs; `whole`: 1 when no arc lets the
    steps at its ends overlap.
    """

    work: I32
    demand: I32
    holds: I32
    in_ptr: I32
    in_step: I32
    in_gap: I32
    out_ptr: I32
    out_step: I32
    out_gap: I32
    topo: I32
    whole: int


class Pool(NamedTuple):
    """A population: orders (many, steps), their `span` and sum of starts; and room to work in."""

    order: I32
    span: NDArray[np.int64]
    early: NDArray[np.int64]
    best: I32
    start: I32
    child: I32
    tally: I32
    taken: I32


@inner
def _forward(a, order, start, taken):
    """Place steps as soon as may be; give when all is done."""
    taken[:] = 0
    places, span = len(a.holds), 0
    for x in range(len(order)):
        i = order[x]
        t, n = 0, a.work[i]
        for q in range(a.in_ptr[i], a.in_ptr[i + 1]):
            t = max(t, start[a.in_step[q]] + a.in_gap[q])
        u = t + n - 1
        while u >= t:
            full = False
            for k in range(places):
                if taken[u, k] + a.demand[i, k] > a.holds[k]:
                    full = True
            if full:
                t = u + 1
                u = t + n - 1
            else:
                u -= 1
        for v in range(t, t + n):
            for k in range(places):
                taken[v, k] += a.demand[i, k]
        start[i] = t
        span = max(span, t + n)
    return span


@inner
def _backward(a, order, start, taken, span):
    """Place steps as late as may be, so that all is done at `span`."""
    taken[:] = 0
    places, first = len(a.holds), span
    for x in range(len(order)):
        i = order[x]
        n = a.work[i]
        t = span - n
        for q in range(a.out_ptr[i], a.out_ptr[i + 1]):
            t = min(t, start[a.out_step[q]] - a.out_gap[q])
        u = t
        while u < t + n:
            full = False
            for k in range(places):
                if taken[u, k] + a.demand[i, k] > a.holds[k]:
                    full = True
            if full:
                t = u - n
                if t < 0:
                    return -1
                u = t
            else:
                u += 1
        if t < 0:
            return -1
        for v in range(t, t + n):
            for k in range(places):
                taken[v, k] += a.demand[i, k]
        start[i] = t
        first = min(first, t)
    return first


@inner
def _sort(a, key, count, order, backwards):
    """Sort steps by a key of slots, those of one key along the arcs; or all of it the other way."""
    n = len(a.topo)
    count[:] = 0
    for i in range(n):
        count[key[i] + 1] += 1
    for v in range(1, len(count)):
        count[v] += count[v - 1]
    for x in range(n):
        i = a.topo[x]
        at = count[key[i]]
        count[key[i]] += 1
        order[n - 1 - at if backwards else at] = i


@inner
def _justify(a, pool, start, order):
    """Pack an order, to the right, and back to the left; give how long it takes."""
    span = _forward(a, order, start, pool.taken)
    key = np.zeros(len(start), dtype=np.int32)
    for _ in range(2):
        for i in range(len(start)):
            key[i] = start[i] + (a.work[i] if a.whole == 1 else 0)
        _sort(a, key, pool.tally, order, True)
        first = _backward(a, order, start, pool.taken, span)
        if first < 0:
            break
        _sort(a, start, pool.tally, order, False)
        shorter = _forward(a, order, start, pool.taken)
        if shorter >= span:
            span = shorter
            break
        span = shorter
    _sort(a, start, pool.tally, order, False)
    return span


@inner
def _cross(a, mother, father, child, used, state):
    n = len(child)
    left, right = below(state, n), below(state, n)
    if left > right:
        left, right = right, left
    used[:] = 0
    for x in range(left):
        child[x] = mother[x]
        used[mother[x]] = 1
    at = left
    for x in range(n):
        if at == right:
            break
        if used[father[x]] == 0:
            child[at] = father[x]
            used[father[x]] = 1
            at += 1
    for x in range(n):
        if used[mother[x]] == 0:
            child[at] = mother[x]
            used[mother[x]] = 1
            at += 1


@inner
def _shake(a, child, state, rate):
    """Exchange neighbours here and there, where no arc says in which order they come."""
    for x in range(len(child) - 1):
        if draw(state) < rate:
            i, j = child[x], child[x + 1]
            tied = False
            for q in range(a.in_ptr[j], a.in_ptr[j + 1]):
                tied = tied or a.in_step[q] == i
            if not tied:
                child[x], child[x + 1] = j, i


@outer
def breed(a, pool, state, children, goal):
    """Breed so many children, each in place of a worse one; stop at a span of `goal`.

    Parameters
    ----------
    a : Pack
        What is to be packed.
    pool : Pool
        The population, changed in place; a span of -1 marks an order that is still to be packed. `best`: the
        starts of the best.
    state : array, shape (1,)
        The state of chance.
    children, goal : int
        How many; when to stop.
    """
    many, n = pool.order.shape
    used = np.zeros(n, dtype=np.int32)
    least = np.int64(2**40)
    for m in range(many):
        if pool.span[m] >= 0:
            least = min(least, pool.span[m])
    for c in range(-many, children):
        if least <= goal:
            break
        if c < 0:
            m = c + many
            if pool.span[m] >= 0:
                continue
            pool.child[:] = pool.order[m]
        else:
            x, y = below(state, many), below(state, many)
            z = below(state, many)
            x = x if pool.span[x] <= pool.span[z] else z
            _cross(a, pool.order[x], pool.order[y], pool.child, used, state)
            _shake(a, pool.child, state, 0.03)
            m = below(state, many)
            for _ in range(4):
                other = below(state, many)
                if pool.span[other] > pool.span[m]:
                    m = other
        span = _justify(a, pool, pool.start, pool.child)
        early = np.int64(0)
        for i in range(n):
            early += pool.start[i]
        again = False
        if c >= 0:
            if span > pool.span[m]:
                continue
            for other in range(many):
                again = again or (pool.span[other] == span and pool.early[other] == early)
        if again:
            continue
        pool.order[m] = pool.child
        pool.span[m], pool.early[m] = span, early
        if span < least:
            least = span
            pool.best[:] = pool.start
    return least
