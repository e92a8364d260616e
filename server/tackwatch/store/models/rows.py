"""What syncs: items, records and differences with their number, and the log of all operations.

``seq`` is the refit's counter when the row last changed. ``writer`` is the device whose operation left the row exactly
as that device expects it, ``None`` when the merge made something else of it; ``seq_others`` is the last number under
which anybody else changed the row. So a device is sent ``seq > cursor`` unless only its own echo is new.
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Document, Instant


class ItemRow(Base):
    """An item: fields by last writer, sets by tags."""

    __tablename__ = "item"
    __table_args__ = (Index(None, "refit_id", "seq"), Index(None, "refit_id", "kind"))

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    id: Mapped[str] = mapped_column(String(40), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    at: Mapped[str] = mapped_column(String(40))
    fields: Mapped[dict[str, Any]] = mapped_column(Document)
    stamps: Mapped[dict[str, Any]] = mapped_column(Document)
    sets: Mapped[dict[str, Any]] = mapped_column(Document)
    gone: Mapped[bool] = mapped_column(default=False)
    seq: Mapped[int] = mapped_column(BigInteger)
    seq_others: Mapped[int] = mapped_column(BigInteger, default=0)
    seq_made: Mapped[int] = mapped_column(BigInteger, default=0, server_default="0")
    writer: Mapped[str | None] = mapped_column(String(12))


class RecordRow(Base):
    """A record: added once, never changed."""

    __tablename__ = "record"
    __table_args__ = (Index(None, "refit_id", "seq"), Index(None, "refit_id", "kind"))

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    id: Mapped[str] = mapped_column(String(40), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    at: Mapped[str] = mapped_column(String(40))
    body: Mapped[dict[str, Any]] = mapped_column(Document)
    replaces: Mapped[str | None] = mapped_column(String(40))
    void: Mapped[bool] = mapped_column(default=False)
    seq: Mapped[int] = mapped_column(BigInteger)
    writer: Mapped[str | None] = mapped_column(String(12))


class DifferenceRow(Base):
    """A field's value that was overwritten by somebody who had not seen it."""

    __tablename__ = "difference"
    __table_args__ = (Index(None, "refit_id", "seq"), Index(None, "refit_id", "item_id"))

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    id: Mapped[str] = mapped_column(String(120), primary_key=True)
    kind: Mapped[str] = mapped_column(String(20))
    item_id: Mapped[str] = mapped_column(String(40))
    field: Mapped[str] = mapped_column(String(40))
    kept: Mapped[dict[str, Any]] = mapped_column(Document)
    lost: Mapped[dict[str, Any]] = mapped_column(Document)
    settled: Mapped[str | None] = mapped_column(String(40))
    seq: Mapped[int] = mapped_column(BigInteger)


class OperationRow(Base):
    """An operation as it was sent, with the stamp it was filed under and the verdict if it was refused."""

    __tablename__ = "operation"
    __table_args__ = (Index(None, "refit_id", "at"),)

    device_id: Mapped[str] = mapped_column(ForeignKey("device.id"), primary_key=True)
    n: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    received_at: Mapped[datetime] = mapped_column(Instant)
    sent: Mapped[str] = mapped_column(String(40))
    at: Mapped[str] = mapped_column(String(40))
    act: Mapped[str] = mapped_column(String(40))
    actions: Mapped[list[Any]] = mapped_column(Document)
    refusal: Mapped[dict[str, Any] | None] = mapped_column(Document)
