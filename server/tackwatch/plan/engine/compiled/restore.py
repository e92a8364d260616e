"""Search for a plan that moves less of what was told: steps are put back where they were told to be, compiled.

Theory
------
That few are moved is a property of single steps, which a search among orders cannot see: one order more or less
moves all that comes behind it. So all stay where they are but some. One that moved is laid where it was told to be,
and ejects what is in its way; or some are taken off. Who is without a place then goes back to where it was told to
be if that is free, else to where there is room, and ejects what comes after it where there is none: the ejection
chains of the literature (Glover 1996; from memory). At times all goes back that moved in some days, or of one job,
since what moved together often can go back together only. A window that is missed is mended, see `meet`. What is a
little worse is gone on from at times, as in annealing (Kirkpatrick, Gelatt, Vecchi 1983), so that the search gets out
of where it is stuck; missed windows and lateness weigh little at first, so that there is room to put back in, and then
more and more. What is given is the best that was seen, and lateness comes first in that as everywhere.
"""

import numpy as np

from tackwatch.plan.engine.arrays import FAR
from tackwatch.plan.engine.compiled.chance import below, draw
from tackwatch.plan.engine.compiled.eject import (
    Slate,
    begin,
    force,
    last_by_windows,
    lay,
    room_from,
    take_off,
    undo,
    wait_no_more,
)
from tackwatch.plan.engine.compiled.how import inner, outer
from tackwatch.plan.engine.compiled.levels import compare, weigh
from tackwatch.plan.engine.compiled.meet import meet, some_missed

AGAIN = -2
CARES = 4  # levels: room, lateness, missed work, what moved
AROUND = 0.05  # of the tries put back what moved in some days
LINKED = 0.05  # put back what moved of a job
NEW = 0.1  # look at a step, and take it off with what comes after it if nobody was told of it
MOST_OFF = 100  # times that something is taken off in one try
MISSED = 0.2  # of the tries mend a missed window, if there is one
BACK = 0.6  # of the tries put back by force what moved; the others take some off
WITH_BEFORE = 0.4  # of those that would miss a window have the step before moved too
TWO = 0.3  # of the tries begin with two
AS_TOLD = 0.5  # of those laid elsewhere keep their people
NEAR = 0.35  # of those that go back by force, the first goes near where it was told to be only
SHY = 0.7  # of those taken off do not go where they were told to be
SOON = 0.5  # of those laid elsewhere go where there is room first
DEAREST = 30.0  # what a slot of lateness or missed work weighs at last
RAMP = 0.7  # of the tries, until it weighs so much


@inner
def _moved(a, d, i):
    """Say whether a step is not as it was told."""
    if a.steps[i].told >= FAR or a.steps[i].fixed < FAR:
        return False
    strange = d.steps[i].start != a.steps[i].told
    for c in range(d.crew.shape[1]):
        strange = strange or (d.crew[i, c] >= 0 and a.told_by[i, d.crew[i, c]] == 0)
    return strange


@inner
def _all_moved(a, d, moved):
    """Note the steps that moved; give how many."""
    count = 0
    for i in range(len(a.steps)):
        if _moved(a, d, i):
            moved[count] = i
            count += 1
    return count


@inner
def _next_waiting(a, s):
    """Take the one that was told to be first from those that wait."""
    at, least = 0, 2 * FAR
    for x in range(s.many[1]):
        i = int(s.waiting[x])
        key = a.steps[i].told if a.steps[i].told < FAR else s.start[i]
        if key < least:
            at, least = x, key
    i = int(s.waiting[at])
    s.many[1] -= 1
    s.waiting[at] = s.waiting[s.many[1]]
    return i


@inner
def _find(a, d, s, i, day):
    """Find a place for a step; what comes after it is taken off if it is in the way.

    -1 if there is none; `AGAIN` where what comes before it was taken off, so that it has to wait for that.
    """
    told = a.steps[i].told
    for turn in range(6):
        begin_at, last, as_told = 0, last_by_windows(a, d, i), False
        if turn == 0:
            if told >= FAR or s.shy[i] == 1:
                continue
            begin_at, last = told, told
        elif turn == 1 or turn == 3:
            as_told = draw(s.state) < AS_TOLD
            if draw(s.state) >= SOON:
                begin_at = max(0, s.start[i] + int((draw(s.state) - 0.4) * 4.0 * day))
        elif turn == 5:  # whatever is missed
            last = FAR
        if turn == 3:
            _take_off_after(a, d, s, i)
        if turn == 5 and draw(s.state) < WITH_BEFORE and _take_off_before(a, d, s, i):
            return AGAIN
        t = room_from(a, d, i, begin_at, last, as_told)
        if t >= 0:
            return t
    return -1


@inner
def _take_off_after(a, d, s, i):
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        j = int(a.arcs[a.lists[q]].after)
        if a.steps[j].fixed >= FAR and d.steps[j].start > -FAR:
            take_off(a, d, s, j)


@inner
def _take_off_before(a, d, s, i):
    """Take off what opened a window that a step cannot meet; say whether there is anything."""
    any_ = False
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = int(a.lists[q])
        b = int(a.arcs[k].before)
        if a.arcs[k].miss >= 0 and a.steps[b].fixed >= FAR and d.steps[b].start > -FAR:
            take_off(a, d, s, b)
            s.shy[b] = 1
            any_ = True
    return any_


@inner
def _lay_all(a, d, s, day):
    """Lay all that wait; False where that cannot be."""
    while s.many[1] > 0:
        if s.many[2] > MOST_OFF:
            return False
        i = _next_waiting(a, s)
        t = _find(a, d, s, i, day)
        if t >= 0:
            lay(a, d, s, i, t)
        elif t == AGAIN:  # after what was taken off
            s.waiting[s.many[1]] = i
            s.many[1] += 1
        else:
            return False
    return True


