"""The dispatch, compiled: see `dispatch` for its rules.

Rules
-----
* All that is compiled stands in this file: numba keeps it by the file of the outer function, and would go on with an
  old inner one from another.
* Few plain arrays, handed on one by one: a tuple of arrays costs a count of references at each look, which
  threads fight over, and each array handed on costs seven words.
* A step is a row of `row`, whose columns are named in `columns`; a pair of columns points into `flat`.
* Calendar 0 is always open, p + 1 is person p's. `hours[c, s]` are open slots left of the span, where the
  next span begins, open slots before, and the slot of the open slot number s.
* Who is busy: `b_span[p]`, sorted and apart. What stands in the way: `w_span`, first a row for each place,
  then two for each zone, dust and wet.
"""

import numpy as np
from numba import njit

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.calendars import LATER


@njit(nogil=True, cache=True)
def run_on(hours, day, day_start, wet, sample, c, s, w, outdoors):  # type: ignore[no-untyped-def]
    """Give the end of `w` open slots from `s` on, over wet days when outdoors."""
    n = day.size - 1
    if w == 0 or s >= n:
        return min(s, n)
    if not outdoors:
        k = hours[c, s, col.WORKED] + w - 1
        return min(hours[c, k, col.SLOT_OF] + 1, n) if k < n else n
    left, today, at = w, day[s], s
    while at < n:
        to = day_start[today + 1]
        if not wet[sample, today]:
            here = hours[c, to, col.WORKED] - hours[c, at, col.WORKED]
            if here >= left:
                return hours[c, hours[c, at, col.WORKED] + left - 1, col.SLOT_OF] + 1
            left -= here
        at = to
        today += 1
    return n


@njit(nogil=True, cache=True)
def clash(b_span, b_count, p, s, e, w):  # type: ignore[no-untyped-def]
    """Find the last of a person's spans before there may be room for `w` slots; -1 when [s, e) is free."""
    low, high = 0, b_count[p]
    if high == 0 or b_span[p, high - 1, col.END] <= s:
        return -1
    while low < high:
        middle = (low + high) // 2
        if b_span[p, middle, col.END] <= s:
            low = middle + 1
        else:
            high = middle
    if b_span[p, low, col.START] >= e:
        return -1
    while low + 1 < b_count[p] and b_span[p, low + 1, col.START] < b_span[p, low, col.END] + w:
        low += 1
    return low


@njit(nogil=True, cache=True)
def insert(b_span, b_count, p, s, e, i):  # type: ignore[no-untyped-def]
    """Put a span among a person's."""
    k = b_count[p]
    while k > 0 and b_span[p, k - 1, col.START] > s:
        b_span[p, k, col.START] = b_span[p, k - 1, col.START]
        b_span[p, k, col.END] = b_span[p, k - 1, col.END]
        b_span[p, k, col.WHO] = b_span[p, k - 1, col.WHO]
        k -= 1
    b_span[p, k, col.START], b_span[p, k, col.END], b_span[p, k, col.WHO] = s, e, i
    b_count[p] += 1


@njit(nogil=True, cache=True)
def stand(w_span, w_count, at, s, e, i, units):  # type: ignore[no-untyped-def]
    """Put a span in the way of others, in a place or zone."""
    k = w_count[at]
    w_span[at, k, col.START], w_span[at, k, col.END] = s, e
    w_span[at, k, col.WHO], w_span[at, k, col.UNITS] = i, units
    w_count[at] += 1


