"""Invites: making, listing, taking back, and coming aboard with one."""

from __future__ import annotations

from typing import Any

from flask import Response

from tackwatch.api.current import house, spend_try
from tackwatch.api.doors import NOBODY, OWNER, Blueprint, door
from tackwatch.api.schemas.crew import (
    ClaimSchema,
    InviteAskedSchema,
    InviteMadeSchema,
    InvitesSchema,
)
from tackwatch.api.schemas.refits import DeviceMadeSchema
from tackwatch.work.caller import Caller
from tackwatch.work.claim_invite import claim_invite
from tackwatch.work.devices import NewDevice
from tackwatch.work.invite import InviteAsked, InviteMade, invite, invites, take_back

blueprint = Blueprint("invites", __name__)


@door(
    blueprint, "POST", "/api/invites/claim",
    who=NOBODY, takes=ClaimSchema, gives=DeviceMadeSchema, status=201, problems=(404, 410, 429),
)  # fmt: skip
def post_claim(brought: dict[str, str]) -> NewDevice:
    """Come aboard with the token of an invite, once."""
    spend_try("claim")
    return claim_invite(brought["token"], brought["device_name"], house().ports)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/invites",
    who=OWNER, takes=InviteAskedSchema, gives=InviteMadeSchema, status=201,
)  # fmt: skip
def post_invite(caller: Caller, asked: InviteAsked) -> InviteMade:
    """Invite somebody new, or one of the crew with another device."""
    here = house()
    return invite(caller, asked, here.settings.public_url, here.ports)


@door(blueprint, "GET", "/api/refits/<refit_id>/invites", who=OWNER, gives=InvitesSchema)
def get_invites(caller: Caller) -> dict[str, Any]:
    """List the invites, newest first."""
    return {"invites": invites(caller, house().ports.clock.now())}


@door(
    blueprint, "DELETE", "/api/refits/<refit_id>/invites/<invite_id>",
    who=OWNER, status=204, problems=(409,),
)  # fmt: skip
def delete_invite(caller: Caller, invite_id: str) -> Response:
    """Take back an invite that nobody has used."""
    take_back(caller, invite_id, house().ports.clock.now())
    return Response(status=204)
