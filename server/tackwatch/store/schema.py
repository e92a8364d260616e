"""Bringing the database's schema up to what this version of the program needs.

Rules
-----
- All waiting migrations run in one transaction that holds a lock, so that of several processes that start at once one
  does the work and the others find it done: ``BEGIN IMMEDIATE`` on SQLite, an advisory lock on PostgreSQL.
- A database that is further on than the program is refused: an old program must not write what it does not know.
"""

from __future__ import annotations

from pathlib import Path

from alembic import command
from alembic.config import Config
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from alembic.util import CommandError
from sqlalchemy import Connection, text

from tackwatch.store.db import db

MIGRATIONS = Path(__file__).parent / "migrations"
_LOCK = 7_233_981_204  # any fixed number; it names the lock among the database's advisory locks


class SchemaError(RuntimeError):
    """The database's schema cannot be used by this version of the program."""


def newest() -> str:
    """Give the revision that this version of the program needs."""
    return str(ScriptDirectory.from_config(_config()).get_current_head())


def present() -> str | None:
    """Give the database's revision, ``None`` when it is empty."""
    with db.engine.connect() as connection:
        return MigrationContext.configure(connection).get_current_revision()


def bring_up() -> str:
    """Run the migrations that are missing and give the revision that was reached.

    Raises
    ------
    SchemaError
        When the database was written by a newer version of the program.
    """
    head = newest()
    if present() == head:
        return head
    engine = db.engine.execution_options(sqlite_begin="IMMEDIATE")
    with engine.connect() as connection:
        _foreign_keys(connection, on=False)
        try:
            with connection.begin():
                _upgrade(connection, head)
        finally:
            _foreign_keys(connection, on=True)
    return head


def let_go() -> None:
    """Close this process's connections, so that none is shared with processes that it starts."""
    db.session.remove()
    db.engine.dispose()


def _upgrade(connection: Connection, head: str) -> None:
    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:lock)"), {"lock": _LOCK})
    config = _config()
    config.attributes["connection"] = connection
    try:
        command.upgrade(config, head)
    except CommandError as error:
        raise SchemaError(f"The database cannot be brought to revision {head}: {error}") from error


def _foreign_keys(connection: Connection, *, on: bool) -> None:
    """Let SQLite rebuild tables without acting on references; only possible outside a transaction."""
    if connection.dialect.name == "sqlite":
        cursor = connection.connection.cursor()
        cursor.execute(f"PRAGMA foreign_keys={'ON' if on else 'OFF'}")
        cursor.close()


def _config() -> Config:
    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    return config
