"""Fields of the schemas that take their type and limits from the catalogue, so that nothing is said twice."""

from __future__ import annotations

from typing import Any

from marshmallow import ValidationError, fields

from tackwatch.merge.catalogue import ITEMS
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.values import Field, check

_FORMS: dict[str, dict[str, Any]] = {
    "text": {"type": "string"},
    "number": {"type": "number"},
    "whole": {"type": "integer"},
    "yes_no": {"type": "boolean"},
    "instant": {"type": "string", "format": "date-time"},
    "date": {"type": "string", "format": "date"},
    "time_of_day": {"type": "string", "pattern": "^([01][0-9]|2[0-3]):[0-5][0-9]$"},
    "weekdays": {"type": "string", "pattern": "^1?2?3?4?5?6?7?$"},
    "ref": {"type": "string", "pattern": "^[0-9A-Za-z_-]{1,40}$"},
    "choice": {"type": "string"},
    "object": {"type": "object"},
    "hash": {"type": "string", "pattern": "^[0-9a-f]{64}$"},
}


class Given(fields.Field[Any]):
    """A value that somebody gives, checked as the catalogue checks it.

    Parameters
    ----------
    of
        What the field may hold.
    rest
        As for any marshmallow field.
    """

    def __init__(self, of: Field, **rest: Any) -> None:
        super().__init__(metadata=_described(of, rest.pop("description", None)), **rest)
        self.of = of

    def _deserialize(self, value: Any, attr: str | None, data: Any, **rest: Any) -> Any:
        try:
            check(self.of, value, attr or "")
        except RefusedError as error:
            raise ValidationError(error.detail) from None
        return value


def item_field(kind: str, name: str, **rest: Any) -> Given:
    """Give a field that takes what the catalogue's field of that name takes."""
    return Given(ITEMS[kind].fields[name], **rest)


def text(most: int, **rest: Any) -> Given:
    """Give a field for a text that may not be empty."""
    return Given(Field("text", most=most, required=True), **rest)


def _described(of: Field, description: str | None) -> dict[str, Any]:
    form = dict(_FORMS[of.type])
    if of.type in ("number", "whole"):
        form |= {
            name: limit
            for name, limit in (("minimum", of.least), ("maximum", of.most))
            if limit is not None
        }
    if of.type == "text":
        form["maxLength"] = int(of.most or 200)
        if of.required:
            form["minLength"] = 1
    if of.type == "choice":
        form["enum"] = list(of.of)
    if description:
        form["description"] = description
    return form
