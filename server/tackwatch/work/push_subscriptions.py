"""A device says where it takes pushes, or that it takes none any more.

Rules
-----
- The server will post to this address, so only push services that the operator lists are taken (``push_hosts``).
- The keys are checked by their length and form (RFC 8291: a point of P-256, uncompressed, and 16 bytes).
"""

from __future__ import annotations

import base64
import binascii

from tackwatch.settings import Settings
from tackwatch.store import refits, subscriptions
from tackwatch.store.db import writing
from tackwatch.work.caller import Caller
from tackwatch.work.errors import InvalidError
from tackwatch.work.ports import Ports
from tackwatch.work.push_hosts import push_host_allowed


def subscribe(caller: Caller, address: dict[str, str], settings: Settings, ports: Ports) -> None:
    """Keep the caller's own address: ``endpoint``, ``p256dh`` and ``auth``.

    Raises
    ------
    InvalidError
        Naming the part that cannot be used.
    """
    if not push_host_allowed(address["endpoint"], settings):
        raise InvalidError(
            "unknown-push-service", "This server does not push to that address.", "endpoint"
        )
    point = _bytes(address["p256dh"])
    if len(point) != 65 or point[0] != 4:
        raise InvalidError("value-not-valid", "A key of 65 bytes in base64url.", "p256dh")
    if len(_bytes(address["auth"])) != 16:
        raise InvalidError("value-not-valid", "16 bytes in base64url.", "auth")
    with writing():
        refits.lock(caller.refit_id)
        subscriptions.put(
            caller.device_id, caller.refit_id, caller.member_id, address, ports.clock.now()
        )


def unsubscribe(caller: Caller) -> None:
    """Forget the caller's own address; no harm when there is none."""
    with writing():
        refits.lock(caller.refit_id)
        subscriptions.drop(caller.device_id)


def _bytes(text: str) -> bytes:
    """Read base64url, padded or not; nothing when it is not that."""
    try:
        return base64.b64decode(text.rstrip("=") + "=" * (-len(text.rstrip("=")) % 4), b"-_", True)
    except (binascii.Error, ValueError):
        return b""
