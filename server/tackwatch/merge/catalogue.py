"""The catalogue: every kind of thing that a refit holds, with the type of each of its fields.

Rules
-----
- *Items* have fields, each of which the last writer sets, and sets of ids. *Records* are only ever added.
- A field that is not listed here is refused, so that a spelling mistake on a phone is seen and not lost.
- Adding a kind or a field raises ``SCHEMA`` by one; nothing is ever taken out, since phones keep old operations.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tackwatch.merge.values import Field
from tackwatch.trade.compatibility_table import GROUNDS
from tackwatch.trade.warning_kinds import ALARM_KINDS

SCHEMA = 3

STEP_KINDS = (
    "survey", "open_up", "dry_out", "grind", "sand", "clean", "mask", "laminate", "fillet", "fair", "coat", "bed",
    "fit", "inspect", "wait", "trip",
)  # fmt: skip
ROLES = ("owner", "hand", "viewer")
HOLDS = ("parts", "weather", "help", "question")
MARKS = ("started", "finished", "reopened", "signed_off")
ALARM_LEAD_MIN = 60 * 24 * 60
ALARM_UNSEEN_MIN = 7 * 24 * 60


@dataclass(frozen=True, slots=True)
class ItemKind:
    """A kind of item: its fields, and its sets with the kind that their members belong to."""

    fields: Mapping[str, Field]
    sets: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class RecordKind:
    """A kind of record: the parts of its body."""

    body: Mapping[str, Field]


def _text(most: int = 200, **rest: Any) -> Field:
    return Field("text", most=most, **rest)


def _ref(*of: str, **rest: Any) -> Field:
    return Field("ref", of=of, **rest)


def _number(least: float, most: float, **rest: Any) -> Field:
    return Field("number", least=least, most=most, **rest)


def _instant(**rest: Any) -> Field:
    return Field("instant", **rest)


_GONE = Field("yes_no", default=False)
_NAME = _text(120, required=True)
_LONG = 10_000
_RANK = _number(-1e12, 1e12, default=0)
_GAP_S = _number(0, 400 * 86_400)
_AIR_C = _number(-40, 70)
_SURFACE_C = _number(-40, 110)
_RH_PCT = _number(0, 100)
_GRAMS = _number(0, 1_000_000)

ITEMS: Mapping[str, ItemKind] = {
    "refit": ItemKind(
        {
            "name": _NAME,
            "time_zone": _text(64, required=True),
            "launch_at": _instant(required=True),
            "day_starts": Field("time_of_day", default="08:00"),
            "day_ends": Field("time_of_day", default="17:00"),
            "work_days": Field("weekdays", default="12345"),
            "curve_min_c": _number(-40, 60, default=10),
            "curve_max_c": _number(-40, 60, default=20),
            "curve_hour_of_max": _number(0, 23.999, default=15),
        }
    ),
    "member": ItemKind(
        {
            "name": _NAME,
            "role": Field("choice", of=ROLES, required=True),
            "language": _text(16, default="en"),
            "recoat_lead_min": _number(0, 24 * 60, default=60),
            "pot_lead_min": _number(0, 120, default=5),
            "time_zone": _text(64),
            "day_starts": Field("time_of_day"),
            "day_ends": Field("time_of_day"),
            "work_days": Field("weekdays"),
            "day_rate": _number(0, 1_000_000),
            "gone": _GONE,
        },
        sets={"skills": "skill"},
    ),
    "skill": ItemKind({"name": _NAME, "gone": _GONE}),
    "away": ItemKind(
        {
            "member_id": _ref("member"),
            "from_on": Field("date", required=True),
            "to_on": Field("date", required=True),
            "text": _text(500, default=""),
            "gone": _GONE,
        }
    ),
    "device": ItemKind(
        {
            "member_id": _ref("member", required=True),
            "name": _text(120, default=""),
            "revoked": Field("yes_no", default=False),
        }
    ),
    "zone": ItemKind(
        {
            "name": _NAME,
            "parent_id": _ref("zone"),
            "twin_id": _ref("zone"),
            "area_m2": _number(0, 10_000),
            "ground": Field("choice", of=GROUNDS),
            "holds": Field("whole", least=1, most=50),
            "rank": _RANK,
            "gone": _GONE,
        }
    ),
    "job": ItemKind(
        {
            "title": _NAME,
            "text": _text(_LONG, default=""),
            "zone_id": _ref("zone"),
            "afloat_ok": Field("yes_no", default=False),
            "found_while": _ref("job"),
            "mirror_of": _ref("job"),
            "rank": _RANK,
            "gone": _GONE,
        }
    ),
    "step": ItemKind(
        {
            "job_id": _ref("job", required=True),
            "kind": Field("choice", of=STEP_KINDS, required=True),
            "title": _text(120, default=""),
            "text": _text(_LONG, default=""),
            "product_id": _ref("product"),
            "tack": Field("yes_no", default=False),
            "labour_h": _number(0, 2_000),
            "crew_size": Field("whole", least=1, most=50, default=1),
            "held": Field("choice", of=HOLDS),
            "held_text": _text(500, default=""),
            "expected_at": _instant(),
            "weather_open": Field("yes_no", default=False),
            "planned_start_at": _instant(),
            "planned_end_at": _instant(),
            "rank": _RANK,
            "gone": _GONE,
        },
        sets={"assignees": "member", "skills": "skill"},
    ),
    "link": ItemKind(
        {
            "step_id": _ref("step", required=True),
            "after_id": _ref("step", required=True),
            "min_gap_s": Field("number", least=0, most=_GAP_S.most, default=0),
            "max_gap_s": _GAP_S,
            "by_cure": Field("yes_no", default=False),
            "gone": _GONE,
        }
    ),
    "product": ItemKind({"name": _NAME, "profile": Field("object", required=True), "gone": _GONE}),
    "ring_rule": ItemKind(
        {
            "member_id": _ref("member", required=True),
            "step_id": _ref("step"),
            "kind": Field("choice", of=ALARM_KINDS),
            "off": Field("yes_no"),
            "lead_min": _number(0, ALARM_LEAD_MIN),
            "walk_min": _number(0, 24 * 60),
            "by_push": Field("yes_no"),
            "by_mail": Field("yes_no"),
            "by_webhook": Field("yes_no"),
            "quiet_from": Field("time_of_day"),
            "quiet_to": Field("time_of_day"),
            "next_member_id": _ref("member"),
            "unseen_min": _number(0, ALARM_UNSEEN_MIN),
            "gone": _GONE,
        }
    ),
}

RECORDS: Mapping[str, RecordKind] = {
    "application": RecordKind(
        {
            "step_id": _ref("step", required=True),
            "zone_id": _ref("zone"),
            "product_id": _ref("product", required=True),
            "profile": Field("object", required=True),
            "mix_id": _ref("mix"),
            "start_at": _instant(required=True),
            "end_at": _instant(),
            "area_m2": _number(0, 10_000),
            "film_wet_um": _number(0, 20_000),
            "text": _text(_LONG),
        }
    ),
    "mix": RecordKind(
        {
            "step_id": _ref("step"),
            "product_id": _ref("product", required=True),
            "profile": Field("object", required=True),
            "stirred_at": _instant(required=True),
            "base_g": _GRAMS,
            "hardener_g": _GRAMS,
            "temp_c": _AIR_C,
            "text": _text(_LONG),
        }
    ),
    "reading": RecordKind(
        {
            "taken_at": _instant(required=True),
            "zone_id": _ref("zone"),
            "air_c": _AIR_C,
            "surface_c": _SURFACE_C,
            "rh_pct": _RH_PCT,
        }
    ),
    "note": RecordKind(
        {
            "job_id": _ref("job"),
            "step_id": _ref("step"),
            "zone_id": _ref("zone"),
            "text": _text(_LONG, required=True),
        }
    ),
    "photo": RecordKind(
        {
            "sha256": Field("hash", required=True),
            "size_b": Field("whole", least=1, most=20_000_000, required=True),
            "job_id": _ref("job"),
            "step_id": _ref("step"),
            "zone_id": _ref("zone"),
            "taken_at": _instant(),
            "text": _text(_LONG),
        }
    ),
    "hours": RecordKind(
        {
            "member_id": _ref("member", required=True),
            "step_id": _ref("step"),
            "job_id": _ref("job"),
            "worked_on": Field("date", required=True),
            "minutes": _number(0, 24 * 60, required=True),
        }
    ),
    "mark": RecordKind(
        {
            "step_id": _ref("step", required=True),
            "mark": Field("choice", of=MARKS, required=True),
            "marked_at": _instant(required=True),
            "text": _text(_LONG),
        }
    ),
    "answer": RecordKind(
        {
            "first_id": _ref("application", required=True),
            "second_id": _ref("application", required=True),
            "answer": Field("choice", of=("one_coat", "two_coats"), required=True),
        }
    ),
    "sum": RecordKind(
        {
            "name": _text(64, required=True),
            "takes": Field("object", required=True),
            "gives": Field("object", required=True),
            "step_id": _ref("step"),
            "job_id": _ref("job"),
            "zone_id": _ref("zone"),
            "text": _text(_LONG),
        }
    ),
    "seen": RecordKind({"alarm_id": _text(120, required=True), "seen_at": _instant(required=True)}),
    "snoozed": RecordKind(
        {
            "alarm_id": _text(120, required=True),
            "snoozed_at": _instant(required=True),
            "until_at": _instant(required=True),
        }
    ),
    "handled": RecordKind(
        {"alarm_id": _text(120, required=True), "handled_at": _instant(required=True)}
    ),
}


def as_dict() -> dict[str, Any]:
    """Give the whole catalogue as JSON-ready objects, for other languages and for the API's reader."""
    return {
        "schema": SCHEMA,
        "items": {
            kind: {
                "fields": {name: _field(f) for name, f in it.fields.items()},
                "sets": dict(it.sets),
            }
            for kind, it in ITEMS.items()
        },
        "records": {
            kind: {"body": {name: _field(f) for name, f in it.body.items()}}
            for kind, it in RECORDS.items()
        },
    }


def _field(field: Field) -> dict[str, Any]:
    entry: dict[str, Any] = {"type": field.type}
    for name in ("least", "most"):
        if getattr(field, name) is not None:
            entry[name] = getattr(field, name)
    if field.of:
        entry["of"] = list(field.of)
    if field.required:
        entry["required"] = True
    if field.default is not None:
        entry["default"] = field.default
    return entry
