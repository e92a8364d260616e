"""Snapshots of refits, prepared and packed, so that a new device costs neither the merge nor the packer anything."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Instant


class SnapshotPage(Base):
    """One page of everything that lived in a refit when its counter was at ``seq``.

    ``version`` is made of what all pages hold. The body is JSON, packed with gzip.
    """

    __tablename__ = "snapshot_page"

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    version: Mapped[str] = mapped_column(String(40), primary_key=True)
    number: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    pages: Mapped[int]
    rows: Mapped[int]
    seq: Mapped[int] = mapped_column(BigInteger)
    made_at: Mapped[datetime] = mapped_column(Instant)
    body: Mapped[bytes] = mapped_column(LargeBinary)
