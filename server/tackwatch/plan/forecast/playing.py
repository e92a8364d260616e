"""The dispatch, compiled: see `dispatch` for its rules, and `kernel` for the arrays.

One long function, since each array that is handed to another costs time in each of a million steps.
"""

import numpy as np
from numba import njit

from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.kernel import (
    CALENDAR,
    COUNTS,
    DRY,
    DUST,
    EARLIEST,
    FIXED,
    FIXED_END,
    FIXED_LEFT,
    HOLD,
    JOB,
    NEED,
    NOW,
    OTHER,
    PATIENCE,
    PEOPLE,
    PIECE,
    PLANNED,
    USE,
    WET,
    WORK,
    book,
    gap,
    insert,
    opens,
    owed,
    run_on,
    seek,
    stand,
    trace,
)  # fmt: skip


@njit(nogil=True, cache=True)
def play(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, day, day_start, helper_at, helper, scale, work, wet, tree_at, root, parent,
    endless, found_work, chosen, dropped, floor, room, criticality, out_end, critical, out_labour, out_start,
    out_missed,
):  # fmt: skip
    """Dispatch the chosen samples; what is asked for is written to the arrays at the end."""
    n = day.size - 1
    steps, persons, jobs = row.shape[0], hours.shape[0], dropped.size
    now, piece, patience, hold = scale[NOW], scale[PIECE], scale[PATIENCE], scale[HOLD]
    most, ways = 0, holds.size
    for k in range(chosen.size):
        most = max(most, tree_at[chosen[k] + 1] - tree_at[chosen[k]])
    for i in range(steps):
        for column in (DUST, WET):
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
        b_count[:] = 0
        w_count[:] = 0
        job_end[:] = -1
        job_last[:] = -1
        last, last_end = -1, 0
        for i in range(steps):
            job = row[i, JOB]
            if dropped[job]:
                ends[i] = -1
                continue
            c, lo, hi = row[i, CALENDAR], row[i, PEOPLE], row[i, PEOPLE + 1]
            w, many = work[sample, i], 0
            if row[i, FIXED]:
                s, e, cause = row[i, EARLIEST], row[i, FIXED_END], -1
                if w <= row[i, FIXED_LEFT]:
                    e -= row[i, FIXED_LEFT] - w
                else:
                    over = w - row[i, FIXED_LEFT]
                    e = run_on(hours, day, day_start, wet, sample, c, e, over, False)
            else:
                t, cause = opens(row, flat, tables, n, i, ends)
                lowest = max(row[i, EARLIEST], floor[i])
                if lowest > t:
                    t, cause = min(lowest, n), -1
                s, e, why = seek(
                    row, flat, holds, tables, hours, day, day_start, hold, wet, sample, i, c, lo, hi, t, n, w, 0,
                    b_span, b_count, w_span, w_count,
                )  # fmt: skip
                # somebody else takes it over where it is late, and waits for its person
                if row[i, OTHER] < row[i, OTHER + 1] and s > max(row[i, PLANNED], t) + patience:
                    for u in range(row[i, OTHER], row[i, OTHER + 1]):
                        soon = s - patience + 1
                        if (
                            gap(hours, n, b_span, b_count, flat[u], t, w, row[i, NEED], soon)[0]
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
                    more = w + int(np.round(extra * w / max(row[i, WORK], 1)))
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
                for u in range(row[i, USE], row[i, USE + 1], 2):
                    stand(w_span, w_count, flat[u], s, e, i, flat[u + 1])
                for u in range(row[i, DUST], row[i, DUST + 1]):
                    stand(w_span, w_count, holds.size + 2 * flat[u], s, e, i, 0)
                for u in range(row[i, WET], row[i, WET + 1]):
                    dry = e if row[i, DRY] < 0 else tables[row[i, DRY], e]
                    stand(w_span, w_count, holds.size + 2 * flat[u] + 1, s, dry, i, 0)
                if out_labour.shape[0] > 0 and hi > lo:
                    book(hours, day, day_start, out_labour, k, c, max(s, now), e, hi - lo)
            if out_start.shape[0] > 0:
                out_start[k, i] = s
                out_missed[k, i] = many
            if e >= job_end[job]:
                job_end[job], job_last[job] = e, i
            if row[i, COUNTS] and e >= last_end:
                last, last_end = i, e

        first = tree_at[sample]
        full_from[:] = 0
        full_to[:] = 0
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
