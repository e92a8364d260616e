"""Product profiles read from plain data, checked field by field, and written back.

Rules
-----
* Every error names its field as in the JSON (`stages.gel[1].minutes`); of a profile with one wrong
  field nothing is taken. A field that is not known is refused, so that a slip of the pen is not
  lost in silence.
* Times of a stage are above zero and do not rise with temperature: warmer is never slower. The rows
  of a window table follow one another upward, and their times do not rise either.
* A closing does not come before its opening at a temperature that both tables name.
* `compatibility`, `post_cure` and `mix.induction_by_temp` may be left out, as in every profile written
  before they existed.
* A name in English is required; a profile has at least one stage.
* `profile_as_dict` gives what `parse_profile` takes: reading back gives the same profile.

Source
------
Our own layout; the quantities are those that data sheets print, common practice, no source.
"""

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import fields
from itertools import pairwise
from typing import Any, Final, TypeVar

from tackwatch.trade.cautions import CAUTIONS
from tackwatch.trade.compatibility_table import MATERIALS
from tackwatch.trade.errors import ProfileError, TradeError
from tackwatch.trade.induction import check_bands
from tackwatch.trade.types import (
    STAGES,
    CatalystRange,
    HottestHourRow,
    InductionBand,
    Limits,
    Mix,
    PostCure,
    Profile,
    Ratio,
    Soak,
    Stage,
    StagePoint,
)

ID_PATTERN: Final = re.compile(r"[a-z0-9][a-z0-9_.-]{0,63}")
LANGUAGE_PATTERN: Final = re.compile(r"[a-z]{2}")
TEMP_MIN_C: Final = -50.0
TEMP_MAX_C: Final = 150.0
SOAK_MAX_C: Final = 250.0
SOAKS_MAX_N: Final = 20
BANDS_MAX_N: Final = 20
MINUTES_MAX: Final = 10.0 * 366.0 * 1440.0
WINDOWS: Final[tuple[tuple[Stage, Stage], ...]] = (
    ("recoat_opens", "recoat_closes"),
    ("immerse_opens", "immerse_closes"),
)
PROFILE_FIELDS: Final = frozenset(field.name for field in fields(Profile))

T = TypeVar("T")


def parse_profile(data: object) -> Profile:
    """Read a profile.

    Parameters
    ----------
    data : object
        What a JSON document holds.

    Raises
    ------
    ProfileError
        Naming the first field that cannot be used.

    Source
    ------
    See the head of the module.
    """
    record = _record(data, "profile", PROFILE_FIELDS)
    return Profile(
        id=_matching(record.get("id"), "id", ID_PATTERN),
        version=_whole(record.get("version"), "version"),
        product_class=_matching(record.get("product_class"), "product_class", ID_PATTERN),
        name=_names(record.get("name")),
        typical=_flag(record.get("typical"), "typical"),
        basis_note=_text(record.get("basis_note"), "basis_note"),
        stages=_stages(record.get("stages")),
        closes_by_hottest_hour=_rows(record.get("closes_by_hottest_hour", [])),
        mix=_mix(record.get("mix", {})),
        density_kg_l=_optional(record, "density_kg_l", _number, 0.05, 20.0),
        solids_by_volume_pct=_optional(record, "solids_by_volume_pct", _number, 1.0, 100.0),
        film_um=_optional(record, "film_um", _number, 1.0, 100_000.0),
        limits=_limits(record.get("limits", {})),
        sanding_after_missed_minutes_per_m2=_optional(
            record, "sanding_after_missed_minutes_per_m2", _number, 0.0, 1440.0
        ),
        cautions=_cautions(record.get("cautions", [])),
        compatibility=_material(record.get("compatibility")),
        post_cure=_post_cure(record.get("post_cure")),
    )


