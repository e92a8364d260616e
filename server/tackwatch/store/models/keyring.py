"""Secrets of the server itself that are made at first run, such as the key that signs pushes."""

from __future__ import annotations

from sqlalchemy import String, Text
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base


class KeyringEntry(Base):
    """One named secret."""

    __tablename__ = "keyring"

    name: Mapped[str] = mapped_column(String(40), primary_key=True)
    value: Mapped[str] = mapped_column(Text)
