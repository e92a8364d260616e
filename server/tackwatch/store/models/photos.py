"""Photos whose bytes have arrived, and those whose bytes are on their way."""

from __future__ import annotations

from datetime import datetime

from sqlalchemy import BigInteger, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Instant


class PhotoFile(Base):
    """A photo whose bytes have arrived; the file is named by its hash."""

    __tablename__ = "photo_file"

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    media_type: Mapped[str] = mapped_column(String(40))
    size_b: Mapped[int] = mapped_column(BigInteger)
    created_at: Mapped[datetime] = mapped_column(Instant)


class PhotoUpload(Base):
    """A photo that one device has begun to send. How much of it is here, its part file alone says."""

    __tablename__ = "photo_upload"
    __table_args__ = (Index(None, "refit_id"), Index(None, "expires_at"))

    device_id: Mapped[str] = mapped_column(ForeignKey("device.id"), primary_key=True)
    sha256: Mapped[str] = mapped_column(String(64), primary_key=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    size_b: Mapped[int] = mapped_column(BigInteger)
    keep_metadata: Mapped[bool] = mapped_column(default=False)
    expires_at: Mapped[datetime] = mapped_column(Instant)