def profile_as_dict(profile: Profile) -> dict[str, Any]:
    """Write a profile as the plain data from which `parse_profile` reads the same one."""
    mix, limits = profile.mix, profile.limits
    return {
        "id": profile.id,
        "version": profile.version,
        "product_class": profile.product_class,
        "name": dict(profile.name),
        "typical": profile.typical,
        "basis_note": profile.basis_note,
        "stages": {
            stage: [_as_dict(point) for point in points] for stage, points in profile.stages.items()
        },
        "closes_by_hottest_hour": [_as_dict(row) for row in profile.closes_by_hottest_hour],
        "mix": _mix_as_dict(mix),
        "density_kg_l": profile.density_kg_l,
        "solids_by_volume_pct": profile.solids_by_volume_pct,
        "film_um": profile.film_um,
        "limits": _as_dict(limits),
        "sanding_after_missed_minutes_per_m2": profile.sanding_after_missed_minutes_per_m2,
        "cautions": list(profile.cautions),
        **_newer_as_dict(profile),
    }


def _mix_as_dict(mix: Mix) -> dict[str, Any]:
    written = {
        name: _as_dict(value) if isinstance(value, Ratio | CatalystRange) else value
        for name, value in _as_dict(mix).items()
        if name != "induction_by_temp"
    }
    if mix.induction_by_temp:
        written["induction_by_temp"] = [_as_dict(band) for band in mix.induction_by_temp]
    return written


def _newer_as_dict(profile: Profile) -> dict[str, Any]:
    """Give the fields that old readers do not know, only where there is something in them."""
    found: dict[str, Any] = {}
    if profile.compatibility is not None:
        found["compatibility"] = profile.compatibility
    if profile.post_cure is not None:
        soaks = [_as_dict(soak) for soak in profile.post_cure.soaks]
        found["post_cure"] = {"ramp_k_h": profile.post_cure.ramp_k_h, "soaks": soaks}
    return found


def _as_dict(value: Any) -> dict[str, Any]:
    return {field.name: getattr(value, field.name) for field in fields(value)}


def _stages(data: object) -> dict[Stage, tuple[StagePoint, ...]]:
    record = _record(data, "stages", frozenset(STAGES))
    if not record:
        raise ProfileError("stages", "a profile needs at least one stage")
    stages = {
        stage: _points(record[stage], f"stages.{stage}") for stage in STAGES if stage in record
    }
    for opens, closes in WINDOWS:
        _check_window(stages.get(opens, ()), stages.get(closes, ()), f"stages.{closes}")
    return stages


def _points(data: object, field: str) -> tuple[StagePoint, ...]:
    items = _list(data, field)
    if not items:
        raise ProfileError(field, "a stage needs at least one point")
    points = [_point(item, f"{field}[{i}]") for i, item in enumerate(items)]
    for i, (low, high) in enumerate(pairwise(points), start=1):
        if high.temp_c <= low.temp_c:
            raise ProfileError(f"{field}[{i}].temp_c", "temperatures must rise from point to point")
        if high.minutes > low.minutes:
            raise ProfileError(f"{field}[{i}].minutes", "warmer cannot take longer")
    return tuple(points)


def _point(data: object, field: str) -> StagePoint:
    record = _record(data, field, frozenset({"temp_c", "minutes"}))
    return StagePoint(
        temp_c=_number(record.get("temp_c"), f"{field}.temp_c", TEMP_MIN_C, TEMP_MAX_C),
        minutes=_minutes(record.get("minutes"), f"{field}.minutes"),
    )


def _check_window(opens: Sequence[StagePoint], closes: Sequence[StagePoint], field: str) -> None:
    opening = {point.temp_c: point.minutes for point in opens}
    for i, point in enumerate(closes):
        if point.minutes < opening.get(point.temp_c, 0.0):
            raise ProfileError(f"{field}[{i}].minutes", "closes before it opens")


def _rows(data: object) -> tuple[HottestHourRow, ...]:
    field = "closes_by_hottest_hour"
    rows = [_row(item, f"{field}[{i}]") for i, item in enumerate(_list(data, field))]
    for i, (low, high) in enumerate(pairwise(rows), start=1):
        if high.from_c < low.to_c:
            raise ProfileError(f"{field}[{i}].from_c", "rows must follow one another upward")
        if high.closes_minutes > low.closes_minutes:
            raise ProfileError(f"{field}[{i}].closes_minutes", "hotter cannot close later")
    return tuple(rows)


