"""The simulated server: the real application in this process, with seeded chance, and its database put back each time.

It can be killed between any two statements, hand out a copy of its database, and come back from one.
"""

from __future__ import annotations

import base64
import gzip
import json
import re
import shutil
import sqlite3
from collections.abc import Callable
from contextlib import closing
from dataclasses import dataclass, field
from email.utils import format_datetime
from pathlib import Path
from random import Random
from typing import Any

import psycopg
import structlog
from flask import Flask
from sqlalchemy import event

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import db as database
from tackwatch.store.db import db
from tackwatch.work import snapshot, sync
from tackwatch.work.ports import Ports
from tackwatch.work.reckon import refit_at
from tackwatch.work.restored import restored
from tests.simulation import refit
from tests.simulation.chance import SeededChance
from tests.simulation.phones import Asked
from tests.simulation.turns import Turns
from tests.support.phone import Phone
from tests.support.tables import Snapshot, empty
from tests.support.wires import Answer, ClientWire, call
from tests.support.world import StandingClock

ELSEWHERE = "elsewhere"


class KilledError(BaseException):
    """The server's process is gone; nothing in it may catch this."""


@dataclass(frozen=True, slots=True)
class Key:
    """A device's key, and whose it is."""

    refit_id: str
    member_id: str
    device_id: str
    key: str
    role: str
    name: str


