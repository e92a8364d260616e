"""Profiles, instants and outside check values that the tests of the sums share."""

import json
from datetime import UTC, datetime, timedelta
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.types import DailyCurve, Profile, Reading, StagePoint

FIXTURES = Path(__file__).parents[2] / "fixtures"
START_AT = datetime(2026, 4, 10, 12, tzinfo=UTC)
START_S = START_AT.timestamp()
CURVE = DailyCurve(min_c=10.0, max_c=20.0, hour_of_max=15.0, utc_offset_s=0.0)
FLAT_20 = DailyCurve(min_c=20.0, max_c=20.0, hour_of_max=15.0, utc_offset_s=0.0)


@cache
def profiles() -> dict[str, Profile]:
    """Give every profile of the fixtures by its id."""
    found = [parse_profile(json.loads(path.read_text())) for path in profile_paths()]
    return {profile.id: profile for profile in found}


def profile_paths() -> list[Path]:
    return sorted((FIXTURES / "profiles").glob("*.json"))


@cache
def outside() -> dict[str, dict[str, Any]]:
    """Give the check values from outside the project by their id; each names its source."""
    checks = json.loads((FIXTURES / "vectors" / "trade" / "outside.json").read_text())
    return {check["id"]: check for check in checks}


class RecordedHour(NamedTuple):
    """An hour of the weather record, and how many hours of the year were like it."""

    air_c: float
    rh_pct: float
    dew_c: float
    hours: int


def recorded_hours() -> list[RecordedHour]:
    """Give the hours of a measured year; where they are from stands in the file's first lines."""
    lines = (FIXTURES / "trade" / "weather_723170.csv").read_text("utf-8").splitlines()
    rows = [line.split(",") for line in lines if line[:1].isdigit()]
    return [RecordedHour(float(a), float(b), float(c), int(n)) for a, b, c, n in rows]


def profile_with(**stages: list[tuple[float, float]]) -> Profile:
    """Give a bare profile with the stages as (temp_c, minutes)."""
    return parse_profile(
        {
            "id": "bare",
            "version": 1,
            "product_class": "bare",
            "name": {"en": "Bare"},
            "typical": True,
            "basis_note": "for a test",
            "stages": {
                stage: [{"temp_c": t, "minutes": m} for t, m in points]
                for stage, points in stages.items()
            },
        }
    )


def points(*pairs: tuple[float, float]) -> tuple[StagePoint, ...]:
    return tuple(StagePoint(temp_c, minutes) for temp_c, minutes in pairs)


def hours(n: float) -> timedelta:
    return timedelta(hours=n)


def hourly(*temps_c: float, start_at: datetime = START_AT) -> list[Reading]:
    """Give one reading an hour from the start."""
    return [Reading(start_at + hours(i), surface_c=t) for i, t in enumerate(temps_c)]