def _row(data: object, field: str) -> HottestHourRow:
    record = _record(data, field, frozenset({"from_c", "to_c", "closes_minutes"}))
    row = HottestHourRow(
        from_c=_number(record.get("from_c"), f"{field}.from_c", TEMP_MIN_C, TEMP_MAX_C),
        to_c=_number(record.get("to_c"), f"{field}.to_c", TEMP_MIN_C, TEMP_MAX_C),
        closes_minutes=_minutes(record.get("closes_minutes"), f"{field}.closes_minutes"),
    )
    if row.to_c <= row.from_c:
        raise ProfileError(f"{field}.to_c", "must lie above from_c")
    return row


def _mix(data: object) -> Mix:
    record = _record(data, "mix", frozenset(field.name for field in fields(Mix)))
    return Mix(
        by_mass=_ratio(record.get("by_mass"), "mix.by_mass"),
        by_volume=_ratio(record.get("by_volume"), "mix.by_volume"),
        catalyst=_catalyst(record.get("catalyst")),
        induction_minutes=_optional(record, "induction_minutes", _number, 0.0, 1440.0, "mix."),
        pot_reference_kg=_optional(record, "pot_reference_kg", _number, 0.001, 1000.0, "mix."),
        induction_by_temp=_bands(record.get("induction_by_temp", [])),
    )


def _bands(data: object) -> tuple[InductionBand, ...]:
    field = "mix.induction_by_temp"
    items = _list(data, field)
    if len(items) > BANDS_MAX_N:
        raise ProfileError(field, f"has at most {BANDS_MAX_N} bands")
    bands = tuple(_band(item, f"{field}[{i}]") for i, item in enumerate(items))
    try:
        check_bands(bands, field)
    except TradeError as error:
        raise ProfileError(error.field, error.message) from None
    return bands


def _band(data: object, field: str) -> InductionBand:
    record = _record(data, field, frozenset(one.name for one in fields(InductionBand)))
    return InductionBand(
        from_c=_number(record.get("from_c"), f"{field}.from_c", TEMP_MIN_C, TEMP_MAX_C),
        to_c=_optional(record, "to_c", _number, TEMP_MIN_C, TEMP_MAX_C, f"{field}."),
        minutes=_number(record.get("minutes"), f"{field}.minutes", 0.0, 1440.0),
    )


def _ratio(data: object, field: str) -> Ratio | None:
    if data is None:
        return None
    record = _record(data, field, frozenset({"base", "hardener"}))
    return Ratio(
        base=_number(record.get("base"), f"{field}.base", 1e-6, 1e6),
        hardener=_number(record.get("hardener"), f"{field}.hardener", 1e-6, 1e6),
    )


def _catalyst(data: object) -> CatalystRange | None:
    if data is None:
        return None
    field = "mix.catalyst"
    record = _record(data, field, frozenset(f.name for f in fields(CatalystRange)))
    low, usual, high = (
        _number(record.get(name), f"{field}.{name}", 0.01, 20.0)
        for name in ("min_pct", "usual_pct", "max_pct")
    )
    if not low <= usual <= high:
        raise ProfileError(f"{field}.usual_pct", "must lie between min_pct and max_pct")
    return CatalystRange(min_pct=low, usual_pct=usual, max_pct=high)


def _limits(data: object) -> Limits:
    record = _record(data, "limits", frozenset(field.name for field in fields(Limits)))
    limits = Limits(
        temp_min_c=_optional(record, "temp_min_c", _number, TEMP_MIN_C, TEMP_MAX_C, "limits."),
        temp_max_c=_optional(record, "temp_max_c", _number, TEMP_MIN_C, TEMP_MAX_C, "limits."),
        rh_max_pct=_optional(record, "rh_max_pct", _number, 1.0, 100.0, "limits."),
        dew_margin_min_c=_optional(record, "dew_margin_min_c", _number, 0.0, 20.0, "limits."),
    )
    low_c, high_c = limits.temp_min_c, limits.temp_max_c
    if low_c is not None and high_c is not None and high_c <= low_c:
        raise ProfileError("limits.temp_max_c", "must lie above temp_min_c")
    return limits