@njit(nogil=True, cache=True)
def wall(row, flat, holds, i, s, e, dry, w_span, w_count):  # type: ignore[no-untyped-def]
    """Find what is in the way in places and zones: (the slot from which it is not, whose), or (-1, -1)."""
    for u in range(row[i, col.USE], row[i, col.USE + 1], 2):
        place = flat[u]
        free = holds[place] - flat[u + 1]
        load = 0
        for k in range(w_count[place]):
            if w_span[place, k, col.START] < e and w_span[place, k, col.END] > s:
                load += w_span[place, k, col.UNITS]
        if load <= free:  # even if all were there at once
            continue
        for k in range(-1, w_count[place]):  # the load is highest where something begins
            at = s if k < 0 else w_span[place, k, col.START]
            if at < s or at >= e:
                continue
            load, soonest, whose = 0, LATER, -1
            for m in range(w_count[place]):
                if w_span[place, m, col.START] <= at < w_span[place, m, col.END]:
                    load += w_span[place, m, col.UNITS]
                    if w_span[place, m, col.END] < soonest:
                        soonest, whose = w_span[place, m, col.END], w_span[place, m, col.WHO]
            if load > free:
                return soonest, whose
    for kind in range(2):  # dust against what is wet, wet against dust
        column, until = (col.DUST, e) if kind == 0 else (col.WET, dry)
        for u in range(row[i, column], row[i, column + 1]):
            z = holds.size + 2 * flat[u] + 1 - kind
            for k in range(w_count[z]):
                if (
                    w_span[z, k, col.START] < until
                    and w_span[z, k, col.END] > s
                    and w_span[z, k, col.WHO] != i
                ):
                    return w_span[z, k, col.END], w_span[z, k, col.WHO]
    return -1, -1


@njit(nogil=True, cache=True)
def seek(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, c, lo, hi, t, until, w, extra, b_span,
    b_count, w_span, w_count,
):  # fmt: skip
    """Find where a step can be begun from `t` on, before `until`: (start, end, what moved it last or -2)."""
    n = day.size - 1
    need, outdoors, good = row[i, col.NEED], row[i, col.OUTDOORS] > 0, row[i, col.GOOD]
    walled = row[i, col.USE] < row[i, col.WET + 1]  # uses, dust and wet lie side by side
    cause, held_from, s = -2, -1, t
    while True:
        while s < n and hours[c, s, col.LEFT] < need:
            s = hours[c, s, col.NEXT]
        if s >= until:
            return n, n, cause
        if outdoors and wet[sample, day[s]]:
            s = day_start[day[s] + 1]
            continue
        if good >= 0:
            if held_from < 0:
                held_from = s
            end = min(s + row[i, col.WORK] + extra, n)
            wait = tables[good, end] - end
            if 0 < wait <= hold - (s - held_from):
                s = min(s + wait, n)
                continue
        e = run_on(hours, day, day_start, wet, sample, c, s, w, outdoors)
        moved = -1
        for k in range(lo, hi):
            p = flat[k]
            at = clash(b_span, b_count, p, s, e, w)
            if at >= 0 and b_span[p, at, col.END] > moved:
                moved, cause = b_span[p, at, col.END], b_span[p, at, col.WHO]
        if moved < 0 and walled:
            dry = e if row[i, col.DRY] < 0 else tables[row[i, col.DRY], e]
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
    for u in range(row[i, col.LINK], row[i, col.LINK + 1], col.LINK_N):
        a = flat[u + col.BEFORE]
        if ends[a] < 0:
            continue
        at = ends[a] + flat[u + col.MIN_GAP]
        if flat[u + col.READY] >= 0:
            at = max(at, tables[flat[u + col.READY], ends[a]])
        if at > t:
            t, cause = at, a
    return min(t, n), cause


@njit(nogil=True, cache=True)
def owed(row, flat, tables, i, s, ends):  # type: ignore[no-untyped-def]
    """Give the work for windows that are missed by a start at `s`, and how many they are."""
    work, many = 0, 0
    for u in range(row[i, col.LINK], row[i, col.LINK + 1], col.LINK_N):
        a = flat[u + col.BEFORE]
        if ends[a] < 0:
            continue
        closes = LATER
        if flat[u + col.MAX_GAP] < LATER:
            closes = ends[a] + flat[u + col.MAX_GAP]
        if flat[u + col.LAST] >= 0:
            closes = min(closes, tables[flat[u + col.LAST], ends[a]])
        if s > closes:
            work += flat[u + col.MISSED_WORK]
            many += 1
    return work, many


