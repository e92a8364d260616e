"""What stands in the way in places and zones."""

from tackwatch.plan.forecast import columns as col
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.compiled.how import inner


@inner
def stand(ways, way_count, way_to, at, s, e, i, units):  # type: ignore[no-untyped-def]
    """Put a span in the way of others."""
    k = way_count[at]
    ways[at, k, col.START], ways[at, k, col.END] = s, e
    ways[at, k, col.WHO], ways[at, k, col.UNITS] = i, units
    way_count[at] = k + 1
    way_to[at] = max(way_to[at], e)


@inner
def stand_all(row, flat, holds, tables, i, s, e, ways, way_count, way_to):  # type: ignore[no-untyped-def]
    """Put a step in the way of others, wherever it is."""
    for u in range(row[i, col.USE], row[i, col.USE + 1], 2):
        stand(ways, way_count, way_to, flat[u], s, e, i, flat[u + 1])
    for u in range(row[i, col.DUST], row[i, col.DUST + 1]):
        stand(ways, way_count, way_to, holds.size + 2 * flat[u], s, e, i, 0)
    if row[i, col.WET] < row[i, col.WET + 1]:
        dry = e if row[i, col.DRY] < 0 else tables[row[i, col.DRY], e]
        for u in range(row[i, col.WET], row[i, col.WET + 1]):
            stand(ways, way_count, way_to, holds.size + 2 * flat[u] + 1, s, dry, i, 0)


@inner
def crowd(ways, way_count, place, free, s, e):  # type: ignore[no-untyped-def]
    """Find where a place with so many units to spare is too full in [s, e): (the slot from which it is not, whose)."""
    load, many = 0, way_count[place]
    for k in range(many):
        if ways[place, k, col.START] < e and ways[place, k, col.END] > s:
            load += ways[place, k, col.UNITS]
    if load <= free:  # even if all were there at once
        return -1, -1
    for k in range(-1, many):  # the load is highest where something begins
        at = s if k < 0 else ways[place, k, col.START]
        if at < s or at >= e:
            continue
        load, soonest, whose = 0, LATER, -1
        for m in range(many):
            if ways[place, m, col.START] <= at < ways[place, m, col.END]:
                load += ways[place, m, col.UNITS]
                if ways[place, m, col.END] < soonest:
                    soonest, whose = ways[place, m, col.END], ways[place, m, col.WHO]
        if load > free:
            return soonest, whose
    return -1, -1


@inner
def wall(row, flat, holds, tables, i, s, e, ways, way_count, way_to):  # type: ignore[no-untyped-def]
    """Find what is in the way in places and zones: (the slot from which it is not, whose), or (-1, -1)."""
    for u in range(row[i, col.USE], row[i, col.USE + 1], 2):
        place = flat[u]
        if way_to[place] > s:
            until, whose = crowd(ways, way_count, place, holds[place] - flat[u + 1], s, e)
            if until >= 0:
                return until, whose
    dry = e if row[i, col.DRY] < 0 else tables[row[i, col.DRY], e]
    for kind in range(2):  # dust against what is wet, wet against dust
        column, until = (col.DUST, e) if kind == 0 else (col.WET, dry)
        for u in range(row[i, column], row[i, column + 1]):
            z = holds.size + 2 * flat[u] + 1 - kind
            if way_to[z] <= s:
                continue
            for k in range(way_count[z]):
                if (
                    ways[z, k, col.START] < until
                    and ways[z, k, col.END] > s
                    and ways[z, k, col.WHO] != i
                ):
                    return ways[z, k, col.END], ways[z, k, col.WHO]
    return -1, -1
