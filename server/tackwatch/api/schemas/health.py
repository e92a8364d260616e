"""How the server is, and how a refit's alarms were rung."""

from __future__ import annotations

from marshmallow import Schema, fields


class BellSchema(Schema):
    """An alarm process: alive while it keeps its promise to be heard of by ``next_beat_by``."""

    name = fields.Str(required=True)
    alive = fields.Bool(required=True)
    started_at = fields.AwareDateTime(required=True, format="iso")
    beat_at = fields.AwareDateTime(required=True, format="iso")
    next_beat_by = fields.AwareDateTime(required=True, format="iso")


class WaitingSchema(Schema):
    """Alarms that are not told yet."""

    to_come = fields.Int(required=True)
    due = fields.Int(required=True)
    overdue = fields.Int(required=True, metadata={"description": "Due for 2 minutes, and untaken"})
    claimed = fields.Int(required=True)
    retrying = fields.Int(required=True)


class HealthSchema(Schema):
    """How the server is; ``waiting`` is null while the schema is behind."""

    status = fields.Str(
        required=True, metadata={"enum": ["ok", "schema-behind", "nobody-rings", "overdue"]}
    )
    ok = fields.Bool(required=True)
    version = fields.Str(required=True)
    time = fields.AwareDateTime(required=True, format="iso")
    bells = fields.List(fields.Nested(BellSchema), required=True)
    waiting = fields.Nested(WaitingSchema, required=True, allow_none=True)


class ChannelHealthSchema(Schema):
    """What went out on a channel; ``late_up_to`` counts up to each bound in seconds."""

    channel = fields.Str(required=True)
    sent = fields.Int(required=True)
    failed = fields.Int(required=True)
    refused = fields.Int(required=True)
    dropped = fields.Int(required=True)
    late_mean_s = fields.Float(required=True, allow_none=True)
    late_up_to = fields.Dict(keys=fields.Str(), values=fields.Int(), required=True)


class RefitHealthSchema(Schema):
    """How a refit's alarms were rung lately."""

    time = fields.AwareDateTime(required=True, format="iso")
    since = fields.AwareDateTime(required=True, format="iso")
    rings = fields.Bool(required=True)
    bells = fields.List(fields.Nested(BellSchema), required=True)
    waiting = fields.Nested(WaitingSchema, required=True)
    told = fields.Int(required=True)
    missed = fields.Int(required=True)
    channels = fields.List(fields.Nested(ChannelHealthSchema), required=True)
