"""The sum that says whether a coat may go on now, from readings, the product and what lies below.

Source
------
See `trade.readiness`.
"""

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from tackwatch.trade.compatibility_table import Ground, Material, SurfaceState
from tackwatch.trade.job_order import StepKind
from tackwatch.trade.laminate import AREA_MAX_M2
from tackwatch.trade.laminating_air import laminating_air
from tackwatch.trade.readiness import Below, CoatFacts, Owed, Readiness, may_coat_now
from tackwatch.trade.readiness_air import latest_air
from tackwatch.trade.readiness_laminating import LAMINATES
from tackwatch.trade.sums.compatibility import TACK_WORDS
from tackwatch.trade.sums.described import described
from tackwatch.trade.sums.sum import Metadata, Sum, note, quantity
from tackwatch.trade.temperature import FIT_OVER_S, track_of
from tackwatch.trade.types import DailyCurve, Limits, Reading, StagePoint

WORDS: Final = {
    "answer": "yes, not_yet or no",
    "until_at": "Last good instant of a yes, first expected one of a not_yet; null when not known",
    "rules": "Every rule with its outcome",
    "rule": "Name of the rule",
    "outcome": "ok, wait, no, unknown, not_checked, or advice, which changes no answer",
    "code": "Why",
    "source": "Where the rule comes from",
    "params": "What a sentence about it needs",
    "do_first": "Steps to do first, in order",
    "or_else": "Another way to the same end",
    "kind": "Kind of the step",
    "title_key": "Key of the step's title",
    "material": "What the step lays, null when it lays nothing",
    "labour_h": "Labour, null when it is not known",
    **TACK_WORDS,
}


def _temp(about: str) -> Metadata:
    return quantity("degC", about, least=-45.0, most=150.0)


def _at(about: str) -> Metadata:
    return note(f"{about}; null: not known")


@dataclass(frozen=True, slots=True)
class PointTakes:
    """A point of the data sheet."""

    temp_c: float = field(metadata=_temp("Steady temperature"))
    minutes: float = field(metadata=quantity("min", "Time to touch-dry", above=0.0, most=1e6))


@dataclass(frozen=True, slots=True)
class LimitsTakes:
    """The air and surface in which the product may be used."""

    temp_min_c: float | None = field(default=None, metadata=_temp("Least temperature"))
    temp_max_c: float | None = field(default=None, metadata=_temp("Highest temperature"))
    rh_max_pct: float | None = field(
        default=None, metadata=quantity("%", "Highest humidity", least=1.0, most=100.0)
    )
    dew_margin_min_c: float | None = field(
        default=None, metadata=quantity("K", "Surface above the dew point", least=0.0, most=20.0)
    )


@dataclass(frozen=True, slots=True)
class ReadingTakes:
    """What a meter showed."""

    at: datetime = field(metadata=note("When"))
    air_c: float | None = field(default=None, metadata=_temp("Air"))
    surface_c: float | None = field(default=None, metadata=_temp("Surface"))
    rh_pct: float | None = field(
        default=None, metadata=quantity("%", "Relative humidity", least=0.0, most=100.0)
    )


@dataclass(frozen=True, slots=True)
class CurveTakes:
    """The usual day."""

    min_c: float = field(default=10.0, metadata=_temp("Usual minimum"))
    max_c: float = field(default=20.0, metadata=_temp("Usual maximum"))
    hour_of_max: float = field(
        default=15.0, metadata=quantity("h", "Local hour of the maximum", least=0.0, below=24.0)
    )
    utc_offset_s: float = field(
        default=0.0, metadata=quantity("s", "Local time less UTC", least=-64800.0, most=64800.0)
    )


@dataclass(frozen=True, slots=True)
class BelowTakes:
    """What lies below."""

    material: Ground | None = field(default=None, metadata=note("Material; null: not known"))
    state: SurfaceState | None = field(
        default=None, metadata=note("State where it was prepared; worked out when null")
    )
    ended: bool = field(default=True, metadata=note("Whether the end of that coat was logged"))
    touch_dry_at: datetime | None = field(default=None, metadata=_at("When it is touch-dry"))
    opens_at: datetime | None = field(default=None, metadata=_at("When its window opens"))
    closes_at: datetime | None = field(
        default=None, metadata=_at("Latest start of the next coat in its window")
    )
    sand_minutes_per_m2: float | None = field(
        default=None, metadata=quantity("min/m2", "Sanding it", least=0.0, most=1440.0)
    )


