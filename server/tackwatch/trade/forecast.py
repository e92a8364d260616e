"""What the temperature track says of an instant and of a span.

Rules
-----
* Before the track begins its first temperature holds; past its end its last day repeats for ever.
* Between knots the temperature is straight, so that the lowest of a span lies at an end or a knot.
* A span longer than the repeated day is as low as the track and one whole day.

Source
------
See `temperature`.
"""

from bisect import bisect_right
from math import floor

from tackwatch.trade.types import Track


def temp_at(track: Track, at_s: float) -> float:
    """Give the temperature at an instant."""
    at_s = _folded(track, at_s)
    knots = track.knots
    i = bisect_right(knots, at_s, key=lambda knot: knot.at_s)
    if i == 0:
        return knots[0].temp_c
    if i == len(knots):
        return knots[-1].temp_c
    left, right = knots[i - 1], knots[i]
    share = (at_s - left.at_s) / (right.at_s - left.at_s)
    return left.temp_c + (right.temp_c - left.temp_c) * share


def lowest_c(track: Track, from_s: float, to_s: float) -> float:
    """Give the lowest temperature from one instant to another, both with."""
    knots = track.knots
    end_s, begin_s = knots[-1].at_s, knots[track.repeats_from].at_s
    found = min(temp_at(track, from_s), temp_at(track, to_s))
    for knot in knots:
        if from_s < knot.at_s < to_s:
            found = min(found, knot.temp_c)
    if to_s <= end_s:
        return found
    day = knots[track.repeats_from :]
    period_s = end_s - begin_s
    first_s = max(from_s, end_s)
    offset_s = period_s * floor((first_s - begin_s) / period_s)
    for knot in day:
        for later_s in (offset_s, offset_s + period_s):
            if first_s < knot.at_s + later_s < to_s:
                found = min(found, knot.temp_c)
    return found


def _folded(track: Track, at_s: float) -> float:
    """Give the instant inside the track that stands for one past its end."""
    end_s, begin_s = track.knots[-1].at_s, track.knots[track.repeats_from].at_s
    if at_s <= end_s:
        return at_s
    period_s = end_s - begin_s
    return at_s - period_s * (floor((at_s - end_s) / period_s) + 1.0)
