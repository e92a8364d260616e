"""What people have to do, and what room it leaves."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.compiled.how import inner


@inner
def behind(spans, count, p, t):  # type: ignore[no-untyped-def]
    """Find the last of a person's spans that ends by `t`."""
    high = count[p] - 1
    if spans[p, high, col.END] <= t:
        return high
    low = 0
    while high - low > 1:
        middle = (low + high) // 2
        if spans[p, middle, col.END] <= t:
            low = middle
        else:
            high = middle
    return low


@inner
def clash(spans, count, p, k, s, e, w):  # type: ignore[no-untyped-def]
    """Go on from span `k`, which ends by `s`: to the last that does, and whether what follows is in the way of [s, e).

    If it is: to the next after which there may be room for `w` slots.
    """
    last = count[p] - 1
    while k < last and spans[p, k + 1, col.END] <= s:
        k += 1
    if k == last or spans[p, k + 1, col.START] >= e:
        return k, False
    k += 1
    while spans[p, k, col.ROOM] < w:
        k += 1
    return k, True


@inner
def insert(hours, spans, count, p, k, s, e, i):  # type: ignore[no-untyped-def]
    """Put a span among a person's, after number `k`."""
    last = count[p]
    for q in range(last, k + 1, -1):
        for column in range(4):
            spans[p, q, column] = spans[p, q - 1, column]
    k += 1
    spans[p, k, col.START], spans[p, k, col.END], spans[p, k, col.WHO] = s, e, i
    worked = hours[p + 1, s, col.WORKED] - hours[p + 1, spans[p, k - 1, col.END], col.WORKED]
    spans[p, k - 1, col.ROOM] = worked
    room = LATER
    if k < last:
        room = hours[p + 1, spans[p, k + 1, col.START], col.WORKED] - hours[p + 1, e, col.WORKED]
    spans[p, k, col.ROOM] = room
    count[p] = last + 1


@inner
def clear(spans, count, full, way_count, way_to, job_end, job_last):  # type: ignore[no-untyped-def]
    """Clear the desk: nobody has anything to do, and nothing stands in the way."""
    for p in range(count.size):
        count[p], full[p] = 1, 0
        spans[p, 0, col.START], spans[p, 0, col.END] = -1, 0
        spans[p, 0, col.WHO], spans[p, 0, col.ROOM] = -2, LATER
    for way in range(way_count.size):
        way_count[way], way_to[way] = 0, 0
    for job in range(job_end.size):
        job_end[job], job_last[job] = -1, -1
