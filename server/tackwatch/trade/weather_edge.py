"""The weather edge: when a wet coat will lose its margin above the dew point before it is touch-dry.

Theory
------
Dew on a film that is not dry spoils it. The dew point was measured once and is held; the temperature
of the surface follows the track of the cure clock. In the evening the track falls towards the dew
point, and the margin is lost at an instant that can be told ahead.

Rules
-----
* Asked from the later of the coat's start and the measurement until it is touch-dry on the slow
  edge, each quarter of an hour, at most two days ahead.
* A dew point older than a day says nothing any more.
* The margin is the product's own, else 3 K.

Source
------
The margin: ISO 8502-4, from memory, or the product's data sheet. Holding the dew point: our own choice.
"""

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from tackwatch.trade.air import dew_point_c
from tackwatch.trade.errors import OutOfRangeError
from tackwatch.trade.forecast import temp_at
from tackwatch.trade.instants import instant_of, seconds_of
from tackwatch.trade.readiness_air import AirFacts
from tackwatch.trade.surface import EDGE_K
from tackwatch.trade.types import Track

LOOK_S: Final = 900.0
AHEAD_S: Final = 48.0 * 3600.0
DEW_HOLDS_S: Final = 24.0 * 3600.0


@dataclass(frozen=True, slots=True)
class WeatherEdge:
    """When it becomes known, when the margin is lost, and when the coat is touch-dry."""

    known_at: datetime
    lost_at: datetime
    dry_at: datetime


def weather_edge(
    air: AirFacts, track: Track, margin_k: float, start_at: datetime, dry_at: datetime
) -> WeatherEdge | None:
    """Give when a coat loses its margin above the dew point; None when it keeps it, or nobody can say.

    Parameters
    ----------
    air : AirFacts
        The newest air temperature, surface and humidity.
    track : Track
        The temperature of the surface.
    margin_k : float
        How far the surface must stay above the dew point.
    start_at, dry_at : datetime
        When the coat began or is to begin, and when it is touch-dry.

    Source
    ------
    See the head of the module.
    """
    if air.measured_at is None or air.air_c is None or air.rh_pct is None:
        return None
    try:
        dew_c = dew_point_c(air.air_c, air.rh_pct)
    except OutOfRangeError:
        return None
    measured_s = seconds_of(air.measured_at, "measured_at")
    from_s = max(seconds_of(start_at, "start_at"), measured_s)
    until_s = min(seconds_of(dry_at, "dry_at"), from_s + AHEAD_S)
    if from_s - measured_s > DEW_HOLDS_S:
        return None
    at_s = from_s
    while at_s < until_s:
        if temp_at(track, at_s) - dew_c < margin_k - EDGE_K:
            return WeatherEdge(instant_of(from_s), instant_of(at_s), dry_at)
        at_s += LOOK_S
    return None
