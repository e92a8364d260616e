"""Refits: finding one, and taking its lock."""

from __future__ import annotations

from sqlalchemy import select

from tackwatch.store.db import db
from tackwatch.store.models import Refit


def get(refit_id: str) -> Refit | None:
    """Give a refit as it is now, without its lock."""
    return db.session.get(Refit, refit_id)


def lock(refit_id: str) -> Refit | None:
    """Take the refit's lock until the transaction ends; call it inside ``writing()``.

    On SQLite the transaction's own start has locked already; on PostgreSQL the refit's row is locked. Whoever holds the
    lock may number rows, so numbers become visible in their order and a cursor never jumps over one.
    """
    query = (
        select(Refit)
        .where(Refit.id == refit_id)
        .with_for_update()
        .execution_options(populate_existing=True)
    )
    return db.session.scalars(query).one_or_none()


def all_ids() -> list[str]:
    """Give the id of every refit, oldest first."""
    return list(db.session.scalars(select(Refit.id).order_by(Refit.created_at, Refit.id)))
