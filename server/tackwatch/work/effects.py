"""What follows on the server when rows of certain kinds were filed."""

from __future__ import annotations

from collections.abc import Collection
from collections.abc import Set as AbstractSet
from datetime import datetime

from tackwatch.store import operations, rows
from tackwatch.store.models import Refit
from tackwatch.work.filing import file_as_server
from tackwatch.work.reckon import MOVES_CLOCKS, Change, keep_alarms_after


def after_filing(
    refit: Refit, touched: AbstractSet[str], changes: Collection[Change], now: datetime
) -> None:
    """Do what follows, under the refit's lock and in the same transaction.

    Parameters
    ----------
    touched
        The kinds of the rows that were filed.
    changes
        The items among them, as they were and as they are.
    """
    if "member" in touched:
        _withdraw_keys_of_the_gone(refit, now)
    if touched & MOVES_CLOCKS:
        keep_alarms_after(refit.id, touched, changes, now)


def _withdraw_keys_of_the_gone(refit: Refit, now: datetime) -> None:
    for member in rows.items(refit.id, ("member",)):
        if not member.gone:
            continue
        for device in operations.devices_of(refit.id, member.id):
            device.revoked_at = now
            action = {"do": "set", "kind": "device", "id": device.id, "fields": {"revoked": True}}
            file_as_server(refit, "withdraw_key", [action], now)
