"""Search among orders of steps: a biased random-key local search, compiled.

Theory
------
What is searched is not plans but the keys from which `decode` makes them, so that whatever is found
keeps all rules (Bean 1994; Goncalves, Mendes, Resende 2005). Each try changes a few keys of the plan
in hand, mostly of steps that stand near one another in time or near a missed window, and is kept
when it is no worse.
"""

import numpy as np

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.chance import below, draw
from tackwatch.plan.engine.compiled.decode import decode
from tackwatch.plan.engine.compiled.desk import closes
from tackwatch.plan.engine.compiled.how import inner, outer
from tackwatch.plan.engine.compiled.levels import LEVELS, compare, weigh, weigh_rest


@inner
def copy(source, target):
    """Copy keys."""
    target.steps[:] = source.steps
    target.who[:] = source.who


@inner
def _near(a, starts, state, span, out):
    """Collect steps that begin within a span of slots around a random step; give how many."""
    pivot = starts[below(state, len(a.steps))]
    count = 0
    for i in range(len(a.steps)):
        if a.steps[i].fixed >= FAR and abs(starts[i] - pivot) <= span and count < len(out):
            out[count] = i
            count += 1
    return count


@inner
def _change_one(a, g, starts, state, day, i):
    """Change a key of a step."""
    dice = draw(state)
    if dice < 0.8 and (a.steps[i].told >= FAR or draw(state) < 0.3):
        g.steps[i].aim = -1
    if dice < 0.55:
        g.steps[i].prio = starts[i] + (draw(state) - 0.5) * 4.0 * day
    elif dice < 0.65:
        g.steps[i].hold = below(state, 3)
    elif dice < 0.70:
        g.steps[i].chain = 1 - g.steps[i].chain
    elif dice < 0.80:
        g.steps[i].rel = (
            0 if g.steps[i].rel > 0 else max(0, starts[i] + int(draw(state) * 1.5 * day))
        )
    elif dice < 0.86 and a.steps[i].told < FAR:
        g.steps[i].aim = a.steps[i].told if g.steps[i].aim != a.steps[i].told else -1
    elif a.steps[i].able_to > a.steps[i].able_at:
        p = a.lists[a.steps[i].able_at + below(state, a.steps[i].able_to - a.steps[i].able_at)]
        g.who[i, p] = -20.0 * draw(state)


@inner
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
    i, j = a.arcs[arc].before, a.arcs[arc].after
    dice = draw(state)
    g.steps[j].aim = -1
    if dice < 0.7:
        g.steps[i].aim = -1
    late = starts[j] - closes(a, arc, ends[i])
    if dice < 0.45:
        g.steps[i].rel = max(0, starts[i] + 1 + int(draw(state) * min(max(late, 1), 2 * day)))
    elif dice < 0.7:
        g.steps[j].prio = starts[i]
        for q in range(a.steps[j].in_at, a.steps[j].in_to):
            b = a.arcs[a.lists[q]].before
            if b != i:
                g.steps[b].prio = min(g.steps[b].prio, starts[i] - draw(state) * day)
                g.steps[b].rel = 0
    elif dice < 0.85:
        g.steps[i].hold, g.steps[i].chain, g.steps[i].rel = 2, 1, 0
    else:
        g.steps[i].rel, g.steps[j].rel = 0, 0
        g.steps[i].prio = starts[i] + (draw(state) - 0.5) * 4.0 * day
    return True


@inner
def _change(a, g, d_missed, starts, ends, state, day, near):
    if draw(state) < 0.5:
        for i in range(len(a.steps)):
            g.steps[i].prio = starts[i]
    helped = draw(state) < 0.5 and _help_missed(a, g, d_missed, ends, starts, state, day)
    if helped and draw(state) < 0.7:
        return
    count = _near(a, starts, state, int(day * (0.5 + 2.0 * draw(state))), near)
    if count == 0:
        return
    if draw(state) < 0.3:
        for x in range(count):
            if a.steps[near[x]].told >= FAR:
                g.steps[near[x]].aim = -1
    for _ in range(1 + below(state, 1 + min(count, 6))):
        _change_one(a, g, starts, state, day, near[below(state, count)])


@inner
def _note(d, starts, ends, missed):
    for i in range(len(starts)):
        starts[i], ends[i] = max(d.steps[i].start, 0), max(d.steps[i].end, 0)
    missed[:] = d.missed


@outer
def better(a, d, g, trial, best, state, rounds, day, guided):
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
    rounds, day, guided : int
        How many tries; slots of a day; 1 where a late plan's ends are weighed too, see `levels`.
    """
    n = len(a.steps)
    levels = np.zeros(LEVELS, dtype=np.int64)
    near = np.zeros(n, dtype=np.int32)
    starts, ends = np.zeros(n, dtype=np.int32), np.zeros(n, dtype=np.int32)
    missed = np.zeros(len(a.arcs), dtype=np.int32)
    lacking = decode(a, d, g)
    weigh(a, d, lacking, guided, best)
    weigh_rest(a, d, best)
    _note(d, starts, ends, missed)
    for _ in range(rounds):
        copy(g, trial)
        _change(a, trial, missed, starts, ends, state, day, near)
        lacking = decode(a, d, trial)
        weigh(a, d, lacking, guided, levels)
        if compare(levels, best, 5) > 0:
            continue
        weigh_rest(a, d, levels)
        if compare(levels, best, LEVELS) > 0:
            continue
        copy(trial, g)
        best[:] = levels
        _note(d, starts, ends, missed)
    if rounds > 0:
        decode(a, d, g)
