"""Withdrawing a device's key: the owner for any device, everybody for the own one."""

from __future__ import annotations

from tackwatch.merge.values import is_id
from tackwatch.store import operations, people, refits
from tackwatch.store.db import writing
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotAllowedError, NotFoundError
from tackwatch.work.filing import file_as_server
from tackwatch.work.ports import Ports


def revoke_device(caller: Caller, device_id: str, ports: Ports) -> None:
    """Withdraw a key; what the device has sent stays. Done twice it is no harm.

    Raises
    ------
    NotAllowedError
        When it is somebody else's device and the caller is not the owner.
    NotFoundError
        When the refit has no such device.
    """
    if caller.role != "owner" and device_id != caller.device_id:
        raise NotAllowedError("not-allowed", "Only the owner may withdraw another device's key.")
    now = ports.clock.now()
    with writing():
        refit = refits.lock(caller.refit_id)
        known = is_id(device_id) and operations.device(caller.refit_id, device_id) is not None
        if refit is None or not known:
            raise NotFoundError("unknown-device", "There is no such device.")
        if people.withdraw(device_id, now):
            action = {
                "do": "set",
                "kind": "device",
                "id": device_id,
                "fields": {"revoked": True},
                "seen": {},
            }
            file_as_server(refit, "revoke_device", [action], now)
