"""What the compiled dispatch is made of: columns, and how room is looked for.

Rules
-----
* Few plain arrays, handed on one by one: a tuple of arrays costs a count of references at each look, which
  threads fight over, and each array handed on costs seven words.
* A step is a row of `row`, whose columns are named here; a pair of columns points into `flat`.
* Calendar 0 is always open, p + 1 is person p's. `hours[c, s]` are open slots left of the span, where the
  next span begins, open slots before, and the slot of the open slot number s.
* Who is busy: `b_span[p]`, sorted and apart. What stands in the way: `w_span`, first a row for each place,
  then two for each zone, dust and wet.
"""

from typing import Final

from numba import njit

from tackwatch.plan.forecast.calendars import LATER

WORK: Final = 0  # slots it is reckoned to take
NEED: Final = 1  # open slots that must be left of a span to begin it
CALENDAR: Final = 2
EARLIEST: Final = 3  # or where it began, when fixed
FIXED: Final = 4
FIXED_END: Final = 5  # where it ends by the plan
FIXED_LEFT: Final = 6  # slots from now until then
PLANNED: Final = 7  # start in the plan
OUTDOORS: Final = 8
COUNTS: Final = 9  # must be done by the launch
JOB: Final = 10
DRY: Final = 11  # row of `tables` or -1
GOOD: Final = 12  # row of `tables` or -1: the next end from which the window after it can be met
PEOPLE: Final = 13
OTHER: Final = 15  # who else may do it alone
LINK: Final = 17
USE: Final = 19
DUST: Final = 21
WET: Final = 23
COLUMNS: Final = 25

# a link in `flat`; a use is a place and its units
BEFORE, MIN_GAP, MAX_GAP, READY, LAST, MISSED_WORK = range(6)
LINK_N: Final = 6
# of `hours`
LEFT, NEXT, WORKED, SLOT_OF = range(4)
# of spans
START, END, WHO, UNITS = range(4)
# entries of `scale`
NOW, PIECE, PATIENCE, HOLD = range(4)


@njit(nogil=True, cache=True)
def run_on(hours, day, day_start, wet, sample, c, s, w, outdoors):  # type: ignore[no-untyped-def]
    """Give the end of `w` open slots from `s` on, over wet days when outdoors."""
    n = day.size - 1
    if w == 0 or s >= n:
        return min(s, n)
    if not outdoors:
        k = hours[c, s, WORKED] + w - 1
        return min(hours[c, k, SLOT_OF] + 1, n) if k < n else n
    left, today, at = w, day[s], s
    while at < n:
        to = day_start[today + 1]
        if not wet[sample, today]:
            here = hours[c, to, WORKED] - hours[c, at, WORKED]
            if here >= left:
                return hours[c, hours[c, at, WORKED] + left - 1, SLOT_OF] + 1
            left -= here
        at = to
        today += 1
    return n


@njit(nogil=True, cache=True)
def clash(b_span, b_count, p, s, e, w):  # type: ignore[no-untyped-def]
    """Find the last of a person's spans before there may be room for `w` slots; -1 when [s, e) is free.

    Those between which there are not even `w` slots, closed ones counted, are passed over.
    """
    low, high = 0, b_count[p]
    if high == 0 or b_span[p, high - 1, END] <= s:
        return -1
    while low < high:
        middle = (low + high) // 2
        if b_span[p, middle, END] <= s:
            low = middle + 1
        else:
            high = middle
    if b_span[p, low, START] >= e:
        return -1
    while low + 1 < b_count[p] and b_span[p, low + 1, START] < b_span[p, low, END] + w:
        low += 1
    return low


@njit(nogil=True, cache=True)
def insert(b_span, b_count, p, s, e, i):  # type: ignore[no-untyped-def]
    """Put a span among a person's."""
    k = b_count[p]
    while k > 0 and b_span[p, k - 1, START] > s:
        b_span[p, k, START] = b_span[p, k - 1, START]
        b_span[p, k, END] = b_span[p, k - 1, END]
        b_span[p, k, WHO] = b_span[p, k - 1, WHO]
        k -= 1
    b_span[p, k, START], b_span[p, k, END], b_span[p, k, WHO] = s, e, i
    b_count[p] += 1


@njit(nogil=True, cache=True)
def stand(w_span, w_count, at, s, e, i, units):  # type: ignore[no-untyped-def]
    """Put a span in the way of others, in a place or zone."""
    k = w_count[at]
    w_span[at, k, START], w_span[at, k, END], w_span[at, k, WHO], w_span[at, k, UNITS] = (
        s,
        e,
        i,
        units,
    )
    w_count[at] += 1


@njit(nogil=True, cache=True)
def wall(row, flat, holds, i, s, e, dry, w_span, w_count):  # type: ignore[no-untyped-def]
    """Find what is in the way in places and zones: (the slot from which it is not, whose), or (-1, -1)."""
    for u in range(row[i, USE], row[i, USE + 1], 2):
        place = flat[u]
        free = holds[place] - flat[u + 1]
        load = 0
        for k in range(w_count[place]):
            if w_span[place, k, START] < e and w_span[place, k, END] > s:
                load += w_span[place, k, UNITS]
        if load <= free:  # even if all were there at once
            continue
        for k in range(-1, w_count[place]):  # the load is highest where something begins
            at = s if k < 0 else w_span[place, k, START]
            if at < s or at >= e:
                continue
            load, soonest, whose = 0, LATER, -1
            for m in range(w_count[place]):
                if w_span[place, m, START] <= at < w_span[place, m, END]:
                    load += w_span[place, m, UNITS]
                    if w_span[place, m, END] < soonest:
                        soonest, whose = w_span[place, m, END], w_span[place, m, WHO]
            if load > free:
                return soonest, whose
    for kind in range(2):  # dust against what is wet, wet against dust
        column, until = (DUST, e) if kind == 0 else (WET, dry)
        for u in range(row[i, column], row[i, column + 1]):
            z = holds.size + 2 * flat[u] + 1 - kind
            for k in range(w_count[z]):
                if w_span[z, k, START] < until and w_span[z, k, END] > s and w_span[z, k, WHO] != i:
                    return w_span[z, k, END], w_span[z, k, WHO]
    return -1, -1


