"""What a device knows about itself: whose it is, where the server is, and how far it has come."""

from __future__ import annotations

import json
import sqlite3
from dataclasses import asdict, dataclass, fields, replace
from typing import Any

from tackwatch.remote.file import packed


@dataclass(frozen=True, slots=True)
class Aside:
    """How far the loading of a whole fresh copy has come."""

    epoch: str
    cursor: int = 0


@dataclass(frozen=True, slots=True)
class Meta:
    """One device of one refit.

    Parameters
    ----------
    last_stamp
        The greatest stamp made or seen here.
    clock_off_ms
        What is to be added to this machine's clock to have the server's.
    version
        Counts the answers taken in, so that a late one is not taken in over a newer one.
    news
        Whether somebody follows, so that what changes is kept until it was told.
    """

    server: str
    refit_id: str
    member_id: str
    device_id: str
    key: str
    cursor: int = 0
    epoch: str | None = None
    last_stamp: str | None = None
    next_n: int = 1
    clock_off_ms: int = 0
    version: int = 0
    aside: Aside | None = None
    news: bool = False


_NAMES = {field.name for field in fields(Meta)}


def read_meta(db: sqlite3.Connection) -> Meta:
    """Read it; what an older version did not write has its default."""
    found = {row["name"]: json.loads(row["value"]) for row in db.execute("SELECT * FROM meta")}
    known = {name: value for name, value in found.items() if name in _NAMES}
    if known.get("aside") is not None:
        known["aside"] = Aside(known["aside"]["epoch"], known["aside"]["cursor"])
    return Meta(**known)


def write_meta(db: sqlite3.Connection, meta: Meta) -> None:
    """Write it inside a transaction."""
    values: dict[str, Any] = asdict(meta)
    db.executemany(
        "INSERT OR REPLACE INTO meta (name, value) VALUES (?, ?)",
        [(name, packed(value)) for name, value in values.items()],
    )


def change_meta(db: sqlite3.Connection, **changes: Any) -> Meta:
    """Change some of it inside a transaction."""
    meta = replace(read_meta(db), **changes)
    write_meta(db, meta)
    return meta
