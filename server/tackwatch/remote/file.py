"""The file in which a device keeps everything: one SQLite database, changed in whole transactions only.

Rules
-----
- A transaction is on the disk entirely or not at all, whenever the power goes (rollback journal, full synchronisation).
- Several processes may use one file; whoever writes holds SQLite's write lock from its ``BEGIN`` on.
- The key lies in the file, so only its owner may read it.
- A change of the tables is a new step in ``_STEPS``; older files are brought up when they are opened.
"""

from __future__ import annotations

import json
import os
import sqlite3
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from sqlite3 import Connection
from typing import Any

from tackwatch.remote.errors import StoreError

_STEPS = (
    """
    CREATE TABLE meta (name TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
    CREATE TABLE known (
        what TEXT, id TEXT, kind TEXT NOT NULL, row TEXT NOT NULL, PRIMARY KEY (what, id)
    ) WITHOUT ROWID;
    CREATE TABLE aside (
        what TEXT, id TEXT, kind TEXT NOT NULL, row TEXT NOT NULL, PRIMARY KEY (what, id)
    ) WITHOUT ROWID;
    CREATE TABLE operation (
        n INTEGER PRIMARY KEY, at TEXT NOT NULL, act TEXT NOT NULL, actions TEXT NOT NULL,
        status TEXT NOT NULL, problem TEXT, acknowledged_ms INTEGER
    );
    CREATE INDEX operation_status ON operation (status, n);
    CREATE TABLE news (id INTEGER PRIMARY KEY AUTOINCREMENT, what TEXT NOT NULL, before TEXT, after TEXT);
    """,
)
VERSION = len(_STEPS)
_APPLICATION = 0x7AC4_3A7C  # so that another program's database is not taken for one of these
_WAIT_S = 60


class File:
    """An open file.

    Raises
    ------
    StoreError
        When it cannot be opened, or was not made by this program.
    """

    def __init__(self, path: Path, *, new: bool = False) -> None:
        self.path = path
        if new:
            _make(path)
        elif not path.is_file():
            raise StoreError(f"There is no file {path}. 'tackwatch join' makes one.")
        with self.plain_errors():
            self.db = sqlite3.connect(
                path, timeout=_WAIT_S, isolation_level=None, factory=Connection
            )
            self.db.row_factory = sqlite3.Row
            self.db.execute("PRAGMA synchronous = EXTRA")
            self._bring_up(new)

    def close(self) -> None:
        """Close the file."""
        self.db.close()

    @contextmanager
    def writing(self) -> Iterator[sqlite3.Connection]:
        """Run a block as one transaction: all of it is on the disk in the end, or none."""
        with self.plain_errors():
            self.db.execute("BEGIN IMMEDIATE")
            try:
                yield self.db
                self.db.execute("COMMIT")
            except BaseException:
                if self.db.in_transaction:
                    self.db.rollback()
                raise

    @contextmanager
    def reading(self) -> Iterator[sqlite3.Connection]:
        """Run a block that sees one state of the file."""
        with self.plain_errors():
            self.db.execute("BEGIN")
            try:
                yield self.db
            finally:
                if self.db.in_transaction:
                    self.db.rollback()

    @contextmanager
    def plain_errors(self) -> Iterator[None]:
        """Say in one sentence what the disk or SQLite has against it."""
        try:
            yield
        except sqlite3.Error as error:
            raise StoreError(f"The file {self.path} cannot be used: {error}.") from error

    def _bring_up(self, new: bool) -> None:
        with self.writing() as db:
            (application,) = db.execute("PRAGMA application_id").fetchone()
            (version,) = db.execute("PRAGMA user_version").fetchone()
            if not new and application != _APPLICATION:
                raise StoreError(f"The file {self.path} was not made by 'tackwatch join'.")
            if version > VERSION:
                raise StoreError(f"A newer version of this program made the file {self.path}.")
            for step in _STEPS[version:]:
                for statement in filter(str.strip, step.split(";")):
                    db.execute(statement)
            if version < VERSION:
                db.execute(f"PRAGMA application_id = {_APPLICATION}")
                db.execute(f"PRAGMA user_version = {VERSION}")


def _make(path: Path) -> None:
    try:
        os.close(os.open(path, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
    except FileExistsError:
        raise StoreError(f"The file {path} is there already; nothing was changed.") from None
    except OSError as error:
        raise StoreError(f"The file {path} cannot be made: {error.strerror}.") from error


def packed(value: Any) -> str:
    """Give JSON as it lies in the file."""
    return json.dumps(value, ensure_ascii=False, separators=(",", ":"))


def put(db: sqlite3.Connection, table: str, what: str, rows: Iterable[dict[str, Any]]) -> None:
    """Put rows in the place of their namesakes."""
    db.executemany(
        f"INSERT OR REPLACE INTO {table} (what, id, kind, row) VALUES (?, ?, ?, ?)",  # noqa: S608
        [(what, row["id"], row["kind"], packed(row)) for row in rows],
    )


def get(db: sqlite3.Connection, table: str, what: str, id_: str) -> dict[str, Any] | None:
    """Give one row."""
    query = f"SELECT row FROM {table} WHERE what = ? AND id = ?"  # noqa: S608
    found = db.execute(query, (what, id_)).fetchone()
    return json.loads(found["row"]) if found else None