@njit(nogil=True, cache=True)
def seek(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, c, lo, hi, t, until, w, extra, b_span,
    b_count, w_span, w_count,
):  # fmt: skip
    """Find where a step can be begun from `t` on, before `until`: (start, end, what moved it last or -2)."""
    n = day.size - 1
    need, outdoors, good = row[i, NEED], row[i, OUTDOORS] > 0, row[i, GOOD]
    walled = (
        row[i, USE] < row[i, USE + 1]
        or row[i, DUST] < row[i, DUST + 1]
        or row[i, WET] < row[i, WET + 1]
    )
    cause, held_from, s = -2, -1, t
    while True:
        while s < n and hours[c, s, LEFT] < need:
            s = hours[c, s, NEXT]
        if s >= until:
            return n, n, cause
        if outdoors and wet[sample, day[s]]:
            s = day_start[day[s] + 1]
            continue
        if good >= 0:
            if held_from < 0:
                held_from = s
            end = min(s + row[i, WORK] + extra, n)
            wait = tables[good, end] - end
            if 0 < wait <= hold - (s - held_from):
                s = min(s + wait, n)
                continue
        e = run_on(hours, day, day_start, wet, sample, c, s, w, outdoors)
        moved = -1
        for k in range(lo, hi):
            p = flat[k]
            at = clash(b_span, b_count, p, s, e, w)
            if at >= 0 and b_span[p, at, END] > moved:
                moved, cause = b_span[p, at, END], b_span[p, at, WHO]
        if moved < 0 and walled:
            dry = e if row[i, DRY] < 0 else tables[row[i, DRY], e]
            moved, whose = wall(row, flat, holds, i, s, e, dry, w_span, w_count)
            if moved >= 0:
                cause = whose
        if moved < 0:
            return s, e, cause
        s = min(moved, n)


@njit(nogil=True, cache=True)
def opens(row, flat, tables, n, i, ends):  # type: ignore[no-untyped-def]
    """Give when the links of a step let it begin, and the step before that decides it; ends below 0 are left out."""
    t, cause = 0, -1
    for u in range(row[i, LINK], row[i, LINK + 1], LINK_N):
        a = flat[u + BEFORE]
        if ends[a] < 0:
            continue
        at = ends[a] + flat[u + MIN_GAP]
        if flat[u + READY] >= 0:
            at = max(at, tables[flat[u + READY], ends[a]])
        if at > t:
            t, cause = at, a
    return min(t, n), cause


@njit(nogil=True, cache=True)
def owed(row, flat, tables, i, s, ends):  # type: ignore[no-untyped-def]
    """Give the work for windows that are missed by a start at `s`, and how many they are."""
    work, many = 0, 0
    for u in range(row[i, LINK], row[i, LINK + 1], LINK_N):
        a = flat[u + BEFORE]
        if ends[a] < 0:
            continue
        closes = LATER
        if flat[u + MAX_GAP] < LATER:
            closes = ends[a] + flat[u + MAX_GAP]
        if flat[u + LAST] >= 0:
            closes = min(closes, tables[flat[u + LAST], ends[a]])
        if s > closes:
            work += flat[u + MISSED_WORK]
            many += 1
    return work, many


@njit(nogil=True, cache=True)
def book(hours, day, day_start, labour, k, c, s, e, people):  # type: ignore[no-untyped-def]
    """Add the labour of a span to its days."""
    today, at = day[s], s
    while at < e:
        to = min(e, day_start[today + 1])
        labour[k, today] += people * (hours[c, to, WORKED] - hours[c, at, WORKED])
        at = to
        today += 1


@njit(nogil=True, cache=True)
def trace(row, root, first, last, causes, marks, critical):  # type: ignore[no-untyped-def]
    """Walk back along what decided each start, and count the jobs that are met."""
    steps = row.shape[0]
    marks[:] = False
    at = last
    for _ in range(causes.size):
        if at < 0:
            break
        marks[row[at, JOB] if at < steps else root[first + at - steps]] = True
        at = causes[at]
    for job in range(marks.size):
        critical[job] += marks[job]


@njit(nogil=True, cache=True)
def gap(hours, n, b_span, b_count, p, t, w, need, before):  # type: ignore[no-untyped-def]
    """Find where a person has room for work that nothing but hours stands in the way of, before `before`."""
    c, s, cause = p + 1, t, -2
    k, high = 0, b_count[p]
    while k < high:  # the first span that ends after t
        middle = (k + high) // 2
        if b_span[p, middle, END] <= s:
            k = middle + 1
        else:
            high = middle
    while True:
        while s < before and hours[c, s, LEFT] < need:
            s = hours[c, s, NEXT]
        if s >= before:
            return n, n, cause
        at = hours[c, s, WORKED] + w - 1
        e = min(hours[c, at, SLOT_OF] + 1, n) if at < n else n
        while k < b_count[p] and b_span[p, k, END] <= s:
            k += 1
        if k == b_count[p] or b_span[p, k, START] >= e:
            return s, e, cause
        while k + 1 < b_count[p] and b_span[p, k + 1, START] < b_span[p, k, END] + w:
            k += 1
        s, cause = b_span[p, k, END], b_span[p, k, WHO]
        k += 1
