"""The air as it was measured last, and what it means for wet coats that are to come.

Rules
-----
- The track runs from the instant of the newest measurement; without air, surface and humidity nobody can say anything.
- What lies before that measurement, or a day after it, it does not speak of.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from functools import cached_property

from tackwatch.trade.readiness_air import AirFacts, latest_air
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Track
from tackwatch.trade.weather_edge import DEW_HOLDS_S, WeatherEdge, weather_edge
from tackwatch.work.reckoning.rows import RefitRows
from tackwatch.work.reckoning.sources import curve_of, readings_of


class Weather:
    """Answers for any coat."""

    def __init__(self, refit: RefitRows, now: datetime) -> None:
        readings = readings_of(refit)
        owner = next(iter(refit.items["refit"].values()), None)
        air = latest_air(readings)
        self.last_at = max(
            (one.at for one in readings if not (one.air_c is None and one.surface_c is None)),
            default=None,
        )
        self.measured_at = air.measured_at if owner else None
        self._air: AirFacts = air
        self._readings, self._owner, self._now = readings, owner, now

    @cached_property
    def track(self) -> Track:
        """The temperature from the measurement on."""
        if self._owner is None:
            raise LookupError("a refit without its own item has no track")
        curve = curve_of(self._owner, self._now)
        return track_of(self._readings, curve, self.measured_at or self._now)

    def speaks_of(self, at: datetime) -> bool:
        """Say whether the measurement says anything of an instant."""
        if self.measured_at is None:
            return False
        return self.measured_at <= at <= self.measured_at + timedelta(seconds=DEW_HOLDS_S)

    def edge(
        self, margin_k: float, start_at: datetime, dry_at: datetime | None
    ) -> WeatherEdge | None:
        """Give when a coat loses its margin before it is dry; None when it keeps it, or nobody can say."""
        if self.measured_at is None or dry_at is None or dry_at <= self.measured_at:
            return None
        return weather_edge(self._air, self.track, margin_k, start_at, dry_at)
