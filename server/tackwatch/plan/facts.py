"""The refit as the planner sees it: who is there when, what is to be done, what has been laid, how warm it is.

Rules
-----
* All defaults are taken before: a member's hours are their own or the refit's, a step's zone is its
  job's, its skills are all that it asks for.
* Instants are aware. Days off are whole local days, both ends with.
* The state of a step is that of `trade.steps`; its clocks are those that phones show, so that the
  plan and the phones speak of one cure.
* What is past and has nothing to do with what is left may be left out.
"""

from dataclasses import dataclass, field
from datetime import date, datetime, time
from typing import Final

from tackwatch.trade.steps import State
from tackwatch.trade.types import Band, Clock, Profile, Track

WEEKDAYS: Final = frozenset(range(1, 8))


@dataclass(frozen=True, slots=True)
class DaysOff:
    """Local days on which somebody is away, or the yard is closed; both ends with."""

    from_on: date
    to_on: date


@dataclass(frozen=True, slots=True)
class Member:
    """Somebody who works on the boat.

    Attributes
    ----------
    day_starts, day_ends
        Local times; an end at or before the start is on the next day.
    work_days
        ISO weekdays, 1 is Monday.
    """

    id: str
    day_starts: time = time(8)
    day_ends: time = time(17)
    work_days: frozenset[int] = frozenset(range(1, 6))
    skills: frozenset[str] = frozenset()
    away: tuple[DaysOff, ...] = ()


@dataclass(frozen=True, slots=True)
class Zone:
    """A part of the boat: how many people it holds at once (None: any), and its area."""

    id: str
    holds: int | None = None
    area_m2: float | None = None


@dataclass(frozen=True, slots=True)
class Laid:
    """What has been laid of a step's coat.

    Attributes
    ----------
    start_at, end_at
        Of all its applications together; an end of None: somebody is at it.
    clocks
        Of all of them together, careful side first.
    labour_h
        Person-hours that they took; None: the step's crew from the start to the end.
    area_m2
        What they cover together; None: not every one of them says.
    """

    start_at: datetime
    end_at: datetime | None
    clocks: tuple[Clock, ...] = ()
    labour_h: float | None = None
    area_m2: float | None = None


@dataclass(frozen=True, slots=True)
class ToldPiece:
    """What people were told of a step, or of a piece of it."""

    start_at: datetime
    end_at: datetime
    member_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RefitStep:
    """A step of a job.

    Attributes
    ----------
    labour_h
        Person-hours that were estimated (None: nobody did); of a wait, hours that go by.
    worked_h
        Person-hours that were logged.
    skills
        All of which each of its people must have.
    area_m2
        What is worked on, for the labour of a missed window; None: the zone's area.
    assignees
        Who was named for it.
    expected_at
        When what it is held for is expected; None: nobody knows.
    started_at
        When it was last said to have begun; counts for what goes on by itself.
    finished_at
        From when the gaps after it count: the end of its coat, else its tick.
    at_it
        Who lays its coat right now.
    told
        What people were told last, one entry for each piece, in order.
    """

    id: str
    job_id: str
    kind: str
    state: State = "waiting"
    zone_id: str | None = None
    labour_h: float | None = None
    worked_h: float = 0.0
    crew_size: int = 1
    skills: frozenset[str] = frozenset()
    profile: Profile | None = None
    area_m2: float | None = None
    assignees: tuple[str, ...] = ()
    afloat_ok: bool = False
    weather_open: bool = False
    held: bool = False
    expected_at: datetime | None = None
    started_at: datetime | None = None
    finished_at: datetime | None = None
    laid: Laid | None = None
    at_it: tuple[str, ...] = ()
    told: tuple[ToldPiece, ...] = ()


@dataclass(frozen=True, slots=True)
class RefitLink:
    """That a step comes after another: `by_cure` by the window of its coat, and gaps besides."""

    step_id: str
    after_id: str
    min_gap_s: float = 0.0
    max_gap_s: float | None = None
    by_cure: bool = False


@dataclass(frozen=True, slots=True)
class Facts:
    """All that a plan is made from.

    Attributes
    ----------
    now_at
        The instant of the question: nothing is planned before.
    time_zone
        An IANA name: hours and days are those of this zone.
    track
        The temperature from the start of the earliest coat that is still being laid, or from now, on.
    closed
        Days on which the yard is closed to all.
    """

    now_at: datetime
    launch_at: datetime
    time_zone: str
    track: Track
    members: tuple[Member, ...]
    steps: tuple[RefitStep, ...]
    links: tuple[RefitLink, ...] = ()
    zones: tuple[Zone, ...] = ()
    closed: tuple[DaysOff, ...] = ()
    band: Band = field(default_factory=Band)
