"""An owner without any working phone comes back with the recovery code that was written down at the beginning."""

from __future__ import annotations

import hmac

from tackwatch.merge.values import is_id
from tackwatch.store import people, refits
from tackwatch.store.db import writing
from tackwatch.work import devices
from tackwatch.work.errors import NotAllowedError
from tackwatch.work.filing import file_as_server
from tackwatch.work.ports import Ports
from tackwatch.work.recovery import code_hash


def recover(refit_id: str, code: str, device_name: str, ports: Ports) -> devices.NewDevice:
    """Give the owner a new device.

    The owner is the first member with that role. The answer to a wrong code and to an unknown refit is the same.

    Raises
    ------
    NotAllowedError
        When the code does not open this refit.
    """
    with writing():
        refit = refits.lock(refit_id) if is_id(refit_id) else None
        kept = refit.recovery_hash if refit is not None else ""
        if refit is None or not hmac.compare_digest(kept, code_hash(code)):
            raise NotAllowedError("wrong-code", "This code does not open this refit.", "code")
        now = ports.clock.now()
        device = devices.add(refit_id, _owner(refit_id), device_name, ports.chance, now)
        file_as_server(refit, "recover", [devices.item(device, device_name)], now)
    return device


def _owner(refit_id: str) -> str:
    """Give the first owner in the crew; there always is one."""
    crew = people.members(refit_id)
    owners = [one.id for one in crew if one.fields.get("role") == "owner" and not one.gone]
    return owners[0]
