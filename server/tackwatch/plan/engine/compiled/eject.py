"""Steps taken off the desk and laid elsewhere while all others stay, compiled.

Rules
-----
* One that is laid by force ejects what is in its way, and that waits for a place.
* What was taken off is noted, so that the desk can be made as it was.
* What is fixed is never taken off.
* None is laid where it breaks a rule against what stands, on either side of it.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine.arrays import FAR, I32
from tackwatch.plan.engine.compiled.chance import below, draw
from tackwatch.plan.engine.compiled.desk import (
    all_next,
    book,
    closes,
    entry,
    length_of,
    limits,
    opens,
    put,
)
from tackwatch.plan.engine.compiled.how import inner

OTHERS = (
    0.3  # of those laid by force have others who are free do it before who was told is taken off
)
TOLD = 10.0  # how much more those that were told are liked


class Slate(NamedTuple):
    """Where what was taken off is noted.

    `noted`: steps, in the order in which they were taken off first; `known`: by step, 1 where noted; `start`, `end`,
    `crew`, `missed`: as they were; `waiting`: steps without a place; `chosen`: room for steps to begin with; `shy`: by
    step, 1 where it is not to go where it was told to be; `many`: how many are noted, how many wait, how often
    something was taken off; `state`: of chance.
    """

    noted: I32
    known: I32
    start: I32
    end: I32
    crew: I32
    missed: I32
    waiting: I32
    chosen: I32
    shy: I32
    many: I32
    state: NDArray[np.uint64]


@inner
def begin(d, s):
    """Wipe the slate."""
    for x in range(s.many[0]):
        s.known[s.noted[x]] = 0
        s.shy[s.noted[x]] = 0
    for x in range(len(s.many)):
        s.many[x] = 0
    for k in range(len(d.missed)):
        s.missed[k] = d.missed[k]


@inner
def take_off(a, d, s, i):
    """Take a step off the desk, and have it wait."""
    if s.known[i] == 0:
        s.known[i] = 1
        s.noted[s.many[0]] = i
        s.start[i], s.end[i] = d.steps[i].start, d.steps[i].end
        for c in range(d.crew.shape[1]):
            s.crew[i, c] = d.crew[i, c]
        s.many[0] += 1
    s.waiting[s.many[1]] = i
    s.many[1] += 1
    s.many[2] += 1
    _lift(a, d, i)


@inner
def _lift(a, d, i):
    t, e = int(d.steps[i].start), int(d.steps[i].end)
    for c in range(d.crew.shape[1]):
        if d.crew[i, c] >= 0:
            _release(a, d, int(d.crew[i, c]), t, e)
            d.crew[i, c] = -1
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        for u in range(t, min(e, a.slots)):
            d.taken[a.lists[q], u] -= a.lists[q + 1]
    d.steps[i].start, d.steps[i].end = -FAR, -FAR


@inner
def _release(a, d, p, t, e):
    """Give a person's time from `t` to `e` back."""
    until = e
    if a.free[p, t] > e and d.free[p, e] > 0:
        until = d.free[p, e]
    for u in range(t, e):
        d.free[p, u] = until
        d.owner[p, u] = -1
    u = t - 1
    while u >= 0 and d.free[p, u] == t and a.free[p, u] > t:
        d.free[p, u] = until
        u -= 1
    d.load[p] -= e - t


@inner
def wait_no_more(s, i):
    """Take a step from those that wait, since it is laid otherwise."""
    for x in range(s.many[1]):
        if s.waiting[x] == i:
            s.many[1] -= 1
            s.waiting[x] = s.waiting[s.many[1]]
            return


