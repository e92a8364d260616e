"""Invented refits with many people, each with a phone, and many alarms; written straight into the tables."""

from __future__ import annotations

import time
from base64 import urlsafe_b64encode
from contextlib import closing
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from pathlib import Path
from typing import Any
from uuid import uuid4

from cryptography.hazmat.primitives.asymmetric import ec
from sqlalchemy import insert, select, text
from tests.support.push_receiver import PhoneKeys, b64, open_message
from tools.bench.alarms.push_service import Came

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm, Device, ItemRow, PushSubscription, Refit
from tackwatch.trade.warnings import iso_of

REFITS, MEMBERS = 50, 20
STAMP = "019c2f3a4b5c0000-server000000"
_SECRET = b"0123456789abcdef"


class Harbour:
    """A database with 50 refits of 20 people."""

    def __init__(self, url: str, folder: Path, push_origin: str) -> None:
        self.settings = Settings(data_dir=folder, database_url=url, push_hosts=("127.0.0.1",))
        self.app = create_app(self.settings)
        self._keys = PhoneKeys(ec.generate_private_key(ec.SECP256R1()), _SECRET)
        self.people: list[tuple[str, str, str]] = []  # refit, member, phone
        with self.app.app_context(), writing():
            for _ in range(REFITS):
                self._refit(push_origin)

    def _refit(self, push_origin: str) -> None:
        refit_id, now = str(uuid4()), datetime.now(UTC)
        item = {"at": STAMP, "stamps": {}, "sets": {}, "seq": 1, "refit_id": refit_id}
        fields = {"name": "Invented refit", "time_zone": "Europe/Lisbon"}
        db.session.execute(
            insert(Refit),
            [{"id": refit_id, "epoch": "e", "recovery_hash": "", "created_at": now, "seq": 0}],
        )
        items = [{**item, "id": refit_id, "kind": "refit", "fields": fields}]
        devices: list[dict[str, Any]] = []
        pushes: list[dict[str, Any]] = []
        for number in range(MEMBERS):
            member_id, device_id = str(uuid4()), uuid4().hex[:12]
            language = ("en", "es")[number % 2]
            items.append(
                {
                    **item,
                    "id": member_id,
                    "kind": "member",
                    "fields": {"name": "A", "language": language},
                }
            )
            whose = {"refit_id": refit_id, "member_id": member_id, "created_at": now}
            devices.append({**whose, "id": device_id, "key_hash": uuid4().hex})
            address = {
                "endpoint": f"{push_origin}/push/{device_id}", "p256dh": self._keys.p256dh, "auth": b64(_SECRET),
            }  # fmt: skip
            pushes.append({**whose, "device_id": device_id, **address})
            self.people.append((refit_id, member_id, device_id))
        for model, rows in ((ItemRow, items), (Device, devices), (PushSubscription, pushes)):
            db.session.execute(insert(model), rows)

    def pend(self, count: int) -> None:
        """Let so many alarms wait for the days to come."""
        later = datetime.now(UTC) + timedelta(hours=6)
        with self.app.app_context():
            with writing():
                for at in range(0, count, 5000):
                    rows = [
                        self._row(n, later + timedelta(seconds=20 * n), "later")
                        for n in range(at, min(at + 5000, count))
                    ]
                    db.session.execute(insert(Alarm), rows)
            with db.engine.connect() as connection:  # as the database does by itself in time
                connection.execute(text("ANALYZE"))
                connection.commit()
            if db.engine.dialect.name == "sqlite":
                with closing(db.engine.raw_connection()) as raw:  # outside any transaction
                    raw.cursor().execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def due(
        self, count: int, at: datetime, name: str, apart: timedelta = timedelta(0), start: int = 0
    ) -> None:
        """Let so many alarms fall due, each for another person as far as there are."""
        if not count:
            return
        with self.app.app_context(), writing():
            db.session.execute(
                insert(Alarm), [self._row(start + n, at + n * apart, name) for n in range(count)]
            )

    def left(self, name: str) -> int:
        """Say how many of these are not told yet."""
        with self.app.app_context():
            query = select(db.func.count()).select_from(Alarm)
            mine = query.where(Alarm.source_id == name, Alarm.state.in_(("due", "claimed")))
            left = int(db.session.scalar(mine) or 0)
            db.session.remove()
            return left

    def alarms(self, name: str) -> dict[int, tuple[str, datetime, str, str]]:
        """Give alarm id, due instant, state and phone of each of these."""
        phones = {member: phone for _, member, phone in self.people}
        with self.app.app_context():
            query = select(Alarm.id, Alarm.alarm_id, Alarm.due_at, Alarm.state, Alarm.member_id)
            found = {
                row.id: (row.alarm_id, row.due_at, row.state, phones[row.member_id])
                for row in db.session.execute(query.where(Alarm.source_id == name))
            }
            db.session.remove()
            return found

    def wait_until_told(self, name: str, within_s: float) -> bool:
        """Wait until all of these are told."""
        end = time.monotonic() + within_s
        while self.left(name):
            if time.monotonic() > end:
                return False
            time.sleep(0.5)
        return True

    def opened(self, came: Came) -> bytes:
        """Read a message as the phone does."""
        return open_message(came.sealed, self._keys)

    def close(self) -> None:
        """Let the database go."""
        with self.app.app_context():
            db.session.remove()
            db.engine.dispose()

    def _row(self, number: int, due_at: datetime, name: str) -> dict[str, Any]:
        refit_id, member_id, _ = self.people[number % len(self.people)]
        useless_after = due_at + timedelta(hours=1)
        params = {
            "opens_at": iso_of(due_at - timedelta(hours=1)),
            "last_start_at": iso_of(due_at + timedelta(minutes=30)),
            "closes_at": iso_of(useless_after),
            "product": "Epoxy primer, generic",
            "zone": "Port hull",
        }
        return {
            "refit_id": refit_id, "member_id": member_id, "alarm_id": f"{name}{number}.recoat_closing",
            "kind": "recoat_closing", "source_id": name, "due_at": due_at, "useless_after": useless_after,
            "params": params, "state": "due", "attempts": 0, "outcome": {},
        }  # fmt: skip


def topic_of(alarm_id: str) -> str:
    """Give the topic by which the phone's push service knows an alarm (docs/alarms.md)."""
    return urlsafe_b64encode(sha256(alarm_id.encode()).digest()[:24]).decode()
