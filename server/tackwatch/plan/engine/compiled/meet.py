"""Move something so that a window is met which is missed, compiled.

Where a window is missed, nobody need have moved: what comes after it may be where it was told to be. So putting
back what moved does not mend it. There are three ways: what comes after goes into the window, what opened the window
goes later, or the whole chain of coats goes elsewhere.
"""

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.chance import below, draw
from tackwatch.plan.engine.compiled.desk import closes, opens
from tackwatch.plan.engine.compiled.eject import force, take_off, wait_for_window, wait_no_more
from tackwatch.plan.engine.compiled.how import inner

CHAIN = 0.4  # of the tries move the whole chain
SOONER = 0.5  # of the others move what comes after; the rest what opened the window
DRAWS = 8  # of a slot, until somebody is there


@inner
def some_missed(a, d, s):
    """Choose a window that is missed, by chance; -1 if there is none."""
    n, found = 0, -1
    for k in range(len(a.arcs)):
        if d.missed[k] == 1:
            n += 1
            found = k if below(s.state, n) == 0 else found
    return found


@inner
def meet(a, d, s, k, day):
    """Move something so that a window may be met, who is pushed waits; False where that cannot be."""
    b, i = int(a.arcs[k].before), int(a.arcs[k].after)
    if draw(s.state) < CHAIN:
        _take_off_chain(a, d, s, i)
        return True
    end, start = d.steps[b].end, d.steps[i].start
    if a.steps[b].fixed < FAR or draw(s.state) < SOONER:
        t = _slot_within(a, s, i, max(0, opens(a, k, end)), closes(a, k, end))
    else:
        t = d.steps[b].start + wait_for_window(a, k, end, start)
        t = _slot_within(a, s, b, t, t + day)
        i = b
    if t < 0 or a.steps[i].fixed < FAR:
        return False
    take_off(a, d, s, i)
    wait_no_more(s, i)
    return force(a, d, s, i, t)


@inner
def _slot_within(a, s, i, first, last):
    """Choose a slot of a span in which somebody may do a step at one go, by chance; -1 if none came up."""
    last = min(last, a.slots - a.steps[i].work)
    for _ in range(DRAWS if first <= last else 0):
        t = first + below(s.state, last - first + 1)
        if a.steps[i].crew == 0:
            return t
        for q in range(a.steps[i].able_at, a.steps[i].able_to):
            if a.free[a.lists[q], t] >= t + a.steps[i].work:
                return t
    return -1


@inner
def _take_off_chain(a, d, s, i):
    """Take off a step with all that comes before it by windows, and have it laid elsewhere."""
    then = i
    while then >= 0:
        i, then = then, -1
        if a.steps[i].fixed >= FAR and d.steps[i].start > -FAR:
            take_off(a, d, s, i)
            s.shy[i] = 1
        for q in range(a.steps[i].in_at, a.steps[i].in_to):
            k = int(a.lists[q])
            if a.arcs[k].miss >= 0 and d.steps[a.arcs[k].before].start > -FAR:
                then = int(a.arcs[k].before)
