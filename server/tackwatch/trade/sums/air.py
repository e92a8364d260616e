"""The sums about the air: dew point, wet bulb, humidity, and the margin of the surface.

Source
------
See `trade.air`, `trade.psychrometer` and `trade.surface`.
"""

from dataclasses import dataclass, field
from typing import Final

from tackwatch.trade import psychrometer, surface
from tackwatch.trade.air import AIR_MAX_C, AIR_MIN_C, RH_MAX_PCT, dew_point_c
from tackwatch.trade.sums.sum import Basis, Metadata, Sum, measured, note, quantity

SURFACE: Final = quantity("degC", "Temperature of the surface", least=AIR_MIN_C, most=120.0)
AIR: Final = quantity("degC", "Temperature of the air", least=AIR_MIN_C, most=AIR_MAX_C)
HUMIDITY: Final = quantity("%", "Relative humidity of the air", above=0.0, most=RH_MAX_PCT)
PRESSURE: Final = quantity("hPa", "Pressure of the air", least=500.0, most=1100.0)
RULE: Final = quantity("K", "Margin that the data sheet asks for", least=0.0, most=20.0)
DEW: Final[Metadata] = measured("degC", "Dew point of the air")
MARGIN: Final[Metadata] = measured("K", "How far the surface lies above the dew point")
MAGNUS: Final = "Magnus formula with the constants of WMO-No. 8 (after Sonntag 1990)"
BULBS: Final = (
    "Energy balance of the wet bulb, ASHRAE Handbook Fundamentals; vapour as in WMO-No. 8"
)
RULES: Final = (
    "3 K: attributed to ISO 8502-4, from memory. 5 degF and the temperatures: UFC 3-190-06 "
    "(MIL-HDBK-1110), 9.6.6 and 7.4.1"
)


@dataclass(frozen=True, slots=True)
class AirTakes:
    """Air as a meter shows it."""

    air_c: float = field(metadata=AIR)
    rh_pct: float = field(metadata=HUMIDITY)


@dataclass(frozen=True, slots=True)
class DewPointGives:
    """Where that air begins to wet a surface."""

    dew_point_c: float = field(metadata=DEW)


@dataclass(frozen=True, slots=True)
class DewPointKnown:
    """Air whose dew point is known."""

    air_c: float = field(metadata=AIR)
    dew_point_c: float = field(
        metadata=quantity("degC", "Dew point", least=AIR_MIN_C, most=AIR_MAX_C)
    )


@dataclass(frozen=True, slots=True)
class HumidityGives:
    """How damp the air is."""

    rh_pct: float = field(metadata=measured("%", "Relative humidity of the air"))


@dataclass(frozen=True, slots=True)
class WetBulbTakes:
    """Air as a meter shows it, and its pressure."""

    air_c: float = field(metadata=AIR)
    rh_pct: float = field(metadata=HUMIDITY)
    pressure_hpa: float = field(default=psychrometer.STANDARD_HPA, metadata=PRESSURE)


@dataclass(frozen=True, slots=True)
class WetBulbGives:
    """What a wet wick in that air shows."""

    wet_bulb_c: float = field(metadata=measured("degC", "Temperature of a wet wick"))
    basis: Basis = field(metadata=note("What the answer rests on"))
    reasons: tuple[str, ...] = field(metadata=note("Codes: below_freezing"))


@dataclass(frozen=True, slots=True)
class BulbsTakes:
    """The two bulbs of a psychrometer, and the pressure of the air."""

    dry_bulb_c: float = field(metadata=quantity("degC", "Dry bulb", least=0.0, most=AIR_MAX_C))
    wet_bulb_c: float = field(metadata=quantity("degC", "Wet bulb", least=0.0, most=AIR_MAX_C))
    pressure_hpa: float = field(default=psychrometer.STANDARD_HPA, metadata=PRESSURE)


@dataclass(frozen=True, slots=True)
class BulbsGives:
    """How damp the air is, and where it wets a surface."""

    rh_pct: float = field(metadata=measured("%", "Relative humidity of the air"))
    dew_point_c: float = field(metadata=DEW)


@dataclass(frozen=True, slots=True)
class MarginTakes:
    """Surface and air as meters show them."""

    surface_c: float = field(metadata=SURFACE)
    air_c: float = field(metadata=AIR)
    rh_pct: float = field(metadata=HUMIDITY)


@dataclass(frozen=True, slots=True)
class MarginGives:
    """The margin, whether it keeps the two rules, and what the surface would have to be."""

    dew_point_c: float = field(metadata=DEW)
    margin_k: float = field(metadata=MARGIN)
    ok_3k: bool = field(metadata=note("At least 3 K above the dew point"))
    ok_5f: bool = field(metadata=note("At least 5 degF (2.78 K) above the dew point"))
    need_surface_3k_c: float = field(metadata=measured("degC", "Least surface by the 3 K rule"))
    need_surface_5f_c: float = field(metadata=measured("degC", "Least surface by the 5 degF rule"))
    reasons: tuple[str, ...] = field(metadata=note("Codes: surface_wet, below_5_f, below_3_k"))


@dataclass(frozen=True, slots=True)
class MarginThenTakes:
    """Surface and air now, and as they are forecast for when the paint is touch-dry."""

    surface_c: float = field(metadata=SURFACE)
    air_c: float = field(metadata=AIR)
    rh_pct: float = field(metadata=HUMIDITY)
    surface_then_c: float = field(metadata={**SURFACE, "about": "Surface when touch-dry"})
    air_then_c: float = field(metadata={**AIR, "about": "Air when touch-dry"})
    rh_then_pct: float | None = field(
        default=None, metadata={**HUMIDITY, "about": "Humidity when touch-dry, where forecast"}
    )
    rule_k: float = field(default=surface.RULE_3K, metadata=RULE)


