"""The promises of alarm processes: each says by when it will be heard of again."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import delete, func, select, update
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db
from tackwatch.store.models import Heartbeat


@dataclass(frozen=True, slots=True)
class Beat:
    """What an alarm process last said of itself."""

    name: str
    started_at: datetime
    beat_at: datetime
    next_beat_by: datetime
    ended_at: datetime | None


_COLUMNS = tuple(getattr(Heartbeat, name) for name in Beat.__slots__)


def beat(name: str, started_at: datetime, now: datetime, next_beat_by: datetime) -> None:
    """Say that a process lives, and by when it will say so again."""
    insert = postgresql.insert if db.engine.dialect.name == "postgresql" else sqlite.insert
    new = {"beat_at": now, "next_beat_by": next_beat_by, "ended_at": None}
    db.session.execute(
        insert(Heartbeat)
        .values(name=name, started_at=started_at, **new)
        .on_conflict_do_update(index_elements=["name"], set_=new)
    )


def end(name: str, now: datetime) -> None:
    """Say that a process has ended as it should."""
    db.session.execute(
        update(Heartbeat)
        .where(Heartbeat.name == name)
        .values(beat_at=now, next_beat_by=now, ended_at=now)
    )


def forget_before(instant: datetime) -> None:
    """Forget processes whose last promise ended before an instant."""
    db.session.execute(delete(Heartbeat).where(Heartbeat.next_beat_by < instant))


def known() -> list[Beat]:
    """Give every process that is remembered, the one that was heard of last in front."""
    query = select(*_COLUMNS).order_by(Heartbeat.beat_at.desc(), Heartbeat.name)
    return [Beat(*row) for row in db.session.execute(query)]


def last_promise() -> datetime | None:
    """Give until when anybody promised to be there; None where nobody ever was."""
    found: datetime | None = db.session.scalar(select(func.max(Heartbeat.next_beat_by)))
    return found
