"""The refit: the unit of sharing, of numbering and of locking."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Instant


class Refit(Base):
    """One refit: its counter numbers every change, its epoch says which history the counter belongs to."""

    __tablename__ = "refit"

    id: Mapped[str] = mapped_column(String(40), primary_key=True)
    seq: Mapped[int] = mapped_column(BigInteger, default=0)
    epoch: Mapped[str] = mapped_column(String(40))
    last_stamp: Mapped[str] = mapped_column(String(40), default="")
    recovery_hash: Mapped[str] = mapped_column(String(64))
    created_at: Mapped[datetime] = mapped_column(Instant)
