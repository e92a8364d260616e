"""The prepared snapshot: everything that lives in a refit, packed once and handed to every device that loads it all.

Rules
-----
- It is made when a device wants everything and the last one lies too many changes back, and before the refit's lock is
  taken: nobody who files an operation waits for it. What came after it goes out as a sync does anyway.
- The counter is read first. A row that changes while the others are read has a number past it, and is sent again.
- Its version is made of its content: equal content is the same snapshot, and a page never changes.
- A small refit has none: its rows fit into the first answer.
"""

from __future__ import annotations

import gzip
import re
from collections.abc import Iterator, Sequence
from datetime import datetime
from hashlib import sha256

from tackwatch.store import news, refits, snapshots
from tackwatch.store.db import writing
from tackwatch.store.models import Refit
from tackwatch.store.snapshots import Snapshot
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError

WORTH_FROM = 500  # changes that a refit has seen
MOST_BEHIND = 1_000
PAGE_ROWS = 6_000
_LEVEL = 6
_NUMBER = re.compile(r"\d{1,6}", re.ASCII)


def near(refit: Refit) -> Snapshot | None:
    """Give a refit's snapshot unless it lies too far back."""
    snapshot = snapshots.newest(refit.id)
    fits = snapshot is not None and refit.seq - snapshot.seq <= MOST_BEHIND
    return snapshot if fits else None


def make_ready(refit_id: str, now: datetime) -> None:
    """See to it that a refit has a snapshot that is near, if that is worth while."""
    refit = refits.get(refit_id)
    if refit is None or refit.seq < WORTH_FROM or near(refit) is not None:
        return
    seq = refit.seq
    bodies = [gzip.compress(page.encode(), _LEVEL, mtime=0) for page in _pages(refit_id)]
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


def _pages(refit_id: str) -> Iterator[str]:
    rows = list(news.living(refit_id))
    for start in range(0, max(1, len(rows)), PAGE_ROWS):
        yield _page(rows[start : start + PAGE_ROWS])


def _page(rows: Sequence[tuple[bool, str]]) -> str:
    changes = ",".join(text for is_difference, text in rows if not is_difference)
    differences = ",".join(text for is_difference, text in rows if is_difference)
    return f'{{"changes":[{changes}],"differences":[{differences}]}}'
