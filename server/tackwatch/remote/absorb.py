"""Taking an answer in: verdicts, rows and the cursor in one transaction.

Rules
-----
- Acknowledged operations are applied to the stored rows by the same merge as on the server, since no echo comes.
- They are kept for ninety days, so that a server restored from an older backup is offered them again.
- The first copy, and after ``reset`` each fresh one, is loaded aside; the old one stays in use until it is whole.
- An answer to a question that was asked before another answer was taken in is dropped, like a lost one: the next says
  the same.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import replace
from sqlite3 import Connection
from typing import Any

from tackwatch.merge.apply import apply
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import parse
from tackwatch.merge.operation import Operation, check_shape, named
from tackwatch.merge.state import Item, Record, State
from tackwatch.remote.copy import Copy, Filed, operations, state_for
from tackwatch.remote.file import get, packed, put
from tackwatch.remote.meta import Aside, Meta, read_meta, write_meta
from tackwatch.remote.rows import stamps_in, write_difference, write_row

KEEP_MS = 90 * 86_400_000

Answer = Mapping[str, Any]


def absorb(copy: Copy, answer: Answer, asked: Meta, clock_off_ms: int) -> bool:
    """Take an answer in, whole or not at all.

    Parameters
    ----------
    asked
        What the device knew when it asked.
    clock_off_ms
        How far this machine's clock was found to be off.

    Returns
    -------
    bool
        Whether another round is due at once.
    """
    with copy.file.writing() as db:
        meta = read_meta(db)
        if meta.version != asked.version:
            return True
        meta = replace(meta, clock_off_ms=clock_off_ms, version=meta.version + 1)
        now_ms = copy.now_ms() + clock_off_ms
        acknowledged, moved = _verdicts(db, answer, now_ms)
        all_known = _apply_own(db, meta, acknowledged)
        loading = meta.aside is not None or meta.epoch is None or answer["reset"]
        meta = _take_rows(db, meta, answer)
        if not loading and not all_known:
            # the server took what cannot take effect here: this copy misses a row
            meta = replace(meta, aside=_begin_aside(db, answer["epoch"]))
        meta = replace(
            meta,
            last_stamp=_latest(meta.last_stamp, answer),
            next_n=max(meta.next_n, answer["acknowledged_n"] + 1),
        )
        write_meta(db, meta)
        _let_go(db, now_ms - KEEP_MS)
        left = db.execute("SELECT 1 FROM operation WHERE status = 'waiting' LIMIT 1").fetchone()
        return bool(answer["more"] or meta.aside is not None or (left and moved))


def _verdicts(db: Connection, answer: Answer, now_ms: int) -> tuple[list[Filed], bool]:
    """File the verdicts and put back into the queue what the server lost.

    Gives what was acknowledged now, and whether anything stands otherwise than before.
    """
    last_n = answer["acknowledged_n"]
    refused = {one["n"]: one["problem"] for one in answer["refused"]}
    settled = operations(db, "status = 'waiting' AND n <= ? ORDER BY n", (last_n,))
    db.executemany(
        "UPDATE operation SET status = 'refused', problem = ? WHERE n = ?",
        [(packed(refused[one.n]), one.n) for one in settled if one.n in refused],
    )
    acknowledged = [one for one in settled if one.n not in refused]
    db.executemany(
        "UPDATE operation SET status = 'acknowledged', acknowledged_ms = ? WHERE n = ?",
        [(now_ms, one.n) for one in acknowledged],
    )
    lost = db.execute(
        """
        UPDATE operation SET status = 'waiting', problem = NULL, acknowledged_ms = NULL
        WHERE n > ? AND status != 'waiting'
        """,
        (last_n,),
    )
    return acknowledged, bool(settled) or lost.rowcount > 0


def _take_rows(db: Connection, meta: Meta, answer: Answer) -> Meta:
    """Store the rows of an answer with the cursor that speaks of them, or aside while a whole copy comes."""
    here = {"cursor": answer["cursor"], "epoch": answer["epoch"]}
    first = meta.epoch is None and meta.aside is None
    aside = _begin_aside(db, answer["epoch"]) if answer["reset"] or first else meta.aside
    if aside is None:
        _tell(db, meta, answer["changes"], answer["differences"])
        _store(db, "known", answer["changes"], answer["differences"])
        return replace(meta, **here)
    _store(db, "aside", answer["changes"], answer["differences"])
    if answer["more"]:
        return replace(meta, aside=replace(aside, **here))
    _swap(db, meta)
    return replace(meta, aside=None, **here)


def _begin_aside(db: Connection, epoch: str) -> Aside:
    db.execute("DELETE FROM aside")
    return Aside(epoch)


def _swap(db: Connection, meta: Meta) -> None:
    """Put the fresh copy in the place of the old one; the server has sent back what was done while it came."""
    rows = [json.loads(one["row"]) for one in db.execute("SELECT row FROM aside")]
    differences = [one for one in rows if "kept" in one]
    _tell(db, meta, [one for one in rows if "kept" not in one], differences)
    db.execute("DELETE FROM known")
    db.execute("INSERT INTO known SELECT * FROM aside")
    db.execute("DELETE FROM aside")


def _apply_own(db: Connection, meta: Meta, done: Iterable[Filed]) -> bool:
    """Apply acknowledged operations to stored rows; false when one could not take effect."""
    all_known = True
    for one in done:
        try:
            check_shape(one.actions)
            state = state_for(db, named(one.actions))
            _, made = apply(state, Operation(one.at, meta.device_id, one.act, one.actions))
        except RefusedError:
            all_known = False
            continue
        _store_state(db, State(made.items, made.records, made.differences))
    return all_known


def _store_state(db: Connection, state: State) -> None:
    rows: list[Item | Record] = [*state.items.values(), *state.records.values()]
    differences = [write_difference(one) for one in state.differences.values()]
    _store(db, "known", [write_row(row) for row in rows], differences)


def _store(
    db: Connection, table: str, rows: Iterable[Mapping[str, Any]], differences: Iterable[Any]
) -> None:
    whole = [dict(row) for row in rows]
    put(db, table, "item", [row for row in whole if "fields" in row])
    put(db, table, "record", [row for row in whole if "fields" not in row])
    put(db, table, "difference", differences)


def _tell(
    db: Connection, meta: Meta, rows: Iterable[Mapping[str, Any]], differences: Iterable[Any]
) -> None:
    """Keep what changed until it was told, if somebody follows; the first copy is no news."""
    if not meta.news or meta.epoch is None:
        return
    for row in (*rows, *differences):
        what = "difference" if "kept" in row else "item" if "fields" in row else "record"
        before = get(db, "known", what, row["id"])
        if before != row:
            db.execute(
                "INSERT INTO news (what, before, after) VALUES (?, ?, ?)",
                (what, packed(before) if before else None, packed(row)),
            )


def _latest(own: str | None, answer: Answer) -> str | None:
    """Give the greatest stamp of our own and of all that came."""
    came = (stamp for row in answer["changes"] for stamp in stamps_in(row))
    stamps = [stamp for stamp in (own, answer["clock"], *came) if stamp]
    return max(stamps, key=parse, default=None)


def _let_go(db: Connection, before_ms: int) -> None:
    """Let go of operations that the server has had for long; only from the front, so that no gap opens."""
    db.execute(
        """
        DELETE FROM operation WHERE n < COALESCE((SELECT MIN(n) FROM operation
            WHERE status != 'acknowledged' OR acknowledged_ms >= ?), 0)
        """,
        (before_ms,),
    )
