"""Who rings the alarms, and how it went: promises of the alarm processes, and counts of what was sent."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, BigId, Instant


class Heartbeat(Base):
    """An alarm process: when it last said that it lives, and by when it will say so again."""

    __tablename__ = "heartbeat"

    name: Mapped[str] = mapped_column(String(80), primary_key=True)
    started_at: Mapped[datetime] = mapped_column(Instant)
    beat_at: Mapped[datetime] = mapped_column(Instant)
    next_beat_by: Mapped[datetime] = mapped_column(Instant)
    ended_at: Mapped[datetime | None] = mapped_column(Instant)


class Tally(Base):
    """So many endings of one sort on one channel; rows are only added, and folded together now and then.

    ``day`` is a date of UTC. ``late_le`` is the bound, in seconds, of the bucket of how late they were, ``late_ms``
    their sum; both count for what was accepted alone. With an empty ``refit_id`` and ``day`` it counts what is long
    past.
    """

    __tablename__ = "tally"
    __table_args__ = (Index(None, "refit_id", "day"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    refit_id: Mapped[str] = mapped_column(String(40))
    day: Mapped[str] = mapped_column(String(10))
    channel: Mapped[str] = mapped_column(String(12))
    result: Mapped[str] = mapped_column(String(12))
    late_le: Mapped[str] = mapped_column(String(8))
    count: Mapped[int] = mapped_column(BigInteger)
    late_ms: Mapped[int] = mapped_column(BigInteger)
