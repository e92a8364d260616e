"""The forecast of the launch, by simulation over what the refit has shown of itself."""

from tackwatch.plan.forecast.answer import Forecast
from tackwatch.plan.forecast.future import forecast
from tackwatch.plan.forecast.record import (
    DayDone,
    FoundWhile,
    Record,
    RecordError,
    Took,
    Weather,
)

__all__ = [
    "DayDone",
    "Forecast",
    "FoundWhile",
    "Record",
    "RecordError",
    "Took",
    "Weather",
    "forecast",
]
