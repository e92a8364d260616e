"""Search among orders of steps: a biased random-key local search, compiled.

Theory
------
What is searched is not plans but the keys from which `decode` makes them, so that whatever is found
keeps all rules (Bean 1994; Goncalves, Mendes, Resende 2005). Each try changes a few keys of the plan
in hand, mostly of steps that stand near one another in time or near a missed window, and is kept
when it is no worse.
"""

import numpy as np
from numba import njit

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.decode import closes, decode
from tackwatch.plan.engine.compiled.levels import LEVELS, compare, weigh, weigh_rest


@njit(cache=True, nogil=True)
def draw(state):
    """Draw a number in [0, 1) (xorshift64*, Vigna 2016)."""
    x = state[0]
    x ^= x >> np.uint64(12)
    x ^= x << np.uint64(25)
    x ^= x >> np.uint64(27)
    state[0] = x
    return float((x * np.uint64(2685821657736338717)) >> np.uint64(11)) / 9007199254740992.0


@njit(cache=True, nogil=True)
def below(state, n):
    """Draw a whole number of 0 .. n - 1."""
    return min(int(draw(state) * n), n - 1)


@njit(cache=True, nogil=True)
def copy(source, target):
    """Copy keys."""
    target.prio[:] = source.prio
    target.rel[:] = source.rel
    target.hold[:] = source.hold
    target.chain[:] = source.chain
    target.aim[:] = source.aim
    target.who[:] = source.who


@njit(cache=True, nogil=True)
def _near(a, starts, state, span, out):
    """Collect steps that begin within a span of slots around a random step; give how many."""
    pivot = starts[below(state, len(a.work))]
    count = 0
    for i in range(len(a.work)):
        if a.fixed[i] >= FAR and abs(starts[i] - pivot) <= span and count < len(out):
            out[count] = i
            count += 1
    return count


@njit(cache=True, nogil=True)
def _change_one(a, g, starts, state, day, i):
    """Change a key of a step."""
    dice = draw(state)
    if dice < 0.55:
        g.prio[i] = starts[i] + (draw(state) - 0.5) * 4.0 * day
    elif dice < 0.65:
        g.hold[i] = below(state, 3)
    elif dice < 0.70:
        g.chain[i] = 1 - g.chain[i]
    elif dice < 0.80:
        g.rel[i] = 0 if g.rel[i] > 0 else max(0, starts[i] + int(draw(state) * 1.5 * day))
    elif dice < 0.86 and a.told[i] < FAR:
        g.aim[i] = a.told[i] if g.aim[i] != a.told[i] else -1
    elif a.able_ptr[i + 1] > a.able_ptr[i]:
        p = a.able_idx[a.able_ptr[i] + below(state, a.able_ptr[i + 1] - a.able_ptr[i])]
        g.who[i, p] = draw(state) * 2.0 - 1.0


@njit(cache=True, nogil=True)
def _help_missed(a, g, missed, ends, starts, state, day):
    """Change keys around a missed window: the step after sooner, or the step before later."""
    count = 0
    for k in range(len(missed)):
        count += missed[k]
    if count == 0:
        return False
    wanted = below(state, count)
    arc = 0
    for k in range(len(missed)):
        if missed[k] == 1:
            if wanted == 0:
                arc = k
            wanted -= 1
    i, j = a.arc_before[arc], a.arc_after[arc]
    dice = draw(state)
    late = starts[j] - closes(a, arc, ends[i])
    if dice < 0.45:
        g.rel[i] = max(0, starts[i] + 1 + int(draw(state) * min(max(late, 1), 2 * day)))
    elif dice < 0.7:
        g.prio[j] = starts[i]
        for q in range(a.in_ptr[j], a.in_ptr[j + 1]):
            b = a.arc_before[a.in_idx[q]]
            if b != i:
                g.prio[b] = min(g.prio[b], starts[i] - draw(state) * day)
                g.rel[b] = 0
    elif dice < 0.85:
        g.hold[i], g.chain[i], g.rel[i] = 2, 1, 0
    else:
        g.rel[i], g.rel[j] = 0, 0
        g.prio[i] = starts[i] + (draw(state) - 0.5) * 4.0 * day
    return True


@njit(cache=True, nogil=True)
def _change(a, g, d_missed, starts, ends, state, day, near):
    if draw(state) < 0.5:
        for i in range(len(a.work)):
            g.prio[i] = starts[i]
    helped = draw(state) < 0.5 and _help_missed(a, g, d_missed, ends, starts, state, day)
    if helped and draw(state) < 0.7:
        return
    count = _near(a, starts, state, int(day * (0.5 + 2.0 * draw(state))), near)
    if count == 0:
        return
    for _ in range(1 + below(state, 1 + min(count, 6))):
        _change_one(a, g, starts, state, day, near[below(state, count)])


@njit(cache=True, nogil=True)
def better(a, d, g, trial, best, state, rounds, day):
    """Try `rounds` changes of `g`, and keep those that are no worse; `best` holds its levels.

    Parameters
    ----------
    a : Arrays
        The project.
    d : Desk
        Where to draw.
    g, trial : Genes
        The keys in hand, changed in place; room for keys.
    best : array, shape (LEVELS,)
        The levels of `g`, changed in place.
    state : array, shape (1,)
        The state of chance.
    rounds, day : int
        How many tries; slots of a day.
    """
    n = len(a.work)
    levels = np.zeros(LEVELS, dtype=np.int64)
    near = np.zeros(n, dtype=np.int32)
    starts, ends = np.zeros(n, dtype=np.int32), np.zeros(n, dtype=np.int32)
    missed = np.zeros(len(a.arc_before), dtype=np.int8)
    lacking = decode(a, d, g)
    weigh(a, d, lacking, best)
    weigh_rest(a, d, best)
    starts[:], ends[:], missed[:] = np.maximum(d.start, 0), np.maximum(d.end, 0), d.missed
    for _ in range(rounds):
        copy(g, trial)
        _change(a, trial, missed, starts, ends, state, day, near)
        lacking = decode(a, d, trial)
        weigh(a, d, lacking, levels)
        if compare(levels, best, 4) > 0:
            continue
        weigh_rest(a, d, levels)
        if compare(levels, best, LEVELS) > 0:
            continue
        copy(trial, g)
        best[:] = levels
        starts[:], ends[:], missed[:] = np.maximum(d.start, 0), np.maximum(d.end, 0), d.missed
    decode(a, d, g)


@njit(cache=True, nogil=True)
def draw_up(a, d, g, levels):
    """Draw up the plan of some keys, and weigh it."""
    lacking = decode(a, d, g)
    weigh(a, d, lacking, levels)
    weigh_rest(a, d, levels)
