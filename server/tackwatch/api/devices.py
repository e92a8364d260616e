"""Devices: what one has sent, withdrawing a key, and where the own device takes pushes."""

from __future__ import annotations

from flask import Response

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, NOBODY, Blueprint, door
from tackwatch.api.schemas.crew import SentAskedSchema, SentSchema
from tackwatch.api.schemas.push import PushAddressSchema, PushKeySchema
from tackwatch.work.addresses_of_others import stop_pushes
from tackwatch.work.caller import Caller
from tackwatch.work.push_subscriptions import subscribe, unsubscribe
from tackwatch.work.revoke_device import revoke_device
from tackwatch.work.sent import Sent, sent_by
from tackwatch.work.vapid import public_key

blueprint = Blueprint("devices", __name__)


@door(
    blueprint, "DELETE", "/api/refits/<refit_id>/devices/<device_id>",
    who=ANYONE, status=204, problems=(403,),
)  # fmt: skip
def delete_device(caller: Caller, device_id: str) -> Response:
    """Withdraw a device's key: the owner any, everybody the own one."""
    revoke_device(caller, device_id, house().ports)
    return Response(status=204)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/devices/<device_id>/sent",
    who=ANYONE, asks=SentAskedSchema, gives=SentSchema, problems=(403, 422),
)  # fmt: skip
def get_sent(caller: Caller, asked: dict[str, int | None], device_id: str) -> Sent:
    """See what a device has sent, newest first: the owner of any, everybody of their own devices."""
    return sent_by(caller, device_id, asked["before"])


@door(
    blueprint, "PUT", "/api/refits/<refit_id>/push",
    who=ANYONE, takes=PushAddressSchema, status=204,
)  # fmt: skip
def put_push(caller: Caller, address: dict[str, str]) -> Response:
    """Say where this device takes pushes."""
    here = house()
    subscribe(caller, address, here.settings, here.ports)
    return Response(status=204)


@door(blueprint, "DELETE", "/api/refits/<refit_id>/push", who=ANYONE, status=204)
def delete_push(caller: Caller) -> Response:
    """Take no pushes on this device any more."""
    unsubscribe(caller)
    return Response(status=204)


@door(blueprint, "GET", "/api/push-key", who=NOBODY, gives=PushKeySchema)
def get_push_key() -> dict[str, str]:
    """Give the public key that a browser subscribes with."""
    return {"public_key": public_key()}


@door(
    blueprint, "DELETE", "/api/refits/<refit_id>/devices/<device_id>/push",
    who=ANYONE, status=204, problems=(403,),
)  # fmt: skip
def delete_push_of(caller: Caller, device_id: str) -> Response:
    """Let a device take no pushes any more: everybody their own, the owner anybody's, which leaves a trace."""
    stop_pushes(caller, device_id, house().ports.clock.now())
    return Response(status=204)
