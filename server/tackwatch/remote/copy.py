"""A device's own copy of a refit: what is written down here counts at once, whatever the network does.

Rules
-----
- One act is one transaction: the operation, its stamp and the next number are on the disk together or not at all, so
  numbers have no gaps and no doubles, whichever process writes.
- An act is tried on what is known here first; one that cannot take effect is refused with its field and not written.
- Nothing is ever taken out of the queue but by a verdict of the server.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from pathlib import Path
from sqlite3 import Connection
from typing import Any

from tackwatch.merge.apply import apply
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import parse, tick
from tackwatch.merge.operation import Operation, check_shape, named
from tackwatch.merge.state import Item, Record, State
from tackwatch.remote.errors import InputError
from tackwatch.remote.file import File, get, packed
from tackwatch.remote.meta import Meta, change_meta, read_meta, write_meta
from tackwatch.remote.rows import Row, read_difference, read_row

NowMs = Callable[[], int]
"""Gives this machine's own time in milliseconds since 1970 UTC."""


@dataclass(frozen=True, slots=True)
class Filed:
    """One operation of this device; ``status``: waiting, acknowledged or refused, then with ``problem``."""

    n: int
    at: str
    act: str
    actions: list[dict[str, Any]]
    status: str
    problem: dict[str, Any] | None

    def sent(self) -> dict[str, Any]:
        """Give what goes over the wire."""
        return {"n": self.n, "at": self.at, "act": self.act, "actions": self.actions}


class Copy:
    """The copy in an open file."""

    def __init__(self, file: File, now_ms: NowMs) -> None:
        self.file = file
        self.now_ms = now_ms

    @classmethod
    def open(cls, path: Path, now_ms: NowMs) -> Copy:
        """Open the copy in a file.

        Raises
        ------
        StoreError
            When it cannot be opened, or nobody has joined with it.
        """
        return cls(File(path), now_ms)

    def close(self) -> None:
        """Close the file."""
        self.file.close()

    def begin(self, meta: Meta) -> None:
        """Write down in a fresh file whose it is."""
        with self.file.writing() as db:
            write_meta(db, meta)

    def meta(self) -> Meta:
        """Give what the device knows about itself, as it is on the disk now."""
        with self.file.reading() as db:
            return read_meta(db)

    def change(self, **changes: Any) -> None:
        """Change some of that."""
        with self.file.writing() as db:
            change_meta(db, **changes)

    def act(self, name: str, actions: Sequence[dict[str, Any]]) -> Filed:
        """Write one act down, to be sent when the server can be reached.

        Raises
        ------
        InputError
            Naming the field at fault, when the act cannot take effect; nothing is written then.
        StoreError
            When it could not be written, entirely.
        """
        with self.file.writing() as db:
            meta = read_meta(db)
            last = parse(meta.last_stamp) if meta.last_stamp else None
            at = str(tick(last, self.now_ms() + meta.clock_off_ms, meta.device_id))
            _rehearse(db, Operation(at, meta.device_id, name, list(actions)))
            filed = Filed(meta.next_n, at, name, list(actions), "waiting", None)
            db.execute(
                "INSERT INTO operation (n, at, act, actions, status) VALUES (?, ?, ?, ?, 'waiting')",
                (filed.n, at, name, packed(filed.actions)),
            )
            change_meta(db, last_stamp=at, next_n=filed.n + 1)
            return filed

    def operations(self, status: str, most: int = -1) -> list[Filed]:
        """Give this device's operations of a status, oldest first."""
        with self.file.reading() as db:
            return operations(db, "status = ? ORDER BY n LIMIT ?", (status, most))

    def first_n(self) -> int | None:
        """Give the number of the first operation that is still here."""
        with self.file.reading() as db:
            first_n: int | None = db.execute("SELECT MIN(n) FROM operation").fetchone()[0]
            return first_n

    def rows(self, kind: str) -> list[Row]:
        """Give all rows of a kind, with what waits to be sent on top."""
        query = "SELECT id FROM known WHERE kind = ? AND what != 'difference'"
        with self.file.reading() as db:
            state = view(db, [row["id"] for row in db.execute(query, (kind,))])
        found: Iterable[Row] = (*state.items.values(), *state.records.values())
        return sorted((row for row in found if row.kind == kind), key=lambda row: row.at)


def operations(db: Connection, where: str, given: Sequence[Any]) -> list[Filed]:
    """Read operations inside a transaction."""
    return [
        Filed(
            row["n"], row["at"], row["act"], json.loads(row["actions"]), row["status"],
            json.loads(row["problem"]) if row["problem"] else None,
        )
        for row in db.execute(f"SELECT * FROM operation WHERE {where}", given)  # noqa: S608
    ]  # fmt: skip


def state_for(db: Connection, ids: Iterable[str]) -> State:
    """Bring the rows with these ids into a state that the merge can work on."""
    items, records, differences = {}, {}, {}
    for id_ in ids:
        if (row := get(db, "known", "item", id_)) is not None:
            items[id_] = _item(row)
        if (row := get(db, "known", "record", id_)) is not None:
            records[id_] = _record(row)
        if (row := get(db, "known", "difference", id_)) is not None:
            differences[id_] = read_difference(row)
    return State(items, records, differences)


def view(db: Connection, ids: Iterable[str]) -> State:
    """Give rows as the person here sees them: the copy with what waits to be sent on top."""
    waiting = operations(db, "status = 'waiting' ORDER BY n", ())
    state = state_for(db, set(ids).union(*(named(one.actions) for one in waiting)))
    device = read_meta(db).device_id
    for one in waiting:
        try:
            state, _ = apply(state, Operation(one.at, device, one.act, one.actions))
        except RefusedError:
            continue
    return state


def _rehearse(db: Connection, operation: Operation) -> None:
    """Try an act on the copy, and only if that refuses it on what waits as well, which may be much."""
    try:
        check_shape(operation.actions)
        ids = named(operation.actions)
        try:
            apply(state_for(db, ids), operation)
        except RefusedError:
            apply(view(db, ids), operation)
    except RefusedError as error:
        raise InputError(error.detail, error.field) from None


def _item(row: dict[str, Any]) -> Item:
    found = read_row(row)
    assert isinstance(found, Item)  # noqa: S101 - it lies among the items
    return found


def _record(row: dict[str, Any]) -> Record:
    found = read_row(row)
    assert isinstance(found, Record)  # noqa: S101 - it lies among the records
    return found
