"""After a restore from a backup: every refit gets a new epoch.

The backup is older than the phones. With a new epoch they load everything afresh and offer again what the server no
longer knows; without it they would take the server's lower numbers for news they have.
"""

from __future__ import annotations

from tackwatch.store import refits
from tackwatch.store.db import writing
from tackwatch.work.ports import Ports


def restored(ports: Ports) -> int:
    """Give every refit a new epoch, and say how many there are."""
    ids = refits.all_ids()
    for id_ in ids:
        with writing():
            refit = refits.lock(id_)
            if refit is not None:
                refit.epoch = ports.chance.new_id()
    return len(ids)
