"""The steps of the plan in one sample."""

import numpy as np

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.compiled.hours import book, run_on
from tackwatch.plan.forecast.compiled.how import inner
from tackwatch.plan.forecast.compiled.links import opens, owed
from tackwatch.plan.forecast.compiled.seek import seek
from tackwatch.plan.forecast.compiled.spans import insert
from tackwatch.plan.forecast.compiled.ways import stand_all


@inner
def begun(row, hours, slot_of, day, day_start, wet, sample, i, w):  # type: ignore[no-untyped-def]
    """Give when a step that is fixed ends, with `w` slots of it left."""
    end, left = row[i, col.FIXED_END], row[i, col.FIXED_LEFT]
    if w <= left:
        return end - (left - w)
    c = row[i, col.CALENDAR]
    return run_on(hours, slot_of, day, day_start, wet, sample, c, end, w - left, False)


@inner
def put(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, slot_of, day, day_start, scale, wet, sample, i, w, lowest, ends, spans, count, at,
    ways, way_count, way_to,
):  # fmt: skip
    """Find where a step goes: (start, end, cause, windows that it misses, calendar, its people in `flat`)."""
    n, c, lo, hi = day.size - 1, row[i, col.CALENDAR], row[i, col.PEOPLE], row[i, col.PEOPLE + 1]
    hold, patience = scale[col.HOLD], scale[col.PATIENCE]
    t, cause = opens(row, flat, tables, n, i, ends)
    if lowest > t:
        t, cause = min(lowest, n), -1
    s, e, why = seek(
        row, flat, holds, tables, hours, slot_of, day, day_start, hold, wet, sample, i, c, lo, hi, t, n, w, 0, spans,
        count, at, ways, way_count, way_to,
    )  # fmt: skip
    if s > max(row[i, col.PLANNED], t) + patience:  # somebody else takes it over
        for u in range(row[i, col.OTHER], row[i, col.OTHER + 1]):
            s2, e2, why2 = seek(
                row, flat, holds, tables, hours, slot_of, day, day_start, hold, wet, sample, i, flat[u] + 1, u, u + 1,
                t, s - patience + 1, w, 0, spans, count, at, ways, way_count, way_to,
            )  # fmt: skip
            if s2 < n:
                s, e, why, c, lo, hi = s2, e2, why2, flat[u] + 1, u, u + 1
    many = 0
    if row[i, col.WINDOW]:
        extra, many = owed(row, flat, tables, i, s, ends)
        if extra > 0:
            more = w + int(np.round(extra * w / max(row[i, col.WORK], 1)))
            s, e, why = seek(
                row, flat, holds, tables, hours, slot_of, day, day_start, hold, wet, sample, i, c, lo, hi, s, n, more,
                extra, spans, count, at, ways, way_count, way_to,
            )  # fmt: skip
    if why != -2:
        cause = why
    return s, e, cause, many, c, lo, hi


@inner
def planned(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, slot_of, day, day_start, scale, work, wet, sample, k, dropped, floor, ends,
    causes, job_end, job_last, spans, count, at, ways, way_count, way_to, out_labour, out_start, out_missed,
):  # fmt: skip
    """Dispatch the steps of the plan; give which ends last of those that count, and when."""
    last, last_end = -1, 0
    for i in range(row.shape[0]):
        job = row[i, col.JOB]
        if dropped[job]:
            ends[i] = -1
            continue
        w, many = work[sample, i], 0
        c, lo, hi = row[i, col.CALENDAR], row[i, col.PEOPLE], row[i, col.PEOPLE + 1]
        if row[i, col.FIXED]:
            s, cause = row[i, col.EARLIEST], -1
            e = begun(row, hours, slot_of, day, day_start, wet, sample, i, w)
        else:
            lowest = max(row[i, col.EARLIEST], floor[i])
            s, e, cause, many, c, lo, hi = put(
                row, flat, holds, tables, hours, slot_of, day, day_start, scale, wet, sample, i, w, lowest, ends,
                spans, count, at, ways, way_count, way_to,
            )  # fmt: skip
        ends[i], causes[i] = e, cause
        if e > max(s, 0):
            for u in range(lo, hi):
                after = count[flat[u]] - 1
                while spans[flat[u], after, col.START] > max(s, 0):
                    after -= 1
                insert(hours, spans, count, flat[u], after, max(s, 0), e, i)
            stand_all(row, flat, holds, tables, i, s, e, ways, way_count, way_to)
            if out_labour.shape[0] > 0 and hi > lo:
                book(hours, day, day_start, out_labour, k, c, max(s, scale[col.NOW]), e, hi - lo)
        if out_start.shape[0] > 0:
            out_start[k, i], out_missed[k, i] = s, many
        if e >= job_end[job]:
            job_end[job], job_last[job] = e, i
        if row[i, col.COUNTS] and e >= last_end:
            last, last_end = i, e
    return last, last_end
