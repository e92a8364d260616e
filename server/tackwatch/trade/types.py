"""The things that the arithmetic takes and gives: frozen, and free to import from anywhere.

Rules
-----
* Names are the names of the JSON. Units stand last, instants end in `_at` (aware, UTC).
* A stage is named by one of `STAGES`. Each says whether something *opens* (a person may go on) or
  *closes* (a person must have gone on). What closes is governed by the fast edge of the
  temperature band and what opens by the slow edge: a person is called too early to what ends,
  and never too early to what begins.
* `basis` says what the answer rests on, from good to poor: the data sheet's own range, beyond it,
  or a rule of thumb. `stale` says that it leans on readings that are too old.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Final, Literal

Stage = Literal[
    "pot_life",
    "gel",
    "touch_dry",
    "recoat_opens",
    "recoat_closes",
    "sandable",
    "immerse_opens",
    "immerse_closes",
]
Kind = Literal["opens", "closes"]
Basis = Literal["data_sheet", "beyond", "rule_of_thumb"]

POT_STAGES: Final[tuple[Stage, ...]] = ("pot_life", "gel")
COAT_STAGES: Final[tuple[Stage, ...]] = (
    "touch_dry",
    "recoat_opens",
    "recoat_closes",
    "sandable",
    "immerse_opens",
    "immerse_closes",
)
STAGES: Final[tuple[Stage, ...]] = POT_STAGES + COAT_STAGES

KIND_OF: Final[Mapping[Stage, Kind]] = {
    "pot_life": "closes",
    "gel": "closes",
    "touch_dry": "opens",
    "recoat_opens": "opens",
    "recoat_closes": "closes",
    "sandable": "opens",
    "immerse_opens": "opens",
    "immerse_closes": "closes",
}

BASES: Final[tuple[Basis, ...]] = ("data_sheet", "beyond", "rule_of_thumb")


def worst_basis(*bases: Basis) -> Basis:
    """Give the poorest of the bases, `data_sheet` when there are none."""
    return max(bases, key=BASES.index, default="data_sheet")


@dataclass(frozen=True, slots=True)
class StagePoint:
    """One point of a data sheet: the stage is reached after `minutes` at a steady `temp_c`."""

    temp_c: float
    minutes: float


@dataclass(frozen=True, slots=True)
class HottestHourRow:
    """One row of a window table: the window closes `closes_minutes` after the coat when the
    highest temperature held for an hour lies in `from_c` to `to_c`."""

    from_c: float
    to_c: float
    closes_minutes: float


@dataclass(frozen=True, slots=True)
class Ratio:
    """Parts of base to parts of hardener."""

    base: float
    hardener: float


@dataclass(frozen=True, slots=True)
class CatalystRange:
    """Catalyst in percent of the resin's mass: the least, the usual and the most."""

    min_pct: float
    usual_pct: float
    max_pct: float


@dataclass(frozen=True, slots=True)
class InductionBand:
    """A mix of `from_c` to `to_c` (None: and warmer) stands for `minutes` before it is used."""

    from_c: float
    to_c: float | None
    minutes: float


@dataclass(frozen=True, slots=True)
class Mix:
    """How a product is mixed; what does not apply is None."""

    by_mass: Ratio | None = None
    by_volume: Ratio | None = None
    catalyst: CatalystRange | None = None
    induction_minutes: float | None = None
    pot_reference_kg: float | None = None
    induction_by_temp: tuple[InductionBand, ...] = ()


@dataclass(frozen=True, slots=True)
class Limits:
    """The air and surface in which the product may be used; what the sheet leaves out is None."""

    temp_min_c: float | None = None
    temp_max_c: float | None = None
    rh_max_pct: float | None = None
    dew_margin_min_c: float | None = None


@dataclass(frozen=True, slots=True)
class Soak:
    """A temperature that is held for a time."""

    temp_c: float
    minutes: float


@dataclass(frozen=True, slots=True)
class PostCure:
    """Warming after the cure: how fast it may warm, and what is held, one after the other."""

    ramp_k_h: float
    soaks: tuple[Soak, ...]


@dataclass(frozen=True, slots=True)
class Profile:
    """A product's numbers. `typical` marks values that a data sheet must replace.

    `compatibility` names what it is made of where its class does not say it.
    """

    id: str
    version: int
    product_class: str
    name: Mapping[str, str]
    typical: bool
    basis_note: str
    stages: Mapping[Stage, tuple[StagePoint, ...]]
    closes_by_hottest_hour: tuple[HottestHourRow, ...] = ()
    mix: Mix = field(default_factory=Mix)
    density_kg_l: float | None = None
    solids_by_volume_pct: float | None = None
    film_um: float | None = None
    limits: Limits = field(default_factory=Limits)
    sanding_after_missed_minutes_per_m2: float | None = None
    cautions: tuple[str, ...] = ()
    compatibility: str | None = None
    post_cure: PostCure | None = None


@dataclass(frozen=True, slots=True)
class Reading:
    """What a meter showed; each value is optional, the instant is not."""

    at: datetime
    air_c: float | None = None
    surface_c: float | None = None
    rh_pct: float | None = None


@dataclass(frozen=True, slots=True)
class DailyCurve:
    """The refit's usual day: a cosine from `min_c` to `max_c`, warmest at `hour_of_max` (local)."""

    min_c: float
    max_c: float
    hour_of_max: float
    utc_offset_s: float


@dataclass(frozen=True, slots=True)
class Knot:
    """A corner of the temperature track; `measured` speaks of the piece that ends here."""

    at_s: float
    temp_c: float
    measured: bool


@dataclass(frozen=True, slots=True)
class Track:
    """Temperature against time, in straight pieces.

    The knots from `repeats_from` to the last one are repeated for ever: the day that the forecast
    expects. `last_reading_at_s` is None when nothing was measured.
    """

    knots: tuple[Knot, ...]
    repeats_from: int
    last_reading_at_s: float | None


@dataclass(frozen=True, slots=True)
class Band:
    """Half the width of the temperature band, in kelvin, where measured and where forecast."""

    measured_k: float = 1.0
    forecast_k: float = 3.0


@dataclass(frozen=True, slots=True)
class Coat:
    """An application: paint or resin on a zone from `start_at` to `end_at` (None: still going)."""

    id: str
    profile: Profile
    start_at: datetime
    end_at: datetime | None = None


@dataclass(frozen=True, slots=True)
class Pot:
    """A mix: stirred at an instant, with its own temperature and mass where they are known."""

    id: str
    profile: Profile
    stirred_at: datetime
    temp_c: float | None = None
    mass_kg: float | None = None


@dataclass(frozen=True, slots=True)
class Clock:
    """When a stage is reached, and how sure that is.

    `at` follows the temperatures as they stand, `fast_at` and `slow_at` the edges of the band;
    `governing_at` is the edge a person is told (closes: fast, opens: slow). An instant is None when
    it lies beyond the horizon. `last_start_at` is the latest start of the next coat on its path
    (recoat_closes) or the latest immersion (immerse_closes), on the fast edge.
    """

    source_id: str
    stage: Stage
    kind: Kind
    at: datetime | None
    fast_at: datetime | None
    slow_at: datetime | None
    governing_at: datetime | None
    last_start_at: datetime | None
    basis: Basis
    stale: bool
    reasons: tuple[str, ...]