def _names(data: object) -> dict[str, str]:
    if not isinstance(data, Mapping) or "en" not in data:
        raise ProfileError("name", "needs at least a name in English, {'en': ...}")
    for language in data:
        if not isinstance(language, str) or not LANGUAGE_PATTERN.fullmatch(language):
            raise ProfileError("name", "languages are named by two small letters")
    return {language: _text(text, f"name.{language}") for language, text in data.items()}


def _cautions(data: object) -> tuple[str, ...]:
    ids = _list(data, "cautions")
    for i, caution_id in enumerate(ids):
        if not isinstance(caution_id, str) or caution_id not in CAUTIONS:
            raise ProfileError(f"cautions[{i}]", f"there is no caution named {caution_id!r}")
    return tuple(str(caution_id) for caution_id in ids)


def _material(value: object) -> str | None:
    if value is None:
        return None
    if not isinstance(value, str) or value not in MATERIALS:
        raise ProfileError("compatibility", f"must be one of {', '.join(MATERIALS)}")
    return value


def _post_cure(data: object) -> PostCure | None:
    if data is None:
        return None
    field = "post_cure"
    record = _record(data, field, frozenset({"ramp_k_h", "soaks"}))
    items = _list(record.get("soaks"), f"{field}.soaks")
    if not 1 <= len(items) <= SOAKS_MAX_N:
        raise ProfileError(f"{field}.soaks", f"needs 1 to {SOAKS_MAX_N} soaks")
    return PostCure(
        ramp_k_h=_number(record.get("ramp_k_h"), f"{field}.ramp_k_h", 0.1, 600.0),
        soaks=tuple(_soak(item, f"{field}.soaks[{i}]") for i, item in enumerate(items)),
    )


def _soak(data: object, field: str) -> Soak:
    record = _record(data, field, frozenset({"temp_c", "minutes"}))
    return Soak(
        temp_c=_number(record.get("temp_c"), f"{field}.temp_c", TEMP_MIN_C, SOAK_MAX_C),
        minutes=_minutes(record.get("minutes"), f"{field}.minutes"),
    )


def _record(data: object, field: str, known: frozenset[str]) -> Mapping[str, Any]:
    if not isinstance(data, Mapping):
        raise ProfileError(field, "must be an object")
    for name in data:
        if name not in known:
            where = f"{name}" if field == "profile" else f"{field}.{name}"
            raise ProfileError(where, "is not a field of a profile")
    return data


def _list(data: object, field: str) -> Sequence[object]:
    if not isinstance(data, list | tuple):
        raise ProfileError(field, "must be a list")
    return data


def _optional(
    record: Mapping[str, Any],
    name: str,
    read: Callable[[object, str, float, float], T],
    low: float,
    high: float,
    prefix: str = "",
) -> T | None:
    value = record.get(name)
    return None if value is None else read(value, prefix + name, low, high)


def _number(value: object, field: str, low: float, high: float) -> float:
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise ProfileError(field, "must be a number")
    if not low <= value <= high:
        raise ProfileError(field, f"must lie in {low:g} to {high:g}")
    return float(value)


def _minutes(value: object, field: str) -> float:
    minutes = _number(value, field, 0.0, MINUTES_MAX)
    if minutes == 0.0:
        raise ProfileError(field, "must be above zero")
    return minutes


def _whole(value: object, field: str) -> int:
    if isinstance(value, bool) or not isinstance(value, int) or value < 1:
        raise ProfileError(field, "must be a whole number from 1")
    return value


def _flag(value: object, field: str) -> bool:
    if not isinstance(value, bool):
        raise ProfileError(field, "must be true or false")
    return value


def _text(value: object, field: str) -> str:
    if not isinstance(value, str) or not value.strip():
        raise ProfileError(field, "must be text that is not blank")
    return value


def _matching(value: object, field: str, pattern: re.Pattern[str]) -> str:
    if not isinstance(value, str) or not pattern.fullmatch(value):
        raise ProfileError(field, f"must match {pattern.pattern}")
    return value
