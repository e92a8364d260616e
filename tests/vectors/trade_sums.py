"""The sums called by name with plain JSON: what the shared vectors need on this side.

In: `{fn, input}`, instants as ISO text. Out: `{output}`, or `{error: {field}}` for what is refused.
A name that is not among these is that of a sum of the register.
"""

from collections.abc import Callable, Mapping
from dataclasses import fields, is_dataclass
from datetime import datetime
from typing import Any

from tackwatch.trade import air, arrhenius, cure, dose, mix, steps, temperature, types, warnings
from tackwatch.trade.errors import TradeError
from tackwatch.trade.instants import seconds_of
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.sums.registry import calculate

Json = Any


def answer(case: Mapping[str, Json]) -> dict[str, Json]:
    """Call a sum by its name; what it refuses comes back as an error with its field."""
    called = FUNCTIONS.get(case["fn"])
    try:
        if called is None:
            return {"output": calculate(case["fn"], case["input"])}
        return {"output": as_json(called(case["input"]))}
    except TradeError as error:
        return {"error": {"field": error.field}}


def as_json(value: object) -> Json:
    """Write dataclasses, tuples and instants as plain JSON."""
    if isinstance(value, datetime):
        return warnings.iso_of(value)
    if is_dataclass(value):
        return {field.name: as_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [as_json(item) for item in value]
    if isinstance(value, Mapping):
        return {name: as_json(item) for name, item in value.items()}
    return value


def instant(text: str | None) -> datetime | None:
    return None if text is None else datetime.fromisoformat(text)


def made(kind: type, data: Mapping[str, Json], **given: Json) -> Json:
    """Make a dataclass from JSON, its instants read, some fields given ready."""
    plain = {
        name: instant(value) if is_instant(name) else value
        for name, value in data.items()
        if name not in given
    }
    return kind(**plain, **given)


def is_instant(name: str) -> bool:
    return name == "at" or name.endswith("_at") or name == "useless_after"


def track(data: Mapping[str, Json]) -> types.Track:
    from_at = instant(data["track_from_at"])
    if "steady_c" in data:
        return temperature.steady_track(data["steady_c"], from_at)
    readings = [made(types.Reading, reading) for reading in data.get("readings", [])]
    return temperature.track_of(readings, types.DailyCurve(**data["curve"]), from_at)


def points(data: Mapping[str, Json]) -> list[types.StagePoint]:
    return [types.StagePoint(**point) for point in data["points"]]


def band(data: Mapping[str, Json]) -> types.Band:
    return types.Band(**data.get("band", {}))


def clock(data: Mapping[str, Json]) -> types.Clock:
    return made(types.Clock, data, reasons=tuple(data["reasons"]))


def mixed(data: Mapping[str, Json]) -> types.Mix:
    given = data["mix"]
    kinds = {"by_mass": types.Ratio, "by_volume": types.Ratio, "catalyst": types.CatalystRange}
    return types.Mix(
        **{
            name: kinds[name](**value) if name in kinds and value is not None else value
            for name, value in given.items()
        }
    )


def timing(data: Mapping[str, Json]) -> dict[str, Json]:
    stale = {"stale_after_s": data["stale_after_s"]} if "stale_after_s" in data else {}
    return {"track": track(data), "now_at": instant(data["now_at"]), "band": band(data), **stale}


def coat_clock(data: Mapping[str, Json]) -> Json:
    coat = made(types.Coat, data["coat"], profile=parse_profile(data["coat"]["profile"]))
    return cure.coat_clock(coat, **timing(data))


def pot_clock(data: Mapping[str, Json]) -> Json:
    pot = made(types.Pot, data["pot"], profile=parse_profile(data["pot"]["profile"]))
    return cure.pot_clock(pot, **timing(data))


def reach(data: Mapping[str, Json]) -> Json:
    return dose.reach(
        points(data),
        track(data),
        seconds_of(instant(data["start_at"])),
        data.get("edge", 0.0),
        band(data),
        data.get("horizon_s", dose.HORIZON_S),
    )


def warnings_of(data: Mapping[str, Json]) -> Json:
    leads = warnings.Leads(**data["leads"]) if "leads" in data else None
    return warnings.warnings_of([clock(one) for one in data["clocks"]], leads)


def what_moved(data: Mapping[str, Json]) -> Json:
    before, after = (
        [made(warnings.Warning, one) for one in data[name]] for name in ("before", "after")
    )
    more = {"more_than_s": data["more_than_s"]} if "more_than_s" in data else {}
    return warnings.what_moved(before, after, **more)


def step_state(data: Mapping[str, Json]) -> Json:
    marks = tuple(made(steps.Mark, mark) for mark in data.get("marks", []))
    before = tuple(made(steps.LinkFacts, link) for link in data.get("before", []))
    return steps.step_state(made(steps.StepFacts, data, marks=marks, before=before))


FUNCTIONS: dict[str, Callable[[Mapping[str, Json]], Json]] = {
    "dew_point_c": lambda data: air.dew_point_c(**data),
    "dew_margin_c": lambda data: air.dew_margin_c(**data),
    "stage_time": lambda data: arrhenius.stage_time(points(data), data["temp_c"]),
    "track_of": track,
    "reach": reach,
    "coat_clock": coat_clock,
    "pot_clock": pot_clock,
    "clocks_of_group": lambda data: cure.clocks_of_group(
        data["source_id"], [[clock(one) for one in member] for member in data["members"]]
    ),
    "warnings_of": warnings_of,
    "what_moved": what_moved,
    "step_state": step_state,
    "hardener_kg": lambda data: mix.hardener_kg(mixed(data), data["base_kg"]),
    "hardener_l": lambda data: mix.hardener_l(mixed(data), data["base_l"]),
    "parts_by_mass": lambda data: mix.parts_by_mass(mixed(data), data["total_kg"]),
    "parts_by_volume": lambda data: mix.parts_by_volume(mixed(data), data["total_l"]),
    "catalyst_kg": lambda data: mix.catalyst_kg(
        mixed(data), data["resin_kg"], data.get("catalyst_pct")
    ),
}
