"""Plays samples: what is planned, what is found, and what decided the end."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.compiled.how import inner, outer
from tackwatch.plan.forecast.compiled.planned import planned
from tackwatch.plan.forecast.compiled.revealed import revealed
from tackwatch.plan.forecast.compiled.spans import clear


@inner
def trace(row, root, first, last, causes, on_chain, k):  # type: ignore[no-untyped-def]
    """Walk back along what decided each start, and tell the jobs that are met."""
    steps, at = row.shape[0], last
    for _ in range(causes.size):
        if at < 0:
            break
        on_chain[k, row[at, col.JOB] if at < steps else root[first + at - steps]] = True
        at = causes[at]


@outer
def play(  # type: ignore[no-untyped-def]
    row, flat, holds, tables, hours, slot_of, day, day_start, helper_at, helper, scale, work, wet, tree_at, root,
    parent, endless, found_work, dropped, floor, chosen, out_end, out_chain, out_labour, out_start, out_missed, spans,
    ways, count, at, full, way_count, way_to, ends, job_end, job_last, found_end, causes,
):  # fmt: skip
    """Dispatch the chosen samples: what is asked for is written to `out_...`.

    The arrays after those are room to work in.
    """
    n, steps = day.size - 1, row.shape[0]
    for k in range(chosen.size):
        sample = chosen[k]
        first = tree_at[sample]
        clear(spans, count, full, way_count, way_to, job_end, job_last)
        last, last_end = planned(
            row, flat, holds, tables, hours, slot_of, day, day_start, scale, work, wet, sample, k, dropped, floor,
            ends, causes, job_end, job_last, spans, count, at, ways, way_count, way_to, out_labour, out_start,
            out_missed,
        )  # fmt: skip
        last, last_end = revealed(
            hours, slot_of, day, day_start, helper_at, helper, scale[col.PIECE], steps, root, parent, found_work,
            first, tree_at[sample + 1] - first, k, dropped, job_end, job_last, found_end, causes, spans, count, full,
            last, last_end, out_labour,
        )  # fmt: skip
        # where all jobs are dropped nothing is left that could be endless
        if last >= 0 and (last_end >= n or endless[sample]):
            last_end = LATER
        out_end[k] = last_end
        if out_chain.shape[0] > 0:
            trace(row, root, first, last, causes, out_chain, k)