@inner
def _choose_around(a, s, moved, count, day):
    """Choose what moved and was told for the days around one of them; give how many."""
    at = a.steps[moved[below(s.state, count)]].told
    span = int(day * (0.3 + 2.0 * draw(s.state)))
    share = 0.6 + 0.5 * draw(s.state)
    n = 0
    for x in range(count):
        if abs(a.steps[moved[x]].told - at) <= span and draw(s.state) <= share:
            s.chosen[n] = moved[x]
            n += 1
    return n


@inner
def _choose_linked(a, s, i, told):
    """Choose a step and what was told, or was not, of all that comes after it in its job; give how many."""
    n, then = 0, i
    while then >= 0 and n < len(s.chosen):
        s.chosen[n] = then
        n += 1
        i, then = then, -1
        for q in range(a.steps[i].out_at, a.steps[i].out_to):
            j = int(a.arcs[a.lists[q]].after)
            if (a.steps[j].told < FAR) == told and a.steps[j].fixed >= FAR:
                then = j
    return n


@inner
def _choose(a, s, moved, count, day):
    """Choose whom to begin with, of those that moved; give how many, and whether they go back by force."""
    dice = draw(s.state)
    if count == 0:
        s.chosen[0] = below(s.state, len(a.steps))
        return 1 if a.steps[s.chosen[0]].fixed >= FAR else 0, False
    if dice < AROUND:
        return _choose_around(a, s, moved, count, day), True
    s.chosen[0] = moved[below(s.state, count)]
    if dice < AROUND + LINKED:
        return _choose_linked(a, s, int(s.chosen[0]), True), True
    if dice < AROUND + LINKED + NEW:
        i = below(s.state, len(a.steps))
        if a.steps[i].told >= FAR and a.steps[i].fixed >= FAR:
            return _choose_linked(a, s, i, False), False
    n = 1
    if count > 1 and draw(s.state) < TWO:
        s.chosen[1] = moved[below(s.state, count)]
        n = 2
    return n, draw(s.state) < BACK


@inner
def _try(a, d, s, moved, count, day):
    """Move some steps; False where what comes of it has no room."""
    if draw(s.state) < MISSED:
        k = some_missed(a, d, s)
        if k >= 0:
            return meet(a, d, s, k, day) and _lay_all(a, d, s, day)
    n, back = _choose(a, s, moved, count, day)
    for x in range(n):
        i = int(s.chosen[x])
        if d.steps[i].start > -FAR:
            take_off(a, d, s, i)
        if back:
            wait_no_more(s, i)
            t = int(a.steps[i].told)
            if x == 0 and draw(s.state) < NEAR:
                t = max(0, t + int((draw(s.state) - 0.3) * 0.5 * day))
            if not force(a, d, s, i, t):
                return False
        else:
            s.shy[i] = 1 if draw(s.state) < SHY else 0
    return _lay_all(a, d, s, day)


@inner
def _slate(a, d, state):
    n = len(a.steps)
    return Slate(
        noted=np.zeros(n, dtype=np.int32),
        known=np.zeros(n, dtype=np.int32),
        start=np.zeros(n, dtype=np.int32),
        end=np.zeros(n, dtype=np.int32),
        crew=d.crew.copy(),
        missed=d.missed.copy(),
        waiting=np.zeros(n, dtype=np.int32),
        chosen=np.zeros(n, dtype=np.int32),
        shy=np.zeros(n, dtype=np.int32),
        many=np.zeros(3, dtype=np.int32),
        state=state,
    )


@outer
def restore(a, d, best, state, tries, day, guided, heat, dear, start, crew):
    """Try so many times to put steps back; say whether there is a plan that is better for people.

    Parameters
    ----------
    a : Arrays
        The project.
    d : Desk
        With the plan to begin with, in which every step has room; another is left there.
    best : array, shape (LEVELS,)
        Its levels.
    state : array, shape (1,)
        The state of chance.
    tries, day, guided : int
        How many tries; slots of a day; 1 where a late plan's ends are weighed too, see `levels`.
    heat : float
        How much worse a plan that is gone on from may be at first than the one before it, in the mean; it cools to 0.
    dear : float
        How much a slot of lateness or of missed work weighs in that at first, where a step that moved weighs 1;
        it comes to weigh `DEAREST`.
    start : array, shape (steps,)
    crew : array, shape (steps, largest crew)
        Filled with the better plan.
    """
    least, here, levels = best.copy(), best.copy(), best.copy()
    moved, s, found = np.zeros(len(a.steps), dtype=np.int32), _slate(a, d, state), False
    count = _all_moved(a, d, moved)
    for n in range(tries):
        if count == 0 and here[2] == 0:
            break
        begin(d, s)
        if not _try(a, d, s, moved, count, day):
            undo(a, d, s)
            continue
        weigh(a, d, 0, guided, levels)
        extra = int(-np.log(1.0 - draw(state)) * heat * (1.0 - n / tries))
        weight = dear * (DEAREST / dear) ** min(1.0, n / (RAMP * tries))
        worse = levels[3] - here[3] - extra + weight * (levels[2] - here[2] + levels[1] - here[1])
        if worse > 0:
            undo(a, d, s)
            continue
        here[:] = levels
        count = _all_moved(a, d, moved)
        if compare(levels, least, CARES) < 0:
            found = True
            least[:] = levels
            crew[:] = d.crew
            for i in range(len(a.steps)):
                start[i] = d.steps[i].start
    return found
