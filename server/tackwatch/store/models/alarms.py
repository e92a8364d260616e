"""Alarms due to persons, and where a device takes pushes.

States of an alarm: ``due`` (waiting for its instant), ``claimed`` (a process has it under a lease), ``told`` (handed to
at least one channel), ``seen`` (a person has seen it), ``done`` (somebody dealt with it), ``withdrawn`` (its reason is
gone), ``missed`` (nobody could be told while it was of use). With ``withdrawn`` among the params the row tells the
phones that what they were told holds no longer.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint, text
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store import calls
from tackwatch.store.db import Base, BigId, Document, Instant


class Alarm(Base):
    """One warning of one clock for one person. ``alarm_id`` is the id that phones compute too."""

    __tablename__ = "alarm"
    __table_args__ = (
        UniqueConstraint("refit_id", "member_id", "alarm_id"),
        Index(
            "ix_alarm_due",
            "due_at",
            sqlite_where=text("state = 'due'"),
            postgresql_where=text("state = 'due'"),
        ),
        Index(
            "ix_alarm_lease",
            "lease_until",
            sqlite_where=text("state = 'claimed'"),
            postgresql_where=text("state = 'claimed'"),
        ),
        Index("ix_alarm_told", "refit_id", "told_at"),
    )

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    alarm_id: Mapped[str] = mapped_column(String(120))
    kind: Mapped[str] = mapped_column(String(40))
    source_id: Mapped[str] = mapped_column(String(40))
    due_at: Mapped[datetime] = mapped_column(Instant)
    useless_after: Mapped[datetime] = mapped_column(Instant)
    params: Mapped[dict[str, Any]] = mapped_column(Document)
    state: Mapped[str] = mapped_column(String(12), default="due")
    claimed_by: Mapped[str | None] = mapped_column(String(80))
    lease_until: Mapped[datetime | None] = mapped_column(Instant)
    attempts: Mapped[int] = mapped_column(default=0)
    told_at: Mapped[datetime | None] = mapped_column(Instant)
    seen_at: Mapped[datetime | None] = mapped_column(Instant)
    outcome: Mapped[dict[str, Any]] = mapped_column(Document, default=dict)


calls.watch(Alarm)


class PushSubscription(Base):
    """Where a device takes Web Push messages (RFC 8030), with its keys (RFC 8291)."""

    __tablename__ = "push_subscription"
    __table_args__ = (Index(None, "refit_id", "member_id"),)

    device_id: Mapped[str] = mapped_column(ForeignKey("device.id"), primary_key=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    endpoint: Mapped[str] = mapped_column(String(2000))
    p256dh: Mapped[str] = mapped_column(String(200))
    auth: Mapped[str] = mapped_column(String(100))
    created_at: Mapped[datetime] = mapped_column(Instant)
