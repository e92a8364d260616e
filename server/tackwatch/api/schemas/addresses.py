"""A person's own addresses: mail, webhook, calendar."""

from __future__ import annotations

from marshmallow import Schema, fields

from tackwatch.api.schemas.fields import Given, text
from tackwatch.merge.values import Field
from tackwatch.work.addresses import KINDS
from tackwatch.work.addresses_of_others import PUSH


class AddressSchema(Schema):
    """One address; ``target`` is empty for a calendar, whose link is shown once."""

    kind = fields.Str(required=True, metadata={"enum": list(KINDS)})
    target = fields.Str(required=True)
    usable = fields.Bool(required=True)
    with_calendar = fields.Bool(required=True)
    made_at = fields.AwareDateTime(required=True, format="iso")
    trouble = fields.Str(required=True)


class RemovalSchema(Schema):
    """That another person took an address away."""

    kind = fields.Str(required=True, metadata={"enum": [*KINDS, PUSH]})
    phone_id = fields.Str(required=True, allow_none=True)
    by_member_id = fields.Str(required=True)
    removed_at = fields.AwareDateTime(required=True, format="iso")


class AddressesSchema(Schema):
    """The caller's addresses, the kinds that this server can use, and what an owner took away."""

    addresses = fields.List(fields.Nested(AddressSchema), required=True)
    offers = fields.List(fields.Str(metadata={"enum": list(KINDS)}), required=True)
    removed = fields.List(fields.Nested(RemovalSchema), required=True)


class AddressKnownSchema(Schema):
    """That a person has an address of a kind."""

    kind = fields.Str(required=True, metadata={"enum": list(KINDS)})
    usable = fields.Bool(required=True)
    made_at = fields.AwareDateTime(required=True, format="iso")


class AddressesOfOtherSchema(Schema):
    """How a person is told besides open pages."""

    addresses = fields.List(fields.Nested(AddressKnownSchema), required=True)
    push_device_ids = fields.List(fields.Str(), required=True)
    removed = fields.List(fields.Nested(RemovalSchema), required=True)


class MailAskedSchema(Schema):
    """A mail address, and whether alarms come with a calendar entry."""

    address = text(254, required=True)
    with_calendar = Given(Field("yes_no"), load_default=False)


class CodeSchema(Schema):
    """The code that was sent to a mail address."""

    code = text(20, required=True)


class WebhookAskedSchema(Schema):
    """Where alarms are to be posted."""

    url = text(2000, required=True)


class WebhookMadeSchema(Schema):
    """A webhook; the secret is shown once."""

    url = fields.Str(required=True)
    secret = fields.Str(required=True)


class CalendarMadeSchema(Schema):
    """A calendar's link; it is shown once."""

    url = fields.Str(required=True)
    webcal_url = fields.Str(required=True)