@inner
def undo(a, d, s):
    """Make the desk as it was."""
    for x in range(s.many[0]):
        if d.steps[s.noted[x]].start > -FAR:
            _lift(a, d, int(s.noted[x]))
    for x in range(s.many[0]):
        i = int(s.noted[x])
        for c in range(d.crew.shape[1]):
            d.crew[i, c] = s.crew[i, c]
            if s.crew[i, c] >= 0:
                book(a, d, i, int(s.crew[i, c]), int(s.start[i]), int(s.end[i]))
        put(a, d, i, int(s.start[i]), int(s.end[i]))
    for k in range(len(d.missed)):
        d.missed[k] = s.missed[k]


@inner
def wait_for_window(a, k, e, start):
    """Give how many slots after `e` a step must end for its window, the arc's, to be open still at `start`."""
    wait = max(0, start - a.arcs[k].most - e)
    if a.arcs[k].last >= 0:
        table = a.tables[a.arcs[k].last]
        while e + wait < start and table[min(max(e + wait, 0), a.slots)] < start:
            wait += 1
    return wait


@inner
def _before_others(a, d, i, e):
    """Say whether what comes after `i` can stay when it ends at `e`: 0, slots to go on, or -1."""
    wait = 0
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = int(a.lists[q])
        start = d.steps[a.arcs[k].after].start
        if start == -FAR:
            continue
        if opens(a, k, e) > start:
            return -1
        if a.arcs[k].miss >= 0 and d.missed[k] == 1:
            if closes(a, k, e) >= start:
                return -1
        else:
            wait = max(wait, wait_for_window(a, k, e, start))
    return wait


@inner
def room_from(a, d, i, t, until, told):
    """Give the first slot from `t` to `until` at which `i` has room beside all that stands; -1 if there is none.

    `told`: only with the people that were told.
    """
    lo, hi, _, _, _, _, _ = limits(a, d, i)
    t, hi = max(t, lo), min(hi, until)
    while t <= hi:
        e = t + length_of(a, d, i, t)
        if e > a.slots:
            return -1
        wait = _before_others(a, d, i, e)
        if wait < 0:
            return -1
        later = t + wait if wait > 0 else all_next(a, d, i, t, e, told)
        if later == t:
            return t
        t = later
    return -1


@inner
def last_by_windows(a, d, i):
    """Give the last slot at which `i` meets all windows that stand open for it."""
    return limits(a, d, i)[4]


@inner
def lay(a, d, s, i, t):
    """Lay a step where it has room, by those that were told if they are free."""
    e = t + length_of(a, d, i, t)
    for c in range(a.steps[i].crew):
        best, most = -1, -1.0
        for q in range(a.steps[i].able_at, a.steps[i].able_to):
            p = int(a.lists[q])
            if d.free[p, t] < e or d.free[p, t] <= t or _is_in(d, i, p):
                continue
            liking = TOLD * a.told_by[i, p] + draw(s.state)
            if liking > most:
                best, most = p, liking
        d.crew[i, c] = best
    for c in range(a.steps[i].crew):
        book(a, d, i, int(d.crew[i, c]), t, e)
    put(a, d, i, t, e)


@inner
def _is_in(d, i, p):
    found = False
    for c in range(d.crew.shape[1]):
        found = found or d.crew[i, c] == p
    return found


@inner
def _eject(a, d, s, j):
    """Take a step off; False where it is fixed."""
    if a.steps[j].fixed < FAR:
        return False
    if d.steps[j].start > -FAR:
        take_off(a, d, s, j)
    return True


@inner
def force(a, d, s, i, t):
    """Lay a step at `t`, and eject what is in its way; False where that cannot be."""
    if t < a.steps[i].earliest:
        return False
    if not _clear_before(a, d, s, i, t):
        return False
    e = t + length_of(a, d, i, t)
    if e > a.slots or not _clear_after(a, d, s, i, e):
        return False
    if not _clear_people(a, d, s, i, t, e):
        return False
    if not _clear_places(a, d, s, i, t, e) or not _clear_zones(a, d, s, i, t, e):
        return False
    for c in range(a.steps[i].crew):
        book(a, d, i, int(d.crew[i, c]), t, e)
    put(a, d, i, t, e)
    return True


