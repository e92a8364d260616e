"""What the refit has shown so far: how long work took, what was found while doing it, and the weather.

Rules
-----
* An estimate and an actual are of one piece of work and in one unit, whichever: only their ratio counts.
* What was found while doing a job counts once the job is finished, or with the share of it that is done.
* Labour is people times slots.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field

from tackwatch.plan.model import Slot


class RecordError(ValueError):
    """Something in the record cannot be: `field` names it."""

    def __init__(self, field: str, message: str) -> None:
        super().__init__(f"{field}: {message}")
        self.field = field
        self.message = message


@dataclass(frozen=True, slots=True)
class Took:
    """A finished piece of work: what it was reckoned to take, and what it took."""

    job_id: str
    estimate: float
    actual: float


@dataclass(frozen=True, slots=True)
class FoundWhile:
    """How many jobs were found while doing a job; `share` of it is done (1: finished)."""

    job_id: str
    found: int
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Weather:
    """How many of the days looked at were too wet to work outdoors."""

    days: int = 0
    wet: int = 0


@dataclass(frozen=True, slots=True)
class DayDone:
    """Labour done on the day that begins at `day`."""

    day: Slot
    labour: float


@dataclass(frozen=True, slots=True)
class Record:
    """All that the forecast learns from, and what it must know beside the project.

    Attributes
    ----------
    now
        What ends by this slot is done; fixed steps that end later are under way.
    job_of
        The job of each step; a step that is not here is a job of its own, with its group where it has one.
    afloat
        Jobs that may wait until the boat is afloat.
    took, found_while
        The record of finished work; of what it revealed.
    found_labour
        Labour at which found jobs were reckoned when they were found, in slots.
    outdoors
        Steps that need a dry day.
    days
        Slots at which local days begin, in order; past the last one each day has 24 hours.
    done
        Labour done so far, by day.
    """

    now: Slot = 0
    job_of: Mapping[str, str] = field(default_factory=dict)
    afloat: frozenset[str] = frozenset()
    took: tuple[Took, ...] = ()
    found_while: tuple[FoundWhile, ...] = ()
    found_labour: tuple[float, ...] = ()
    weather: Weather = Weather()
    outdoors: frozenset[str] = frozenset()
    days: tuple[Slot, ...] = ()
    done: tuple[DayDone, ...] = ()

    def __post_init__(self) -> None:
        for n, took in enumerate(self.took):
            if not (took.estimate > 0 and took.actual > 0):
                raise RecordError(f"took[{n}]", "an estimate and an actual are more than nothing")
        for n, found in enumerate(self.found_while):
            if found.found < 0 or not 0 < found.share <= 1:
                raise RecordError(
                    f"found_while[{n}]", "a count is not negative, a share is in (0, 1]"
                )
        if any(not labour > 0 for labour in self.found_labour):
            raise RecordError("found_labour", "the labour of a job is more than nothing")
        if not 0 <= self.weather.wet <= self.weather.days:
            raise RecordError("weather", "wet days are days")
        if list(self.days) != sorted(set(self.days)):
            raise RecordError("days", "days begin one after the other")