@njit(nogil=True, cache=True)
def book(hours, day, day_start, labour, k, c, s, e, people):  # type: ignore[no-untyped-def]
    """Add the labour of a span to its days."""
    today, at = day[s], s
    while at < e:
        to = min(e, day_start[today + 1])
        labour[k, today] += people * (hours[c, to, col.WORKED] - hours[c, at, col.WORKED])
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
        marks[row[at, col.JOB] if at < steps else root[first + at - steps]] = True
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
        if b_span[p, middle, col.END] <= s:
            k = middle + 1
        else:
            high = middle
    while True:
        while s < before and hours[c, s, col.LEFT] < need:
            s = hours[c, s, col.NEXT]
        if s >= before:
            return n, n, cause
        at = hours[c, s, col.WORKED] + w - 1
        e = min(hours[c, at, col.SLOT_OF] + 1, n) if at < n else n
        while k < b_count[p] and b_span[p, k, col.END] <= s:
            k += 1
        if k == b_count[p] or b_span[p, k, col.START] >= e:
            return s, e, cause
        while k + 1 < b_count[p] and b_span[p, k + 1, col.START] < b_span[p, k, col.END] + w:
            k += 1
        s, cause = b_span[p, k, col.END], b_span[p, k, col.WHO]
        k += 1


