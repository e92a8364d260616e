"""Signs of life: who holds claims shows that it lives by something that the system takes away when it dies.

Rules
-----
- On PostgreSQL the sign is an advisory lock of a connection that the holder keeps for nothing else; on SQLite it is a
  lock on a file of the holder's name, in the folder of the calls beside the database. Neither outlasts a ``kill -9``.
- Who has no sign is taken for dead. Where that is wrong (the line of the sign broke), its claims are taken over early,
  as after the end of a lease: what was told comes again under its id, and is shown once.
"""

from __future__ import annotations

import fcntl
import os
import zlib
from collections.abc import Collection
from pathlib import Path
from typing import Any, cast

from sqlalchemy import Engine, text

from tackwatch.store.calls import folder_of
from tackwatch.store.db import db

_LOCKS = 1952539499  # the first half of our advisory locks' keys: "tack"
_HELD = text(
    "SELECT objid::bigint FROM pg_locks WHERE locktype = 'advisory' AND granted AND classid::bigint = :locks"
    " AND database = (SELECT oid FROM pg_database WHERE datname = current_database())"
)


class Sign:
    """The sign of life of one holder of claims, until it is taken down or the process dies."""

    def __init__(self, engine: Engine, name: str) -> None:
        postgres = engine.dialect.name == "postgresql"
        self._sign: _Lock | _File = _Lock(engine, name) if postgres else _File(engine, name)

    def take_down(self) -> None:
        """End it."""
        self._sign.take_down()


class _Lock:
    """An advisory lock of a connection of its own."""

    def __init__(self, engine: Engine, name: str) -> None:
        pooled = engine.raw_connection()
        self._connection = cast(Any, pooled.driver_connection)
        pooled.detach()  # the pool shall not have it back
        self._connection.rollback()
        self._connection.autocommit = True
        key = _key_of(name)
        self._connection.execute(
            "SELECT pg_advisory_lock_shared(%s, %s)", (_LOCKS, key - (key >> 31 << 32))
        )

    def take_down(self) -> None:
        self._connection.close()


class _File:
    """A locked file."""

    def __init__(self, engine: Engine, name: str) -> None:
        path = _file_of(engine, name)
        path.parent.mkdir(mode=0o700, exist_ok=True)
        self._path = path
        self._open = os.open(path, os.O_CREAT | os.O_RDWR, 0o600)
        fcntl.flock(self._open, fcntl.LOCK_EX)

    def take_down(self) -> None:
        self._path.unlink(missing_ok=True)
        os.close(self._open)


def dead(names: Collection[str]) -> set[str]:
    """Give those of the holders who show no sign of life."""
    if not names:
        return set()
    if db.engine.dialect.name != "postgresql":
        return {name for name in names if _is_free(_file_of(db.engine, name))}
    held = set(db.session.scalars(_HELD, {"locks": _LOCKS}))
    return {name for name in names if _key_of(name) not in held}


def _key_of(name: str) -> int:
    return zlib.crc32(name.encode())


def _file_of(engine: Engine, name: str) -> Path:
    return folder_of(engine) / f"{name}.alive"


def _is_free(path: Path) -> bool:
    """Say whether nobody holds a file; one that nobody holds is taken away."""
    try:
        opened = os.open(path, os.O_RDWR)
    except FileNotFoundError:
        return True
    try:
        fcntl.flock(opened, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    else:
        path.unlink(missing_ok=True)
        return True
    finally:
        os.close(opened)
