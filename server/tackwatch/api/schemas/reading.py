"""Answers to those who only read."""

from __future__ import annotations

from marshmallow import Schema, fields

from tackwatch.api.schemas.fields import Given
from tackwatch.merge.values import Field

_OBJECT = {"type": "object"}


class CatalogueSchema(Schema):
    """Every kind of item and record with the type of each field."""

    schema = fields.Int(required=True)
    items = fields.Raw(required=True, metadata=_OBJECT)
    records = fields.Raw(required=True, metadata=_OBJECT)


class ProfilesSchema(Schema):
    """The bundled generic products."""

    profiles = fields.List(fields.Raw(metadata=_OBJECT), required=True)


class HistoryAskedSchema(Schema):
    """From where on to read."""

    after = Given(
        Field("text", most=40), load_default="", description="Stamp of the last operation read"
    )


class HistorySchema(Schema):
    """A page of operations, oldest first."""

    operations = fields.List(fields.Raw(metadata=_OBJECT), required=True)
    more = fields.Bool(required=True)


class WorkSchema(Schema):
    """The steps with their derived states, the clocks and the warnings, as the server sees them at an instant."""

    at = fields.Str(required=True, metadata={"format": "date-time"})
    steps = fields.List(fields.Raw(metadata=_OBJECT), required=True)
    clocks = fields.List(fields.Raw(metadata=_OBJECT), required=True)
    warnings = fields.List(fields.Raw(metadata=_OBJECT), required=True)


class TellingSchema(Schema):
    """That somebody was told of an alarm."""

    member_id = fields.Str(required=True)
    told_at = fields.AwareDateTime(required=True, format="iso")
    seen_at = fields.AwareDateTime(required=True, allow_none=True, format="iso")


class AlarmSchema(Schema):
    """One alarm of the caller."""

    alarm_id = fields.Str(required=True)
    kind = fields.Str(required=True)
    source_id = fields.Str(required=True)
    due_at = fields.AwareDateTime(required=True, format="iso")
    useless_after = fields.AwareDateTime(required=True, format="iso")
    params = fields.Raw(required=True, metadata=_OBJECT)
    state = fields.Str(required=True, metadata={"enum": ["due", "told", "seen", "done", "missed"]})
    told_at = fields.AwareDateTime(required=True, allow_none=True, format="iso")
    seen_at = fields.AwareDateTime(required=True, allow_none=True, format="iso")
    trace = fields.List(fields.Nested(TellingSchema), required=True)


class AlarmsSchema(Schema):
    """The caller's alarms in the order in which they are due."""

    alarms = fields.List(fields.Nested(AlarmSchema), required=True)