@dataclass(frozen=True, slots=True)
class OwedTakes:
    """A step that must come before and is not done."""

    step_id: str = field(metadata=note("The step"))
    kind: str = field(metadata=note("Its kind"))
    until_at: datetime | None = field(
        default=None, metadata=note("When it lets on by itself; null: work is lacking")
    )


@dataclass(frozen=True, slots=True)
class ReadinessTakes:
    """All that the question needs."""

    now_at: datetime = field(metadata=note("When it is asked"))
    over: Material | None = field(default=None, metadata=note("What is to go on"))
    limits: LimitsTakes = field(default_factory=LimitsTakes, metadata=note("The product's limits"))
    touch_dry: tuple[PointTakes, ...] = field(
        default=(), metadata=note("Time to touch-dry by temperature, rising", at_most=20)
    )
    readings: tuple[ReadingTakes, ...] = field(
        default=(), metadata=note("What was measured, in any order", at_most=1000)
    )
    curve: CurveTakes = field(default_factory=CurveTakes, metadata=note("The usual day"))
    below: BelowTakes | None = field(
        default=None, metadata=note("What lies below; null: nothing that is known")
    )
    owed: tuple[OwedTakes, ...] = field(default=(), metadata=note("Steps that are owed"))
    held_reason: str | None = field(default=None, metadata=note("Why it is held; null: it is not"))
    coat_s: float = field(
        default=0.0, metadata=quantity("s", "How long the coat takes", least=0.0, most=86400.0)
    )
    area_m2: float | None = field(
        default=None, metadata=quantity("m2", "Area", least=0.0, most=AREA_MAX_M2)
    )
    kind: StepKind | None = field(default=None, metadata=note("Kind of the step; null: not known"))
    spray: bool = field(default=False, metadata=note("Whether the resin is sprayed"))
    tack: bool = field(default=False, metadata=note("Whether it is a tack coat"))


def _ready(given: ReadinessTakes) -> Readiness:
    readings = [Reading(one.at, one.air_c, one.surface_c, one.rh_pct) for one in given.readings]
    known = [one for one in readings if one.at <= given.now_at]
    curve, limits, below = given.curve, given.limits, given.below
    day = DailyCurve(curve.min_c, curve.max_c, curve.hour_of_max, curve.utc_offset_s)
    facts = CoatFacts(
        now_at=given.now_at,
        over=given.over,
        limits=Limits(
            limits.temp_min_c, limits.temp_max_c, limits.rh_max_pct, limits.dew_margin_min_c
        ),
        touch_dry=tuple(StagePoint(one.temp_c, one.minutes) for one in given.touch_dry),
        air=latest_air(known),
        below=None if below is None else _below(below),
        owed=tuple(Owed(one.step_id, one.kind, one.until_at) for one in given.owed),
        held_reason=given.held_reason,
        coat_s=given.coat_s,
        area_m2=given.area_m2,
        laminating=laminating_air(known, given.now_at, given.spray)
        if given.kind in LAMINATES
        else None,
        tack=given.tack,
    )
    recent = [one for one in known if one.at >= given.now_at - timedelta(seconds=FIT_OVER_S)]
    return may_coat_now(facts, track_of(recent, day, given.now_at))


def _below(given: BelowTakes) -> Below:
    return Below(
        material=given.material,
        state=given.state,
        ended=given.ended,
        touch_dry_at=given.touch_dry_at,
        opens_at=given.opens_at,
        closes_at=given.closes_at,
        sand_minutes_per_m2=given.sand_minutes_per_m2,
    )


SUMS: Final = (
    Sum(
        "may_coat_now",
        "readiness",
        "Whether a coat may go on now, until when, and what to do first.",
        ReadinessTakes,
        described(Readiness, WORDS),
        _ready,
        "ISO 8502-4 (3 K, from memory); MIL-HDBK-1110 7.4.1; the table; FRP rules, 102.2-4; "
        "the data sheet before all",
        ("solvents", "skin_sensitising"),
    ),
)
