"""Giving a member a new device: its row, its item among the crew's rows, and the key that is shown once."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from tackwatch.store import people
from tackwatch.work.ports import Chance
from tackwatch.work.sign_in import hash_of


@dataclass(frozen=True, slots=True)
class NewDevice:
    """What a phone keeps to sign in with."""

    refit_id: str
    member_id: str
    device_id: str
    key: str


def add(refit_id: str, member_id: str, name: str, chance: Chance, now: datetime) -> NewDevice:
    """Add a device with a fresh key, under the refit's lock."""
    made = NewDevice(refit_id, member_id, chance.device_id(), chance.secret())
    people.add_device(
        made.device_id, refit_id, member_id, name, key_hash=hash_of(made.key), created_at=now
    )
    return made


def item(device: NewDevice, name: str) -> dict[str, Any]:
    """Give the action that shows a device to the crew."""
    return {
        "do": "create",
        "kind": "device",
        "id": device.device_id,
        "fields": {"member_id": device.member_id, "name": name},
        "sets": {},
    }
