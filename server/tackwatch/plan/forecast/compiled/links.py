"""What links let a step do, and what it owes when it comes too late."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.compiled.how import inner


@inner
def opens(row, flat, tables, n, i, ends):  # type: ignore[no-untyped-def]
    """Give when the links of a step let it begin, and the step before that decides it; ends below 0 are left out."""
    t, cause = 0, -1
    for u in range(row[i, col.LINK], row[i, col.LINK + 1], col.LINK_N):
        end = ends[flat[u + col.BEFORE]]
        if end < 0:
            continue
        at = end + flat[u + col.MIN_GAP]
        if flat[u + col.READY] >= 0:
            at = max(at, tables[flat[u + col.READY], end])
        if at > t:
            t, cause = at, flat[u + col.BEFORE]
    return min(t, n), cause


@inner
def owed(row, flat, tables, i, s, ends):  # type: ignore[no-untyped-def]
    """Give the work for windows that are missed by a start at `s`, and how many they are."""
    work, many = 0, 0
    for u in range(row[i, col.LINK], row[i, col.LINK + 1], col.LINK_N):
        end = ends[flat[u + col.BEFORE]]
        if end < 0:
            continue
        closes = LATER
        if flat[u + col.MAX_GAP] < LATER:
            closes = end + flat[u + col.MAX_GAP]
        if flat[u + col.LAST] >= 0:
            closes = min(closes, tables[flat[u + col.LAST], end])
        if s > closes:
            work += flat[u + col.MISSED_WORK]
            many += 1
    return work, many
