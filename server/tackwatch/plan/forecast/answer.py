"""What a forecast says. All instants are slots of the project's grid; `NEVER` is later than anything looked at."""

from dataclasses import dataclass
from typing import Literal

from tackwatch.plan.model import Slot

Says = Literal[
    "durations_from_prior",
    "found_from_prior",
    "weather_from_prior",
    "never_ends",
    "may_never_end",
    "beyond_horizon",
    "cannot_reach",
]


@dataclass(frozen=True, slots=True)
class FoundRate:
    """How many jobs a finished job reveals, on average.

    Attributes
    ----------
    r, r_low, r_high
        The mean of what is believed, and the middle 80 % of it.
    never_ends
        `r` is 1 or more: the work does not end by itself.
    p_endless
        Share of samples in which found work grew past all bounds.
    """

    r: float
    r_low: float
    r_high: float
    from_record: bool
    never_ends: bool
    p_endless: float


@dataclass(frozen=True, slots=True)
class Overrun:
    """Actual over estimate of the work to come: what is common to all of it; half as likely above `middle` as below."""

    low: float
    middle: float
    high: float
    from_record: bool


@dataclass(frozen=True, slots=True)
class JobCritical:
    """The share of samples in which a job, or what is found behind it, lies on the chain that decides the end."""

    job_id: str
    p_critical: float


@dataclass(frozen=True, slots=True)
class Moved:
    """Jobs to move to after the launch, and the chance of making it then, from samples that did not choose them."""

    job_ids: tuple[str, ...]
    p_launch: float


@dataclass(frozen=True, slots=True)
class DayLeft:
    """Labour that is left at the end of the day that begins at `day`, in people times slots.

    `done` is what is done by then, added up from the beginning: in 10, 50 and 90 of a hundred samples no more.
    """

    day: Slot
    p10: float
    p50: float
    p90: float
    done: tuple[float, float, float] = (0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True)
class BurnUp:
    """Labour done by day so far (added up), the fan of what is left, and the median of all there is to do."""

    done: tuple[tuple[Slot, float], ...]
    left: tuple[DayLeft, ...]
    scope: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """When the work that must be done before the launch will be done, and what decides it.

    Attributes
    ----------
    p_launch
        The chance that it is done by the launch.
    p10, p50, p90
        The slot by which it is done in so many of a hundred samples.
    says
        Codes of what a person must be told beside the figures.
    to_move
        A small set of jobs that may wait, after which the launch is made with 90 % (see `Moved`).
    """

    p_launch: float
    p10: Slot
    p50: Slot
    p90: Slot
    samples: int
    says: tuple[Says, ...]
    found: FoundRate
    overrun: Overrun
    criticality: tuple[JobCritical, ...]
    to_move: Moved
    burn_up: BurnUp
