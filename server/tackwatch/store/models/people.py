"""Devices with their keys, and invites. Keys and tokens are kept as SHA-256 only; they are 256 random bits each."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Instant


class Device(Base):
    """A phone or laptop with a key of its own, and how far its operations have come.

    ``whole_until`` is the refit's number when the device last began to load everything: up to there it is also sent
    its own rows.
    """

    __tablename__ = "device"
    __table_args__ = (Index(None, "refit_id"),)

    id: Mapped[str] = mapped_column(String(12), primary_key=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    name: Mapped[str] = mapped_column(String(120), default="")
    key_hash: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[datetime] = mapped_column(Instant)
    last_seen_at: Mapped[datetime | None] = mapped_column(Instant)
    revoked_at: Mapped[datetime | None] = mapped_column(Instant)
    last_n: Mapped[int] = mapped_column(BigInteger, default=0)
    last_stamp: Mapped[str] = mapped_column(String(40), default="")
    whole_until: Mapped[int] = mapped_column(BigInteger, default=0)


class Invite(Base):
    """A single-use, expiring way in for one member."""

    __tablename__ = "invite"
    __table_args__ = (Index(None, "refit_id"),)

    id: Mapped[str] = mapped_column(String(40), primary_key=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    member_id: Mapped[str] = mapped_column(String(40))
    token_hash: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[datetime] = mapped_column(Instant)
    expires_at: Mapped[datetime] = mapped_column(Instant)
    claimed_at: Mapped[datetime | None] = mapped_column(Instant)
    revoked_at: Mapped[datetime | None] = mapped_column(Instant)
