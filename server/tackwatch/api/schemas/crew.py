"""Invites, and coming aboard with one."""

from __future__ import annotations

from typing import Any

from marshmallow import Schema, fields, post_load, validate

from tackwatch.api.schemas.fields import Given, item_field, text
from tackwatch.merge.values import Field
from tackwatch.work.invite import DAYS, MOST_DAYS, InviteAsked


class InviteAskedSchema(Schema):
    """Whom to invite: somebody new (role and name), or with ``member_id`` one of the crew with another device."""

    role = item_field("member", "role")
    name = item_field("member", "name")
    language = item_field("member", "language")
    member_id = Given(Field("ref"))
    days = Given(Field("whole", least=1, most=MOST_DAYS), load_default=DAYS)

    @post_load
    def _asked(self, data: dict[str, Any], **_: Any) -> InviteAsked:
        return InviteAsked(**data)


class InviteMadeSchema(Schema):
    """A new invite; token, link and picture are shown once."""

    invite_id = fields.Str(required=True)
    member_id = fields.Str(required=True)
    token = fields.Str(required=True)
    link = fields.Str(required=True)
    qr_svg = fields.Str(required=True, metadata={"description": "The link as a QR code"})
    expires_at = fields.Str(required=True, metadata={"format": "date-time"})


class InviteSeenSchema(Schema):
    """An invite in the list."""

    invite_id = fields.Str(required=True)
    member_id = fields.Str(required=True)
    state = fields.Str(required=True, metadata={"enum": ["open", "claimed", "expired", "revoked"]})
    created_at = fields.Str(required=True, metadata={"format": "date-time"})
    expires_at = fields.Str(required=True, metadata={"format": "date-time"})


class InvitesSchema(Schema):
    """All invites, newest first."""

    invites = fields.List(fields.Nested(InviteSeenSchema), required=True)


class ClaimSchema(Schema):
    """The token out of an invite's link."""

    token = text(200, required=True)
    device_name = item_field("device", "name", load_default="")


class SentAskedSchema(Schema):
    """From where on to read, backwards."""

    before = fields.Int(
        load_default=None,
        validate=validate.Range(min=1, max=2**53),
        metadata={"description": "Number of the last operation read; only older ones are given"},
    )


class OperationSentSchema(Schema):
    """One operation as a device sent it, with the verdict against it if there is one."""

    n = fields.Int(required=True)
    at = fields.Str(required=True, metadata={"description": "Stamp, see docs/sync.md"})
    received_at = fields.AwareDateTime(required=True, format="iso")
    act = fields.Str(required=True)
    actions = fields.List(fields.Raw(metadata={"type": "object"}), required=True)
    problem = fields.Raw(required=True, allow_none=True, metadata={"type": "object"})


class MissingSchema(Schema):
    """A run of numbers that were lost with a restored server and that the device no longer had."""

    from_ = fields.Int(required=True, data_key="from", attribute="from")
    to = fields.Int(required=True)


class SentSchema(Schema):
    """How far a device came, and a page of what it sent, newest first."""

    device_id = fields.Str(required=True)
    member_id = fields.Str(required=True)
    name = fields.Str(required=True)
    last_n = fields.Int(required=True)
    last_received_at = fields.AwareDateTime(required=True, allow_none=True, format="iso")
    last_seen_at = fields.AwareDateTime(required=True, allow_none=True, format="iso")
    missing = fields.List(fields.Nested(MissingSchema), required=True)
    operations = fields.List(fields.Nested(OperationSentSchema), required=True)
    more = fields.Bool(required=True)
