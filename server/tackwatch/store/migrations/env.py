"""Runs migrations on a connection that is handed in, or on the application's engine (``flask db``)."""

from __future__ import annotations

from alembic import context
from sqlalchemy import Connection

import tackwatch.store.models  # noqa: F401 - registers the tables
from tackwatch.store.db import Base, db


def _run(connection: Connection) -> None:
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()


_given = context.config.attributes.get("connection")
if _given is not None:
    _run(_given)
else:
    with db.engine.connect() as _connection:
        _run(_connection)
        _connection.commit()
