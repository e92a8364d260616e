"""The sums around the cure: a missed window, a post-cure, and when the boat may float.

Source
------
See `trade.missed_window`, `trade.post_cure` and `trade.immersion`.
"""

from dataclasses import dataclass, field
from datetime import datetime
from typing import Final

from tackwatch.trade.compatibility_table import Material
from tackwatch.trade.immersion import Immersion, ImmersionCoat, immersion
from tackwatch.trade.laminate import AREA_MAX_M2
from tackwatch.trade.missed_window import (
    CLEAN_MINUTES_PER_M2,
    MINUTES_PER_M2_MAX,
    MissedWindow,
    missed_window,
)
from tackwatch.trade.post_cure import SOAKS_MAX_N, PostCurePlan, post_cure_plan
from tackwatch.trade.sums.compatibility import TACK_WORDS
from tackwatch.trade.sums.described import described
from tackwatch.trade.sums.sum import Sum, note, quantity
from tackwatch.trade.types import PostCure, Soak

WORDS: Final = {
    "steps": "Steps to put before the next coat, in order",
    "or_else": "Another way to the same end",
    "labour_h": "Labour in hours, null when it is not known",
    **TACK_WORDS,
    "kind": "Kind of the step, or of the part",
    "title_key": "Key of the step's title",
    "material": "What the step lays, null when it lays nothing",
    "legs": "The parts of the timetable, in order",
    "from_at": "When the part begins",
    "to_at": "When the part ends",
    "from_c": "Temperature at its beginning",
    "to_c": "Temperature at its end",
    "held_minutes": "Time that is held warm in all",
    "hottest_c": "The warmest that is held",
    "ends_at": "When it is cool again",
    "state": "open, not_yet, past, conflict, or unknown",
    "opens_at": "When every coat has hardened, null when one is not known",
    "opens_by": "The coat that opens last",
    "closes_at": "The latest launch, null when nothing closes",
    "closes_by": "The coat that closes first",
    "unknown": "Coats whose hardening is not known",
    "launch": "Whether the launch fits, null when none was given",
}
PER_M2: Final = {"least": 0.0, "most": MINUTES_PER_M2_MAX}


@dataclass(frozen=True, slots=True)
class MissedTakes:
    """A coat whose recoat window has closed."""

    under: Material = field(metadata=note("The material whose window has closed"))
    area_m2: float | None = field(
        default=None, metadata=quantity("m2", "Area", least=0.0, most=AREA_MAX_M2)
    )
    sand_minutes_per_m2: float | None = field(
        default=None, metadata=quantity("min/m2", "Sanding after a missed window", **PER_M2)
    )
    over: Material | None = field(
        default=None, metadata=note("What is to go on; the same material when null")
    )
    clean_minutes_per_m2: float = field(
        default=CLEAN_MINUTES_PER_M2, metadata=quantity("min/m2", "Washing and wiping", **PER_M2)
    )


@dataclass(frozen=True, slots=True)
class SoakTakes:
    """A temperature that is held."""

    temp_c: float = field(metadata=quantity("degC", "What is held", least=-50.0, most=250.0))
    minutes: float = field(metadata=quantity("min", "For how long", least=0.001, most=525_600.0))


@dataclass(frozen=True, slots=True)
class PostCureTakes:
    """A post-cure that is to begin."""

    ramp_k_h: float = field(metadata=quantity("K/h", "Rate of warming", least=0.1, most=600.0))
    soaks: tuple[SoakTakes, ...] = field(
        metadata=note("What is held, one after the other", fewest=1, at_most=SOAKS_MAX_N)
    )
    start_at: datetime = field(metadata=note("When it begins"))
    start_c: float = field(metadata=quantity("degC", "How warm it is", least=-50.0, most=150.0))


@dataclass(frozen=True, slots=True)
class CoatTakes:
    """A coat under water."""

    source_id: str = field(metadata=note("Name of the coat"))
    opens_at: datetime | None = field(
        default=None, metadata=note("When it has hardened, on the careful edge; null: not known")
    )
    closes_at: datetime | None = field(
        default=None, metadata=note("Its latest immersion; null: never closes")
    )


@dataclass(frozen=True, slots=True)
class ImmersionTakes:
    """The coats of a boat under water."""

    coats: tuple[CoatTakes, ...] = field(metadata=note("Each coat", fewest=1, at_most=500))
    now_at: datetime = field(metadata=note("When it is asked"))
    launch_at: datetime | None = field(default=None, metadata=note("The booked launch"))


def _missed(given: MissedTakes) -> MissedWindow:
    return missed_window(
        under=given.under,
        area_m2=given.area_m2,
        sand_minutes_per_m2=given.sand_minutes_per_m2,
        over=given.over,
        clean_minutes_per_m2=given.clean_minutes_per_m2,
    )


def _post_cure(given: PostCureTakes) -> PostCurePlan:
    soaks = tuple(Soak(one.temp_c, one.minutes) for one in given.soaks)
    return post_cure_plan(PostCure(given.ramp_k_h, soaks), given.start_at, given.start_c)


def _immersion(given: ImmersionTakes) -> Immersion:
    coats = [ImmersionCoat(one.source_id, one.opens_at, one.closes_at) for one in given.coats]
    return immersion(coats, given.now_at, given.launch_at)


SUMS: Final = (
    Sum(
        "missed_window",
        "cure",
        "What a missed recoat window asks for before the next coat, and its labour.",
        MissedTakes,
        described(MissedWindow, WORDS),
        _missed,
        "MIL-HDBK-1110 2.2.3b, 2.3.4; minutes from the profile, cleaning common practice, no source",
        ("dust",),
    ),
    Sum(
        "post_cure",
        "cure",
        "The timetable of a post-cure.",
        PostCureTakes,
        described(PostCurePlan, WORDS),
        _post_cure,
        "Arithmetic; that heat is brought on slowly is common practice, no source",
        ("solvents",),
    ),
    Sum(
        "immersion_window",
        "cure",
        "When a boat may float, by all of her coats.",
        ImmersionTakes,
        described(Immersion, WORDS),
        _immersion,
        "Our own caution: the latest coat opens, the earliest closes",
    ),
)
