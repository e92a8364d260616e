"""The database handle, its column types, and how a transaction begins.

Rules
-----
- SQLite runs in WAL mode with full synchronisation; a transaction that will write begins with ``BEGIN IMMEDIATE``, so
  that two writers queue for the lock and neither fails half-way for having read first.
- PostgreSQL locks the refit's row instead (``store.refits.lock``).
- Instants are kept as whole milliseconds since 1970 UTC: the same on both databases, and never naive in Python.
"""

from __future__ import annotations

import threading
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from typing import Any

from flask_sqlalchemy import SQLAlchemy
from sqlalchemy import JSON, BigInteger, Connection, Engine, Integer, MetaData, TypeDecorator, event
from sqlalchemy.dialects.postgresql import JSONB
from sqlalchemy.orm import DeclarativeBase

_NAMES = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_name)s",
    "pk": "pk_%(table_name)s",
}


class Base(DeclarativeBase):
    """Base of every model."""

    metadata = MetaData(naming_convention=_NAMES)


db = SQLAlchemy(model_class=Base, disable_autonaming=True)

Document = JSON().with_variant(JSONB(), "postgresql")
BigId = BigInteger().with_variant(Integer(), "sqlite")


class Instant(TypeDecorator[datetime]):
    """An aware instant, kept as milliseconds since 1970 UTC."""

    impl = BigInteger
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Any) -> int | None:
        """Turn an aware instant into milliseconds."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("an instant must carry its zone")
        return round(value.timestamp() * 1000)

    def process_result_value(self, value: Any | None, dialect: Any) -> datetime | None:
        """Turn milliseconds into an aware instant."""
        return None if value is None else datetime.fromtimestamp(value / 1000, UTC)


def prepare_engine(engine: Engine) -> None:
    """Set up a new engine: pragmas and transaction starts of SQLite."""
    if engine.dialect.name != "sqlite":
        return
    event.listen(engine, "connect", _sqlite_connected)
    event.listen(engine, "begin", _sqlite_begin)


_PATIENCE_S = 15
_WRITERS = threading.Lock()
_PRAGMAS = (
    "journal_mode=WAL",
    "synchronous=FULL",
    "foreign_keys=ON",
    f"busy_timeout={_PATIENCE_S * 1000}",
    # a thousand operations write some hundred pages: let not each such call wait for the moving of them
    "wal_autocheckpoint=8000",
)


@contextmanager
def writing() -> Iterator[None]:
    """Run a block as one writing transaction: committed at its end, rolled back on an error."""
    db.session.rollback()
    with _turn():
        db.session.connection(execution_options={"sqlite_begin": "IMMEDIATE"})
        try:
            yield
            db.session.commit()
        except BaseException:
            db.session.rollback()
            raise


@contextmanager
def _turn() -> Iterator[None]:
    """Let the writers of one process queue: whoever finds SQLite locked sleeps, and looks again only now and then."""
    queues = db.engine.dialect.name == "sqlite" and _WRITERS.acquire(timeout=_PATIENCE_S)
    try:
        yield
    finally:
        if queues:
            _WRITERS.release()


def _sqlite_connected(connection: Any, _: Any) -> None:
    connection.isolation_level = None  # the driver shall not begin transactions by itself
    cursor = connection.cursor()
    for pragma in _PRAGMAS:
        cursor.execute(f"PRAGMA {pragma}")
    cursor.close()


def _sqlite_begin(connection: Connection) -> None:
    mode = connection.get_execution_options().get("sqlite_begin", "DEFERRED")
    connection.exec_driver_sql(f"BEGIN {mode}")