@dataclass
class House:
    """The application on one database, with the refits that every history begins with."""

    folder: Path
    url: str
    clock: StandingClock = field(default_factory=StandingClock)
    chance: SeededChance = field(default_factory=SeededChance)
    keys: list[Key] = field(default_factory=list)
    given: list[Key] = field(default_factory=list)  # every key that was ever handed out
    other: Key | None = None

    def __post_init__(self) -> None:
        settings = Settings(
            data_dir=self.folder, database_url=self.url, sign_in_per_minute=1_000_000
        )
        self.app: Flask = create_app(settings, Ports(self.clock, self.chance))
        structlog.configure(processors=[_silence])
        self.wire = ClientWire(self.app.test_client())
        self._file = Path(self.url.removeprefix("sqlite:///"))
        self.is_sqlite = self.url.startswith("sqlite:")
        self._die_at: int | None = None
        self._turns: Turns | None = None
        self._looking: Any = None
        with self.app.app_context():
            event.listen(db.engine, "before_cursor_execute", self._execute)
            event.listen(db.engine, "commit", lambda one: self._count("COMMIT", one))
            event.listen(db.engine, "rollback", lambda one: self._step("COMMIT", one))
        self._began_at = self.clock.at
        self._furnish()
        self._start = self.copy()

    def close(self) -> None:
        self._close_eye()
        self.app.extensions["tackwatch"].hub.stop()
        self._let_go()

    # --- the beginning -----------------------------------------------------------------------------------------------

    def _furnish(self) -> None:
        """Make the refit of the histories, and another one that nobody of its crew may see."""
        body = {
            "name": "Wanderer", "time_zone": "Europe/Lisbon", "launch_at": "2026-04-01T08:00:00Z",
            "owner_name": "Olga", "language": "en", "device_name": "o", "with_products": False,
        }  # fmt: skip
        made = call(self.wire, "POST", "/api/refits", body=body).json
        owner = Key(role="owner", name="Olga", **_key(made))
        self.keys = [owner]
        self.given = [owner]
        for role, name in (("hand", "Hank"), ("hand", "Hilda"), ("viewer", "Vera")):
            self.keys.append(self.aboard(owner, {"role": role, "name": name}))
        self.keys.append(self.aboard(owner, {"member_id": owner.member_id}, "owner", "Olga"))
        self._lay_out(self.aboard(owner, {"member_id": owner.member_id}, "owner", "Olga"))
        there = {**body, "name": ELSEWHERE, "owner_name": ELSEWHERE}
        self.other = Key(
            role="owner",
            name=ELSEWHERE,
            **_key(call(self.wire, "POST", "/api/refits", body=there).json),
        )

    def _lay_out(self, key: Key) -> None:
        """Let a device that no history uses make the refit's first rows."""
        known = {name: getattr(key, name) for name in ("refit_id", "member_id", "device_id", "key")}
        phone = Phone(wire=self.wire, now_ms=lambda: self.clock.ms, **known)
        refit.lay_out(phone, self.chance.new_id)

    def aboard(self, owner: Key, asked: dict[str, Any], role: str = "", name: str = "") -> Key:
        """Invite somebody and let them in."""
        token = self.invite(owner, asked)
        made = call(
            self.wire, "POST", "/api/invites/claim", body={"token": token, "device_name": ""}
        )
        key = Key(role=role or asked["role"], name=name or asked["name"], **_key(made.json))
        self.given.append(key)
        return key

    def invite(self, owner: Key, asked: dict[str, Any]) -> str:
        """Give the token of an invite."""
        path = f"/api/refits/{owner.refit_id}/invites"
        return str(call(self.wire, "POST", path, key=owner.key, body=asked).json["token"])

    def begin(self, seed: int) -> None:
        """Put everything back to the beginning."""
        self.given = list(self.keys)
        self.clock.at = self._began_at
        self.chance.random = Random(seed)
        self._put(self._start)
        for place in self.folder.iterdir():
            if place.is_dir():
                shutil.rmtree(place)
        self._cut(Random(seed))

    def _cut(self, chance: Random) -> None:
        """Cut answers and snapshots small in some histories, as a refit of ten thousand rows would have them."""
        sync.PAGE_ROWS = chance.choice((5_000, 5_000, 5_000, 6, 12))
        snapshot.WORTH_FROM = chance.choice((500, 500, 5))
        snapshot.PAGE_ROWS = chance.choice((9, 30))
        snapshot.MOST_BEHIND = chance.choice((2, 1_000))

    # --- serving -----------------------------------------------------------------------------------------------------

    def serve(self, asked: Asked, die_at: int | None = None) -> Answer:
        """Answer a request.

        Raises
        ------
        KilledError
            When the process was killed at its statement number ``die_at``.
        """
        body = asked.body.encode() if asked.body is not None else None
        if asked.packed and body is not None:
            body = base64.b64decode(body)
        self._die_at = die_at
        try:
            return self._as_heard(self.wire.send(asked.method, asked.path, asked.headers, body))
        except KilledError:
            self._let_go()
            raise
        finally:
            self._die_at = None

    def _as_heard(self, answer: Answer) -> Answer:
        """Do what stands between an application and a page: the date is written down, what is packed is unpacked."""
        headers = {**answer.headers, "date": format_datetime(self.clock.at, usegmt=True)}
        content = answer.content
        if headers.pop("content-encoding", "") == "gzip":
            content = gzip.decompress(content)
        return Answer(answer.status, headers, content)

    def serve_both(self, both: list[Asked], chance: Random) -> list[Answer]:
        """Answer two requests at once, as two processes would, taking turns statement by statement."""
        bodies = [one.body.encode() if one.body is not None else None for one in both]
        wires = [ClientWire(self.app.test_client()) for _ in both]

        def work(at: int) -> Callable[[], Answer]:
            one = both[at]
            return lambda: wires[at].send(one.method, one.path, one.headers, bodies[at])

        watched = None if self.is_sqlite else self.url.replace("+psycopg", "")
        self._turns = Turns(chance, [work(0), work(1)], watched)
        queue, database._WRITERS = database._WRITERS, _NoQueue()
        try:
            return [self._as_heard(answer) for answer in self._turns.run()]
        finally:
            self._turns, database._WRITERS = None, queue

    def _execute(self, one: Any, _: Any, statement: str, *__: Any) -> None:
        self._count(statement, one)

    def _count(self, statement: str, one: Any) -> None:
        self._step(statement, one)
        if self._die_at is None:
            return
        self._die_at -= 1
        if self._die_at <= 0:
            raise KilledError

    def _step(self, statement: str, one: Any) -> None:
        if self._turns is not None:
            backend = None if self.is_sqlite else one.connection.driver_connection.info.backend_pid
            self._turns.step(statement, backend)

    def _close_eye(self) -> None:
        if self._looking is not None:
            self._looking.close()
            self._looking = None

    def _let_go(self) -> None:
        with self.app.app_context():
            db.session.remove()
            db.engine.dispose()

    def forget(self) -> None:
        """Be another process from now on: nothing that was kept in memory is left."""
        self._let_go()

    # --- backups -----------------------------------------------------------------------------------------------------

    def copy(self) -> Any:
        """Give a copy of the database as it is now."""
        if not self.is_sqlite:
            return Snapshot.take(self.app)
        with (
            closing(sqlite3.connect(self._file)) as live,
            closing(sqlite3.connect(":memory:")) as to,
        ):
            live.backup(to)
            return to.serialize()

    def restore(self, copy: Any) -> None:
        """Come back from a copy, and tell the phones by a new epoch."""
        self._put(copy)
        with self.app.app_context():
            restored(self.app.extensions["tackwatch"].ports)

    def _put(self, copy: Any) -> None:
        self._let_go()
        self._close_eye()
        if not self.is_sqlite:
            empty(self.app)
            copy.put_back(self.app)
            return
        for ending in ("-wal", "-shm"):
            Path(f"{self._file}{ending}").unlink(missing_ok=True)
        self._file.write_bytes(copy)

    # --- what stands there, past the application ---------------------------------------------------------------------

    def rows(self, query: str, **given: Any) -> list[dict[str, Any]]:
        """Give the rows of a query, with their documents read."""
        found = self._eye().execute(query if self.is_sqlite else _percent(query), given)
        names = [column[0] for column in found.description]
        return [{name: _read(name, row[at]) for at, name in enumerate(names)} for row in found]

    def _eye(self) -> Any:
        """Give a connection past the application's own, which only reads."""
        if self._looking is None:
            if self.is_sqlite:
                self._looking = sqlite3.connect(self._file, isolation_level=None)
            else:
                self._looking = psycopg.connect(self.url.replace("+psycopg", ""), autocommit=True)
        return self._looking

    def reckoned(self) -> dict[str, Any]:
        """Give what the server derives of the refit now, from its rows alone."""
        with self.app.app_context():
            found = refit_at(self.keys[0].refit_id, self.clock.at)
            db.session.rollback()
        return found


class _NoQueue:
    """In the place of the lock for which the writers of one process queue: two processes share none."""

    def acquire(self, timeout: float) -> bool:
        del timeout
        return False

    def release(self) -> None:
        raise AssertionError("it was never acquired")


_DOCUMENTS = frozenset(
    ("fields", "stamps", "sets", "body", "kept", "lost", "actions", "refusal", "params", "outcome")
)


def _percent(query: str) -> str:
    """Give a query with its parameters as PostgreSQL's driver has them."""
    return re.sub(r":(\w+)", r"%(\1)s", query)


def _read(name: str, value: Any) -> Any:
    return json.loads(value) if name in _DOCUMENTS and isinstance(value, str) else value


def _key(made: dict[str, Any]) -> dict[str, str]:
    return {name: made[name] for name in ("refit_id", "member_id", "device_id", "key")}


def _silence(*_: Any) -> Any:
    raise structlog.DropEvent
