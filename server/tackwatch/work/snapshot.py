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
from datetime import datetime, timedelta
from hashlib import sha256

from tackwatch.store import news, refits, snapshots
from tackwatch.store.db import writing
from tackwatch.store.models import Refit
from tackwatch.store.snapshots import Snapshot
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError

WORTH_FROM = 500  # changes that a refit has seen
AGED = 0.05  # changes since the last snapshot, as a part of its rows, from which on a new one is made when nobody waits
MOST_BEHIND = 0.1  # as such a part: what a device loads besides the snapshot at most
PAUSE = timedelta(
    minutes=1
)  # between two that nobody asked for: many hands in a row shall not make one each
FEW = 50  # changes that make no snapshot old, however small it is
PAGE_ROWS = 6_000
_LEVEL = 6
_NUMBER = re.compile(r"\d{1,6}", re.ASCII)


def near(refit: Refit) -> Snapshot | None:
    """Give a refit's snapshot unless it lies too far back."""
    snapshot = snapshots.newest(refit.id)
    fits = snapshot is not None and _behind(refit, snapshot) <= MOST_BEHIND
    return snapshot if fits else None


def has_aged(refit: Refit, now: datetime) -> bool:
    """Say whether it is time to make a refit's snapshot though nobody waits for it."""
    snapshot = snapshots.newest(refit.id)
    if refit.seq < WORTH_FROM or snapshot is None:
        return refit.seq >= WORTH_FROM
    return _behind(refit, snapshot) > AGED and now - snapshot.made_at >= PAUSE


def _behind(refit: Refit, snapshot: Snapshot) -> float:
    """Give the changes after a snapshot as a part of its rows; some few count for nothing."""
    return max(0, refit.seq - snapshot.seq - FEW) / max(1, snapshot.rows)


def make_ready(refit_id: str, now: datetime, *, needed: bool = True) -> None:
    """Make a refit's snapshot if it is ``needed`` and none is near, or if it has aged."""
    refit = refits.get(refit_id)
    if refit is None or refit.seq < WORTH_FROM:
        return
    if near(refit) is not None if needed else not has_aged(refit, now):
        return
    seq, count, bodies = refit.seq, 0, []
    for page, rows in news.living(refit_id, PAGE_ROWS):
        count += rows
        bodies.append(gzip.compress(page.as_json().encode(), _LEVEL, mtime=0))
    version = sha256(b"".join(bodies)).hexdigest()[:20]
    with writing():
        if refits.lock(refit_id) is not None:
            snapshots.keep(refit_id, Snapshot(version, len(bodies), count, seq, now), bodies)


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
