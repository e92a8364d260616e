"""The prepared snapshot: everything that lives in a refit, packed once and handed to every device that loads it all.

Rules
-----
- It is made anew after the answer to whoever filed the change that aged it, so that it is ready when a device comes
  that wants everything; where it is not, then. Nobody who files an operation waits for it: the refit's lock is taken
  only to keep it. What came after it goes out as in any sync.
- The counter is read first. A row that changes while the others are read has a number past it, and is sent again.
- Its version is made of its content: equal content is the same snapshot, and a page never changes.
- A small refit has none: its rows fit into the first answer.
"""

from __future__ import annotations

import gzip
import re
from datetime import datetime
from hashlib import sha256

from tackwatch.store import news, refits, snapshots
from tackwatch.store.db import writing
from tackwatch.store.models import Refit
from tackwatch.store.snapshots import Snapshot
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError

WORTH_FROM = 500  # changes that a refit has seen
AGED = 1_000  # changes since the last snapshot, from which on a new one is made when nobody waits
MOST_BEHIND = 2_000  # changes that a device loads besides the snapshot
PAGE_ROWS = 6_000
_LEVEL = 6
_NUMBER = re.compile(r"\d{1,6}", re.ASCII)


def near(refit: Refit, most_behind: int) -> Snapshot | None:
    """Give a refit's snapshot unless more changes than that came after it."""
    snapshot = snapshots.newest(refit.id)
    fits = snapshot is not None and refit.seq - snapshot.seq <= most_behind
    return snapshot if fits else None


def is_due(refit: Refit, most_behind: int) -> bool:
    """Say whether a refit shall have a snapshot and has none that is near."""
    return refit.seq >= WORTH_FROM and near(refit, most_behind) is None


def make_ready(refit_id: str, most_behind: int, now: datetime) -> None:
    """Make a refit's snapshot if one is due."""
    refit = refits.get(refit_id)
    if refit is None or not is_due(refit, most_behind):
        return
    seq = refit.seq
    pages = [page.as_json().encode() for page in news.living(refit_id, PAGE_ROWS)]
    bodies = [gzip.compress(page, _LEVEL, mtime=0) for page in pages]
    version = sha256(b"".join(bodies)).hexdigest()[:20]
    with writing():
        if refits.lock(refit_id) is not None:
            snapshots.keep(refit_id, Snapshot(version, len(bodies), seq), bodies, now)


def page_of(caller: Caller, version: str, number: str) -> bytes:
    """Give a page of a snapshot, packed with gzip.

    Raises
    ------
    NotFoundError
        When there is no such page, or the snapshot is not kept any more.
    """
    known = _NUMBER.fullmatch(number) is not None
    body = snapshots.page(caller.refit_id, version, int(number)) if known else None
    if body is None:
        raise NotFoundError("unknown-snapshot", "This snapshot is no longer kept: sync again.")
    return body
