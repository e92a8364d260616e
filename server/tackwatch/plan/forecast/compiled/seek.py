"""Where a step can be begun."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.compiled.hours import run_on
from tackwatch.plan.forecast.compiled.how import inner
from tackwatch.plan.forecast.compiled.spans import behind, clash
from tackwatch.plan.forecast.compiled.ways import wall


@inner
def seek(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, slot_of, day, day_start, hold, wet, sample, i, c, lo, hi, t, until, w, extra,
    spans, count, at, ways, way_count, way_to,
):  # fmt: skip
    """Find where a step can be begun from `t` on, before `until`: (start, end, what moved it last or -2).

    Its people are `flat[lo:hi]`; `at` is room for where each of them is.
    """
    n = day.size - 1
    need, outdoors, good = row[i, col.NEED], row[i, col.OUTDOORS] > 0, row[i, col.GOOD]
    walled = row[i, col.USE] < row[i, col.WET + 1]  # uses, dust and wet lie side by side
    cause, held_from, s = -2, -1, t
    for k in range(lo, hi):
        at[k - lo] = behind(spans, count, flat[k], t)
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
        e = run_on(hours, slot_of, day, day_start, wet, sample, c, s, w, outdoors)
        moved = -1
        for k in range(lo, hi):
            p = flat[k]
            at[k - lo], busy = clash(spans, count, p, at[k - lo], s, e, w)
            if busy and spans[p, at[k - lo], col.END] > moved:
                moved, cause = spans[p, at[k - lo], col.END], spans[p, at[k - lo], col.WHO]
        if moved < 0 and walled:
            moved, whose = wall(row, flat, holds, tables, i, s, e, ways, way_count, way_to)
            if moved >= 0:
                cause = whose
        if moved < 0:
            return s, e, cause
        s = min(moved, n)