@dataclass(frozen=True, slots=True)
class MarginThenGives:
    """Both margins, the smaller one, and whether it keeps the rule."""

    margin_now_k: float = field(metadata=MARGIN)
    margin_then_k: float = field(metadata=measured("K", "Margin when the paint is touch-dry"))
    dew_point_then_c: float = field(metadata=measured("degC", "Dew point when touch-dry"))
    least_margin_k: float = field(metadata=measured("K", "The smaller of the two margins"))
    ok: bool = field(metadata=note("Both margins keep the rule and no temperature forbids it"))
    reasons: tuple[str, ...] = field(
        metadata=note(
            "Codes: too_near_now, too_near_then, dew_point_held, colder_than_most_paints_allow, "
            "hotter_than_most_paints_allow, too_cold_before_dry"
        )
    )


def dew_point(given: AirTakes) -> DewPointGives:
    """Give the dew point of air."""
    return DewPointGives(dew_point_c(given.air_c, given.rh_pct))


def humidity_from_dew_point(given: DewPointKnown) -> HumidityGives:
    """Give the humidity of air whose dew point is known."""
    return HumidityGives(psychrometer.rh_of_dew_point_pct(given.air_c, given.dew_point_c))


def wet_bulb(given: WetBulbTakes) -> WetBulbGives:
    """Give the wet bulb of air."""
    wet_c = psychrometer.wet_bulb_c(given.air_c, given.rh_pct, given.pressure_hpa)
    if wet_c < 0.0:
        return WetBulbGives(wet_c, "beyond", ("below_freezing",))
    return WetBulbGives(wet_c, "formula", ())


def humidity_from_wet_bulb(given: BulbsTakes) -> BulbsGives:
    """Give the humidity and dew point from the two bulbs of a psychrometer."""
    dry_c = given.dry_bulb_c
    rh_pct = psychrometer.rh_of_wet_bulb_pct(dry_c, given.wet_bulb_c, given.pressure_hpa)
    return BulbsGives(rh_pct, dew_point_c(dry_c, rh_pct))


def surface_margin(given: MarginTakes) -> MarginGives:
    """Give the margin of the surface above the dew point, and what it keeps."""
    now = surface.margin(given.surface_c, given.air_c, given.rh_pct)
    return MarginGives(
        dew_point_c=now.dew_point_c,
        margin_k=now.margin_k,
        ok_3k=surface.keeps(now.margin_k, surface.RULE_3K),
        ok_5f=surface.keeps(now.margin_k, surface.RULE_5F_K),
        need_surface_3k_c=now.dew_point_c + surface.RULE_3K,
        need_surface_5f_c=now.dew_point_c + surface.RULE_5F_K,
        reasons=surface.why_not(now.margin_k),
    )


def margin_at_touch_dry(given: MarginThenTakes) -> MarginThenGives:
    """Give the margin now and when the paint is touch-dry."""
    now = surface.margin(given.surface_c, given.air_c, given.rh_pct)
    then_c = given.surface_then_c
    if given.rh_then_pct is None:
        then = surface.margin_held(then_c, min(now.dew_point_c, given.air_then_c))
    else:
        then = surface.margin(then_c, given.air_then_c, given.rh_then_pct)
    fails = [
        *([] if surface.keeps(now.margin_k, given.rule_k) else ["too_near_now"]),
        *([] if surface.keeps(then.margin_k, given.rule_k) else ["too_near_then"]),
        *surface.temperature_reasons((given.air_c, given.surface_c), (given.air_then_c, then_c)),
    ]
    held = ["dew_point_held"] if given.rh_then_pct is None else []
    return MarginThenGives(
        margin_now_k=now.margin_k,
        margin_then_k=then.margin_k,
        dew_point_then_c=then.dew_point_c,
        least_margin_k=min(now.margin_k, then.margin_k),
        ok=not fails,
        reasons=(*fails, *held),
    )


SUMS: Final = (
    Sum(
        "dew_point",
        "air",
        "At which temperature a surface gets wet from this air.",
        AirTakes,
        DewPointGives,
        dew_point,
        MAGNUS,
    ),
    Sum(
        "humidity_from_dew_point",
        "air",
        "How damp air is whose dew point is known.",
        DewPointKnown,
        HumidityGives,
        humidity_from_dew_point,
        MAGNUS,
    ),
    Sum(
        "wet_bulb",
        "air",
        "What the wet bulb of a psychrometer should show in this air.",
        WetBulbTakes,
        WetBulbGives,
        wet_bulb,
        BULBS,
    ),
    Sum(
        "humidity_from_wet_bulb",
        "air",
        "How damp the air is, from the two bulbs of a sling or fan psychrometer.",
        BulbsTakes,
        BulbsGives,
        humidity_from_wet_bulb,
        BULBS,
    ),
    Sum(
        "surface_margin",
        "air",
        "How far a surface lies above the dew point now, by the 3 K and the 5 degF rule.",
        MarginTakes,
        MarginGives,
        surface_margin,
        RULES,
    ),
    Sum(
        "margin_at_touch_dry",
        "air",
        "Whether the surface stays far enough above the dew point until the paint is touch-dry.",
        MarginThenTakes,
        MarginThenGives,
        margin_at_touch_dry,
        RULES,
    ),
)
