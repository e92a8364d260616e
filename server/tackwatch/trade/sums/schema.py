"""JSON Schema of the dataclasses that sums take and give, and their answers as plain JSON.

Rules
-----
* The schema says what `reading` does: the same limits, nothing beside the known fields.
* The unit of a number stands under `unit`, which validators pass over, and is what a form shows.
* A field may bring its own `schema` in its metadata, together with its own `read`.

Source
------
JSON Schema, draft 2020-12.
"""

from collections.abc import Mapping
from dataclasses import MISSING, fields, is_dataclass
from datetime import datetime
from typing import Any, Final, Literal, get_args, get_origin

from tackwatch.trade.sums.reading import (
    TEXT_LONGEST,
    Metadata,
    default_of,
    hints_of,
    optional_of,
)
from tackwatch.trade.warnings import iso_of

Json = Any
LIMITS: Final = {
    "least": "minimum",
    "most": "maximum",
    "above": "exclusiveMinimum",
    "below": "exclusiveMaximum",
}


def schema_of(kind: type[Any]) -> dict[str, Json]:
    """Give the JSON Schema of a dataclass."""
    types = hints_of(kind)
    properties: dict[str, Json] = {}
    required: list[str] = []
    for field in fields(kind):
        of_field = _field(types[field.name], field.metadata)
        default = default_of(field)
        if default is MISSING:
            required.append(field.name)
        else:
            of_field["default"] = as_json(default)
        properties[field.name] = of_field
    return {
        "type": "object",
        "properties": properties,
        "required": required,
        "additionalProperties": False,
    }


def as_json(value: object) -> Json:
    """Write dataclasses, tuples and instants as plain JSON."""
    if isinstance(value, datetime):
        return iso_of(value)
    if is_dataclass(value):
        return {field.name: as_json(getattr(value, field.name)) for field in fields(value)}
    if isinstance(value, tuple | list):
        return [as_json(item) for item in value]
    if isinstance(value, Mapping):
        return {name: as_json(item) for name, item in value.items()}
    return value


def _field(hint: Any, about: Metadata) -> dict[str, Json]:
    kind, may_be_none = optional_of(hint)
    found = _kind(kind, about)
    if may_be_none:
        found = {**found, "type": [found.get("type", "object"), "null"]}
        if "enum" in found:
            found["enum"] = [*found["enum"], None]
    return {**found, "description": about["about"]}


def _kind(kind: Any, about: Metadata) -> dict[str, Json]:
    if "schema" in about:
        return dict(about["schema"])
    if get_origin(kind) is tuple:
        count = {"minItems": about.get("fewest", 0), "maxItems": about.get("at_most", 100)}
        return {"type": "array", "items": _kind(get_args(kind)[0], about), **count}
    if get_origin(kind) is Literal:
        return {"type": "string", "enum": list(get_args(kind))}
    if is_dataclass(kind):
        return schema_of(kind) if isinstance(kind, type) else {}
    if kind is bool:
        return {"type": "boolean"}
    if kind is str:
        return {"type": "string", "maxLength": TEXT_LONGEST}
    if kind is datetime:
        return {"type": "string", "format": "date-time"}
    limits = {LIMITS[name]: value for name, value in about.items() if name in LIMITS}
    unit = {"unit": about["unit"]} if "unit" in about else {}
    return {"type": "integer" if kind is int else "number", **limits, **unit}