@inner
def _clear_before(a, d, s, i, t):
    for q in range(a.steps[i].in_at, a.steps[i].in_to):
        k = int(a.lists[q])
        b = int(a.arcs[k].before)
        if d.steps[b].start == -FAR:
            continue
        end = d.steps[b].end
        if opens(a, k, end) > t:
            if not _eject(a, d, s, b):
                return False
        elif closes(a, k, end) < t and not _eject(a, d, s, b) and a.arcs[k].miss < 0:
            return False
    return True


@inner
def _clear_after(a, d, s, i, e):
    for q in range(a.steps[i].out_at, a.steps[i].out_to):
        k = int(a.lists[q])
        j = int(a.arcs[k].after)
        start = d.steps[j].start
        if start == -FAR:
            continue
        late = closes(a, k, e) < start
        fine = opens(a, k, e) <= start and late == (a.arcs[k].miss >= 0 and d.missed[k] == 1)
        if not fine and not _eject(a, d, s, j):
            return False
    return True


@inner
def _clear_people(a, d, s, i, t, e):
    """Choose the crew: those that were told and are free first, others who are at something else last."""
    n, first_others = 0, draw(s.state) < OTHERS
    for turn in range(4):
        told, busy = 1 if turn < 2 else 0, turn % 2 == 1
        if first_others and 0 < turn < 3:
            told, busy = 1 - told, not busy
        for q in range(a.steps[i].able_at, a.steps[i].able_to):
            p = int(a.lists[q])
            if n == a.steps[i].crew:
                break
            if a.told_by[i, p] != told or a.free[p, t] < e or a.free[p, t] <= t or _is_in(d, i, p):
                continue
            is_free = d.free[p, t] >= e and d.free[p, t] > t
            if busy == is_free or (busy and not _clear_person(a, d, s, p, t, e)):
                continue
            d.crew[i, n] = p
            n += 1
    return n == a.steps[i].crew


@inner
def _clear_person(a, d, s, p, t, e):
    for u in range(t, e):
        if d.owner[p, u] >= 0 and a.steps[d.owner[p, u]].fixed < FAR:
            return False
    for u in range(t, e):
        if d.owner[p, u] >= 0:
            take_off(a, d, s, int(d.owner[p, u]))
    return d.free[p, t] >= e and d.free[p, t] > t


@inner
def _clear_places(a, d, s, i, t, e):
    for q in range(a.steps[i].use_at, a.steps[i].use_to, 2):
        place = int(a.lists[q])
        for u in range(t, e):
            while d.taken[place, u] + a.lists[q + 1] > a.holds[place]:
                j = _someone_at(a, d, s, place, u)
                if j < 0:
                    return False
                take_off(a, d, s, j)
    return True


@inner
def _someone_at(a, d, s, place, u):
    """Give a step that is not fixed and takes a place at a slot, by chance; -1 if there is none."""
    n, found = 0, -1
    for j in range(len(a.steps)):
        if not d.steps[j].start <= u < d.steps[j].end or a.steps[j].fixed < FAR:
            continue
        for q in range(a.steps[j].use_at, a.steps[j].use_to, 2):
            if a.lists[q] == place:
                n += 1
                found = j if below(s.state, n) == 0 else found
    return found


@inner
def _clear_zones(a, d, s, i, t, e):
    wet = e if a.steps[i].dry < 0 else entry(a, a.steps[i].dry, e)
    for q in range(a.steps[i].opp_at, a.steps[i].opp_to, 2):
        j = int(a.lists[q])
        if d.steps[j].start == -FAR:
            continue
        if a.lists[q + 1] == 1:
            meets = max(t, d.steps[j].start) < min(e, d.steps[j].wet)
        else:
            meets = max(t, d.steps[j].start) < min(wet, d.steps[j].end)
        if meets and not _eject(a, d, s, j):
            return False
    return True
