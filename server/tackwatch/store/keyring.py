"""Secrets of the server itself: read, and made once however many processes start at the same moment."""

from __future__ import annotations

from typing import Any

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db, writing
from tackwatch.store.models import KeyringEntry


def get(name: str) -> str | None:
    """Give a secret, or ``None`` when it was never made."""
    return db.session.scalar(select(KeyringEntry.value).where(KeyringEntry.name == name))


def put_if_absent(name: str, value: str) -> str:
    """Keep a secret unless one of that name is kept already, and give the one that is kept.

    Opens a writing transaction of its own, so it may not be called inside another.
    """
    with writing():
        db.session.execute(_insert(name, value))
        kept = get(name)
    if kept is None:
        raise LookupError(f"the secret {name} was not kept")
    return kept


def _insert(name: str, value: str) -> Any:
    dialect = db.session.get_bind().dialect.name
    insert = postgresql.insert if dialect == "postgresql" else sqlite.insert
    return insert(KeyringEntry).values(name=name, value=value).on_conflict_do_nothing()