@njit(nogil=True, cache=True)
def play(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, day, day_start, helper_at, helper, scale, work, wet, tree_at, root, parent,
    endless, found_work, chosen, dropped, floor, room, criticality, out_end, critical, out_labour, out_start,
    out_missed,
):  # fmt: skip
    """Dispatch the chosen samples; what is asked for is written to the arrays at the end."""
    n = day.size - 1
    steps, persons, jobs = row.shape[0], hours.shape[0], dropped.size
    now, piece, patience, hold = (
        scale[col.NOW],
        scale[col.PIECE],
        scale[col.PATIENCE],
        scale[col.HOLD],
    )
    most, ways = 0, holds.size
    for k in range(chosen.size):
        most = max(most, tree_at[chosen[k] + 1] - tree_at[chosen[k]])
    for i in range(steps):
        for column in (col.DUST, col.WET):
            for u in range(row[i, column], row[i, column + 1]):
                ways = max(ways, holds.size + 2 * flat[u] + 2)
    b_span = np.empty((persons, room, 3), dtype=np.int32)
    b_count = np.zeros(persons, dtype=np.int32)
    w_span = np.empty((ways, steps, 4), dtype=np.int32)
    w_count = np.zeros(ways, dtype=np.int32)
    ends = np.empty(steps, dtype=np.int32)
    job_end = np.empty(jobs, dtype=np.int32)
    job_last = np.empty(jobs, dtype=np.int32)
    found_end = np.empty(most, dtype=np.int32)
    causes = np.empty(steps + most, dtype=np.int32)
    marks = np.empty(jobs, dtype=np.bool_)
    # of each person: from where to where there is no room for a whole piece, and who takes it
    full_from = np.empty(persons, dtype=np.int32)
    full_to = np.empty(persons, dtype=np.int32)
    full_who = np.empty(persons, dtype=np.int32)

    for k in range(chosen.size):
        sample = chosen[k]
        b_count[:], w_count[:] = 0, 0
        job_end[:], job_last[:] = -1, -1
        last, last_end = -1, 0
        for i in range(steps):
            job = row[i, col.JOB]
            if dropped[job]:
                ends[i] = -1
                continue
            c, lo, hi = row[i, col.CALENDAR], row[i, col.PEOPLE], row[i, col.PEOPLE + 1]
            w, many = work[sample, i], 0
            if row[i, col.FIXED]:
                s, e, cause = row[i, col.EARLIEST], row[i, col.FIXED_END], -1
                if w <= row[i, col.FIXED_LEFT]:
                    e -= row[i, col.FIXED_LEFT] - w
                else:
                    over = w - row[i, col.FIXED_LEFT]
                    e = run_on(hours, day, day_start, wet, sample, c, e, over, False)
            else:
                t, cause = opens(row, flat, tables, n, i, ends)
                lowest = max(row[i, col.EARLIEST], floor[i])
                if lowest > t:
                    t, cause = min(lowest, n), -1
                s, e, why = seek(
                    row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, c, lo, hi, t, n, w, 0,
                    b_span, b_count, w_span, w_count,
                )  # fmt: skip
                # somebody else takes it over where it is late, and waits for its person
                if (
                    row[i, col.OTHER] < row[i, col.OTHER + 1]
                    and s > max(row[i, col.PLANNED], t) + patience
                ):
                    for u in range(row[i, col.OTHER], row[i, col.OTHER + 1]):
                        soon = s - patience + 1
                        if (
                            gap(hours, n, b_span, b_count, flat[u], t, w, row[i, col.NEED], soon)[0]
                            >= n
                        ):
                            continue  # busy all the while: seen without looking at places
                        s2, e2, why2 = seek(
                            row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, flat[u] + 1, u,
                            u + 1, t, soon, w, 0, b_span, b_count, w_span, w_count,
                        )  # fmt: skip
                        if s2 + patience <= s and s2 < n:
                            s, e, why, c, lo, hi = s2, e2, why2, flat[u] + 1, u, u + 1
                extra, many = owed(row, flat, tables, i, s, ends)
                if extra > 0:
                    more = w + int(np.round(extra * w / max(row[i, col.WORK], 1)))
                    s, e, why = seek(
                        row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, c, lo, hi, s, n, more,
                        extra, b_span, b_count, w_span, w_count,
                    )  # fmt: skip
                if why != -2:
                    cause = why
            ends[i] = e
            causes[i] = cause
            if e > s:
                for q in range(lo, hi):
                    insert(b_span, b_count, flat[q], s, e, i)
                for u in range(row[i, col.USE], row[i, col.USE + 1], 2):
                    stand(w_span, w_count, flat[u], s, e, i, flat[u + 1])
                for u in range(row[i, col.DUST], row[i, col.DUST + 1]):
                    stand(w_span, w_count, holds.size + 2 * flat[u], s, e, i, 0)
                for u in range(row[i, col.WET], row[i, col.WET + 1]):
                    dry = e if row[i, col.DRY] < 0 else tables[row[i, col.DRY], e]
                    stand(w_span, w_count, holds.size + 2 * flat[u] + 1, s, dry, i, 0)
                if out_labour.shape[0] > 0 and hi > lo:
                    book(hours, day, day_start, out_labour, k, c, max(s, now), e, hi - lo)
            if out_start.shape[0] > 0:
                out_start[k, i] = s
                out_missed[k, i] = many
            if e >= job_end[job]:
                job_end[job], job_last[job] = e, i
            if row[i, col.COUNTS] and e >= last_end:
                last, last_end = i, e

        first = tree_at[sample]
        full_from[:], full_to[:] = 0, 0
        for f in range(tree_at[sample + 1] - first):
            job = root[first + f]
            if dropped[job] or job_end[job] < 0:
                found_end[f] = 0
                continue
            above = parent[first + f]
            t = job_end[job] if above < 0 else found_end[above]
            causes[steps + f] = job_last[job] if above < 0 else steps + above
            rest = found_work[first + f]
            while rest > 0 and t < n:
                w = min(rest, piece)
                rest -= w
                best_s, best_e, best_p, best_cause = n, n, -1, -2
                for u in range(helper_at[job], helper_at[job + 1]):
                    p = helper[u]
                    known = w == piece and full_from[p] <= t < full_to[p]
                    at = full_to[p] if known else t
                    s, e, cause = gap(hours, n, b_span, b_count, p, at, w, 1, best_s)
                    if known and cause == -2:
                        cause = full_who[p]
                    if s < best_s:
                        best_s, best_e, best_p, best_cause = s, e, p, cause
                        if w == piece and s > t:
                            full_from[p] = full_from[p] if known else t
                            full_to[p], full_who[p] = s, cause
                if best_p < 0:
                    t = n
                    break
                if best_cause >= 0 and best_cause != steps + f:
                    causes[steps + f] = best_cause
                insert(b_span, b_count, best_p, best_s, best_e, steps + f)
                if out_labour.shape[0] > 0:
                    book(hours, day, day_start, out_labour, k, best_p + 1, best_s, best_e, 1)
                t = best_e
            found_end[f] = t
            if t >= last_end:
                last, last_end = steps + f, t
        # where all jobs are dropped nothing is left that could be endless
        if last >= 0 and (last_end >= n or endless[sample]):
            last_end = LATER
        out_end[k] = last_end
        if criticality and last >= 0:
            trace(row, root, first, last, causes, marks, critical)
