"""When a plan is made without anybody asking: when something that matters changed, and then came to rest.

Rules
-----
- Only refits for which somebody asked once are watched.
- A glance costs one small query: it sees that a refit's counter moved. When nothing moved any more for `QUIET`, or it
  has been moving for `LONGEST`, the rows are read and compared with what the last plan rested on (``basis``). When
  nothing that matters changed, nothing happens.
- Being late is seen without any change: the last look left the instant at which something would be.
- While a plan is asked for or running, nothing is looked into; what it did not see is seen afterwards.
"""

from __future__ import annotations

from datetime import datetime, timedelta
from typing import Final

import structlog

from tackwatch.store import plans, refits
from tackwatch.store.db import db, writing
from tackwatch.work import plans as asking
from tackwatch.work.planning import basis as bases
from tackwatch.work.planning.rows import read
from tackwatch.work.ports import Ports

QUIET: Final = timedelta(seconds=60)
LONGEST: Final = timedelta(minutes=10)

_log = structlog.get_logger()


def glance(ports: Ports) -> int:
    """See what moved, and look into what came to rest; give how many plans were asked for."""
    now = ports.clock.now()
    _see(now)
    due = plans.to_look_into(now, now - QUIET, now - LONGEST)
    db.session.rollback()
    return sum(look_into(refit_id, ports) for refit_id in due)


def look_into(refit_id: str, ports: Ports) -> bool:
    """Compare a refit with what its last plan rested on; say whether a plan was asked for."""
    now = ports.clock.now()
    if plans.open_plan(refit_id) is not None:
        return _later(refit_id, now)
    watch = plans.watch(refit_id)
    if watch is None or watch.basis is None:
        return _settled(refit_id, None)
    rows = read(refit_id, now)
    after = bases.basis_of(rows)
    why = bases.changed(bases.read_basis(watch.basis), after) if after["steps"] else {}
    next_at = bases.times_of(rows).next_at
    if not why:
        return _settled(refit_id, next_at)
    with writing():
        refits.lock(refit_id)
        if plans.watch(refit_id) != watch:  # another planner was here first
            return False
        asking.ask_by_itself(refit_id, [code for code in bases.WHY if code in why], ports)
        plans.set_watch(refit_id, changed_at=None, quiet_from=None, look_at=None)
    _log.info("a plan is made anew", refit_id=refit_id, why=sorted(why))
    return True


def _see(now: datetime) -> None:
    moved = plans.moved_on()
    db.session.rollback()
    if not moved:
        return
    with writing():
        for watch, seq in moved:
            plans.set_watch(
                watch.refit_id, seen_seq=seq, changed_at=watch.changed_at or now, quiet_from=now
            )


def _later(refit_id: str, now: datetime) -> bool:
    with writing():
        plans.set_watch(refit_id, changed_at=now, quiet_from=now, look_at=None)
    return False


def _settled(refit_id: str, look_at: datetime | None) -> bool:
    with writing():
        plans.set_watch(refit_id, changed_at=None, quiet_from=None, look_at=look_at)
    return False
