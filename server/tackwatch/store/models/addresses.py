"""Where a person is told besides their phones: mail, a webhook, a calendar. None of it is synced to anybody."""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, BigId, Document, Instant


class Address(Base):
    """One address of a person; ``kind`` is ``mail``, ``webhook`` or ``calendar``.

    A mail address is used from ``confirmed_at`` on. The webhook's ``secret`` is kept as it is, since it signs; a
    calendar's token as its SHA-256. ``trouble`` is how the last message was refused.
    """

    __tablename__ = "address"

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    member_id: Mapped[str] = mapped_column(String(40), primary_key=True)
    kind: Mapped[str] = mapped_column(String(12), primary_key=True)
    target: Mapped[str] = mapped_column(String(2000), default="")
    secret: Mapped[str] = mapped_column(String(100), default="")
    token_hash: Mapped[str | None] = mapped_column(String(64), unique=True)
    with_calendar: Mapped[bool] = mapped_column(default=False)
    code_hash: Mapped[str | None] = mapped_column(String(64))
    code_until: Mapped[datetime | None] = mapped_column(Instant)
    code_tries: Mapped[int] = mapped_column(default=0)
    made_at: Mapped[datetime] = mapped_column(Instant)
    confirmed_at: Mapped[datetime | None] = mapped_column(Instant)
    trouble: Mapped[str] = mapped_column(String(200), default="")


class SentCode(Base):
    """That a code was sent to a mail address: kept for a day, to hold back who sends too many."""

    __tablename__ = "sent_code"
    __table_args__ = (Index(None, "sent_at"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    target: Mapped[str] = mapped_column(String(2000))
    sent_at: Mapped[datetime] = mapped_column(Instant)


class CalendarEntry(Base):
    """An alarm as a person's calendar last had it: ``sequence`` rises when it moves (RFC 5545, 3.8.7.4)."""

    __tablename__ = "calendar_entry"

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    member_id: Mapped[str] = mapped_column(String(40), primary_key=True)
    alarm_id: Mapped[str] = mapped_column(String(120), primary_key=True)
    kind: Mapped[str] = mapped_column(String(40))
    due_at: Mapped[datetime] = mapped_column(Instant)
    useless_after: Mapped[datetime] = mapped_column(Instant)
    params: Mapped[dict[str, Any]] = mapped_column(Document)
    acknowledged_at: Mapped[datetime | None] = mapped_column(Instant)
    cancelled: Mapped[bool] = mapped_column(default=False)
    sequence: Mapped[int] = mapped_column(default=0)
    changed_at: Mapped[datetime] = mapped_column(Instant)


class AddressRemoval(Base):
    """That somebody's address, or a phone's way for pushes, was taken away by another person."""

    __tablename__ = "address_removal"
    __table_args__ = (Index(None, "refit_id", "member_id"),)

    id: Mapped[int] = mapped_column(BigId, primary_key=True, autoincrement=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    kind: Mapped[str] = mapped_column(String(12))
    phone_id: Mapped[str | None] = mapped_column(String(12))
    by_member_id: Mapped[str] = mapped_column(String(40))
    by_device_id: Mapped[str] = mapped_column(String(12))
    removed_at: Mapped[datetime] = mapped_column(Instant)
