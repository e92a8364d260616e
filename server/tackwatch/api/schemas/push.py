"""Where a device takes pushes."""

from __future__ import annotations

from marshmallow import Schema, fields

from tackwatch.api.schemas.fields import text


class PushAddressSchema(Schema):
    """The address and keys that a browser's push subscription gives."""

    endpoint = text(2000, required=True)
    p256dh = text(200, required=True)
    auth = text(100, required=True)


class PushKeySchema(Schema):
    """The public key that a browser subscribes with."""

    public_key = fields.Str(required=True)
