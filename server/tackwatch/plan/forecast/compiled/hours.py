"""Open hours: where work ends, and on which days it is done."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.compiled.how import inner


@inner
def run_on(hours, slot_of, day, day_start, wet, sample, c, s, w, outdoors):  # type: ignore[no-untyped-def]
    """Give the end of `w` open slots from `s` on, over wet days when outdoors."""
    n = day.size - 1
    if w == 0 or s >= n:
        return min(s, n)
    k = hours[c, s, col.WORKED] + w - 1
    if not outdoors:
        return min(slot_of[c, k] + 1, n) if k < n else n
    left, today, at = w, day[s], s
    while at < n:
        to = day_start[today + 1]
        if not wet[sample, today]:
            here = hours[c, to, col.WORKED] - hours[c, at, col.WORKED]
            if here >= left:
                return slot_of[c, hours[c, at, col.WORKED] + left - 1] + 1
            left -= here
        at = to
        today += 1
    return n


@inner
def book(hours, day, day_start, labour, k, c, s, e, people):  # type: ignore[no-untyped-def]
    """Add the labour of a span to its days."""
    today, at = day[s], s
    while at < e:
        to = min(e, day_start[today + 1])
        labour[k, today] += people * (hours[c, to, col.WORKED] - hours[c, at, col.WORKED])
        at = to
        today += 1
