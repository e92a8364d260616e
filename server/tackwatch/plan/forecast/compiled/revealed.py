"""What is found, in one sample: in pieces, by whoever is able and has room for the next one soonest."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.compiled.hours import book
from tackwatch.plan.forecast.compiled.how import inner
from tackwatch.plan.forecast.compiled.spans import behind, insert


@inner
def gap(hours, spans, count, p, low, t, w, before):  # type: ignore[no-untyped-def]
    """Find where a person has room for `w` open slots from `t` on: (start, after which span, what is in the way).

    Before span `low` there is no such room, and none is looked for from `before` on: then the start is `before`.
    """
    c, k, cause = p + 1, low, -2
    if spans[p, low, col.END] > t:
        cause = spans[p, low, col.WHO]
    else:
        k = behind(spans, count, p, t)
    while True:
        s = max(t, spans[p, k, col.END])
        if s >= before:
            return before, k, cause
        if hours[c, s, col.LEFT] < 1:
            s = hours[c, s, col.NEXT]
            if s >= before:
                return before, k, cause
        if k == count[p] - 1:
            return s, k, cause
        room = hours[c, spans[p, k + 1, col.START], col.WORKED] - hours[c, s, col.WORKED]
        if room >= w:
            return s, k, cause
        k += 1
        while spans[p, k, col.ROOM] < w:
            k += 1
        cause = spans[p, k, col.WHO]


@inner
def revealed(  # type: ignore[no-untyped-def]
    hours, slot_of, day, day_start, helper_at, helper, piece, steps, root, parent, found_work, first, many, k, dropped,
    job_end, job_last, found_end, causes, spans, count, full, last, last_end, out_labour,
):  # fmt: skip
    """Dispatch what is found; give what ends last of all, and when.

    Before span `full[p]` of a person there is no room for a whole piece.
    """
    n = day.size - 1
    for f in range(many):
        job, above = root[first + f], parent[first + f]
        if dropped[job] or job_end[job] < 0:
            found_end[f] = 0
            continue
        t = job_end[job] if above < 0 else found_end[above]
        causes[steps + f] = job_last[job] if above < 0 else steps + above
        rest = found_work[first + f]
        while rest > 0 and t < n:
            w = min(rest, piece)
            rest -= w
            best_s, best_k, best_p, best_cause = n, 0, -1, -2
            for u in range(helper_at[job], helper_at[job + 1]):
                p, low = helper[u], 0
                if w == piece:
                    while spans[p, full[p], col.ROOM] < piece:
                        full[p] += 1
                    low = full[p]
                s, after, cause = gap(hours, spans, count, p, low, t, w, best_s)
                if s < best_s:
                    best_s, best_k, best_p, best_cause = s, after, p, cause
            if best_p < 0:
                t = n
                break
            if best_cause >= 0 and best_cause != steps + f:
                causes[steps + f] = best_cause
            number = hours[best_p + 1, best_s, col.WORKED] + w - 1
            t = min(slot_of[best_p + 1, number] + 1, n) if number < n else n
            insert(hours, spans, count, best_p, best_k, best_s, t, steps + f)
            full[best_p] += best_k < full[best_p]
            if out_labour.shape[0] > 0:
                book(hours, day, day_start, out_labour, k, best_p + 1, best_s, t, 1)
        found_end[f] = t
        if t >= last_end:
            last, last_end = steps + f, t
    return last, last_end
