"""Calls to the alarm processes: whoever writes an alarm that is due wakes those who sleep.

Rules
-----
- It hangs on the session, so that no writer can forget it: a transaction that leaves an alarm to be told, or to be
  tried again, calls with the earliest instant among them. What the bell itself writes while it delivers is ``SILENT``.
- On PostgreSQL the call is a ``NOTIFY`` of the writing transaction: it comes with the commit, and not without it.
- On SQLite each listener has a named pipe in a folder beside the database, and the call is eight bytes into each after
  the commit, less than a pipe takes at once. A pipe that nobody reads is taken away.
- A call that is lost costs time and nothing else: listeners look by themselves now and then.
"""

from __future__ import annotations

import contextlib
import os
import select
import struct
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, cast
from uuid import uuid4

from sqlalchemy import Engine, event, func
from sqlalchemy import select as select_
from sqlalchemy.orm import ORMExecuteState, Session

from tackwatch.store.db import db

SILENT: dict[str, Any] = {"silent": True}  # execution options of what calls nobody
NOW_MS = 0
_CHANNEL = "tackwatch_alarm"
_NOTE = "earliest_due_ms"
_WAITS_FOR = {"due": "due_at", "claimed": "lease_until"}
_CALL = struct.Struct("!q")
_ECHO_S = 5.0
CHECK_S = 300.0  # a line that broke without a word is noticed within that


class DeafError(OSError):
    """No call can be heard on this line."""


def watch(model: type[Any]) -> None:
    """Let every transaction that leaves a row of this model due call."""

    def executed(state: ORMExecuteState) -> None:
        mapper = state.bind_mapper
        if mapper is None or mapper.class_ is not model or state.is_select or state.is_delete:
            return
        if not state.execution_options.get("silent"):
            given = state.parameters
            rows = [{}] if given is None else [given] if isinstance(given, Mapping) else given
            _note(state.session, rows)

    def flushing(session: Session, *_: object) -> None:
        if any(isinstance(one, model) for one in (*session.new, *session.dirty)):
            _note(session, [{}])

    event.listen(db.session, "do_orm_execute", executed)
    event.listen(db.session, "before_flush", flushing)


def _note(session: Session, rows: Iterable[Mapping[str, Any]]) -> None:
    due = [
        _ms_of(row.get(_WAITS_FOR[row.get("state", "due")]))
        for row in rows
        if row.get("state", "due") in _WAITS_FOR
    ]
    if due:
        session.info[_NOTE] = min(*due, session.info.get(_NOTE, due[0]))


def _ms_of(at: datetime | None) -> int:
    """Give an instant in milliseconds; where a statement does not say when, one looks now."""
    return NOW_MS if at is None else round(at.timestamp() * 1000)


def _before_commit(session: Session) -> None:
    if session.in_nested_transaction() or db.engine.dialect.name != "postgresql":
        return
    session.flush()
    ms = session.info.pop(_NOTE, None)
    if ms is not None:
        session.execute(select_(func.pg_notify(_CHANNEL, str(ms))))


def _after_commit(session: Session) -> None:
    if not session.in_nested_transaction():
        ms = session.info.pop(_NOTE, None)
        if ms is not None:
            _write_to_pipes(folder_of(db.engine), ms)


def _forget(session: Session) -> None:
    session.info.pop(_NOTE, None)


event.listen(db.session, "before_commit", _before_commit)
event.listen(db.session, "after_commit", _after_commit)
event.listen(db.session, "after_rollback", _forget)


def folder_of(engine: Engine) -> Path:
    """Give the folder beside a SQLite database in which its listeners are."""
    file = Path(engine.url.database or "")
    return file.with_name(f"{file.name}-calls")


def _write_to_pipes(folder: Path, ms: int) -> None:
    for pipe in folder.glob("*.call"):
        with contextlib.suppress(OSError):  # full: it is read soon enough
            try:
                to = os.open(pipe, os.O_WRONLY | os.O_NONBLOCK)
            except OSError:  # its reader is dead
                pipe.unlink(missing_ok=True)
                continue
            try:
                os.write(to, _CALL.pack(ms))
            finally:
                os.close(to)


class Ear:
    """Hears calls until it is closed; raises when the line breaks.

    Parameters
    ----------
    engine
        The database whose writers are listened to.

    Raises
    ------
    DeafError
        When no call would be heard, such as behind a pooler that passes none on.
    """

    def __init__(self, engine: Engine) -> None:
        postgres = engine.dialect.name == "postgresql"
        self._line: _Notices | _Pipe = _Notices(engine) if postgres else _Pipe(folder_of(engine))
        self._closed, self._closing = os.pipe()

    def __enter__(self) -> Ear:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self._line.close()
        for end in (self._closed, self._closing):
            os.close(end)

    def calls(self) -> Iterator[datetime]:
        """Give the instants at which something that was written falls due, as they are called."""
        while True:
            ready, _, _ = select.select([self._line.fileno(), self._closed], [], [], CHECK_S)
            if self._closed in ready:
                return
            if not ready:
                self._line.check()
            elif (heard := self._line.read()) is not None:
                yield datetime.fromtimestamp(heard / 1000, UTC)

    def close(self) -> None:
        """Let ``calls`` end; may be called from another thread."""
        os.write(self._closing, b".")


class _Pipe:
    """The named pipe of one listener."""

    def __init__(self, folder: Path) -> None:
        folder.mkdir(mode=0o700, exist_ok=True)
        name = f"{os.getpid()}-{uuid4().hex[:8]}"
        unread = folder / f"{name}.new"
        self._path = folder / f"{name}.call"
        os.mkfifo(unread, 0o600)
        # for writing too: so it never ends, whoever closes the other side
        self._reading = os.open(unread, os.O_RDWR | os.O_NONBLOCK)
        unread.rename(self._path)  # only now: a pipe without a reader is taken away

    def fileno(self) -> int:
        return self._reading

    def read(self) -> int | None:
        data = os.read(self._reading, 512 * _CALL.size)
        return min((ms for (ms,) in _CALL.iter_unpack(data)), default=None)

    def check(self) -> None:
        if not self._path.exists():
            raise DeafError("the pipe was taken away")

    def close(self) -> None:
        self._path.unlink(missing_ok=True)
        os.close(self._reading)


class _Notices:
    """A connection of its own that listens."""

    def __init__(self, engine: Engine) -> None:
        pooled = engine.raw_connection()
        self._connection = cast(Any, pooled.driver_connection)
        pooled.detach()  # the pool shall not have it back
        self._connection.rollback()
        self._connection.autocommit = True
        try:
            self._connection.execute(f"LISTEN {_CHANNEL}")
            self._hear_own_voice(engine)
        except BaseException:
            self.close()
            raise

    def _hear_own_voice(self, engine: Engine) -> None:
        voice = uuid4().hex
        with engine.begin() as another:
            another.execute(select_(func.pg_notify(_CHANNEL, voice)))
        heard = self._connection.notifies(timeout=_ECHO_S)
        if not any(notice.payload == voice for notice in heard):
            raise DeafError("the database passes no calls on: is there a pooler between?")
        heard.close()

    def fileno(self) -> int:
        return int(self._connection.fileno())

    def read(self) -> int | None:
        texts = [notice.payload for notice in self._connection.notifies(timeout=0)]
        return min((int(text) for text in texts if text.isdecimal()), default=None)

    def check(self) -> None:
        self._connection.execute("SELECT 1")

    def close(self) -> None:
        self._connection.close()
