"""An invented refit with persons and phones, written straight into the tables."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy import select

from tackwatch.store.db import db, writing
from tackwatch.store.models import Alarm, Device, ItemRow, PushSubscription, Refit
from tackwatch.trade.warnings import iso_of
from tackwatch.work.keep_alarms import Kept, Wanted, keep
from tackwatch.work.missed import KIND as MISSED

NOON = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
STAMP = "019c2f3a4b5c0000-server000000"


def minutes(number: float) -> timedelta:
    return timedelta(minutes=number)


class Yard:
    """One refit; all its rows are invented."""

    def __init__(self, time_zone: str = "Europe/Lisbon") -> None:
        self.refit_id = str(uuid.uuid4())
        with writing():
            db.session.add(
                Refit(id=self.refit_id, epoch="e", recovery_hash="", created_at=NOON, seq=0)
            )
            db.session.flush()
            self._item("refit", self.refit_id, {"name": "Test refit", "time_zone": time_zone})

    def member(self, language: str = "en", devices: int = 1, **fields: Any) -> str:
        member_id = str(uuid.uuid4())
        with writing():
            self._item("member", member_id, {"name": "A", "language": language, **fields})
        for _ in range(devices):
            self.device(member_id)
        return member_id

    def device(self, member_id: str, push: Mapping[str, str] | None = None) -> str:
        device_id = uuid.uuid4().hex[:12]
        with writing():
            db.session.add(
                Device(
                    id=device_id,
                    refit_id=self.refit_id,
                    member_id=member_id,
                    key_hash=uuid.uuid4().hex,
                    created_at=NOON,
                )
            )
            db.session.flush()
            if push is not None:
                db.session.add(
                    PushSubscription(
                        device_id=device_id,
                        refit_id=self.refit_id,
                        member_id=member_id,
                        created_at=NOON,
                        **push,
                    )
                )
        return device_id

    def revoke(self, device_id: str) -> None:
        with writing():
            db.session.get_one(Device, device_id).revoked_at = NOON

    def keep(
        self,
        *wanted: Wanted,
        now: datetime = NOON,
        seen: Mapping[tuple[str, str], datetime] | None = None,
        ended: Mapping[tuple[str, str], Mapping[str, Any]] | None = None,
    ) -> Kept:
        with writing():
            return keep(self.refit_id, wanted, seen or {}, now, ended)

    def alarms(self) -> list[Alarm]:
        """Give the alarms of clocks and steps, without notices of missed ones."""
        return [alarm for alarm in self._all() if alarm.kind != MISSED]

    def notices(self) -> list[Alarm]:
        """Give the notices of missed alarms."""
        return [alarm for alarm in self._all() if alarm.kind == MISSED]

    def _all(self) -> list[Alarm]:
        db.session.rollback()
        db.session.expire_all()
        query = select(Alarm).where(Alarm.refit_id == self.refit_id).order_by(Alarm.id)
        return list(db.session.scalars(query))

    def states(self) -> dict[str, str]:
        return {alarm.alarm_id: alarm.state for alarm in self.alarms()}

    def one(self) -> Alarm:
        (alarm,) = self.alarms()
        return alarm

    def change(self, **values: Any) -> None:
        """Change the only alarm behind everybody's back."""
        with writing():
            for name, value in values.items():
                setattr(self.one_now(), name, value)

    def one_now(self) -> Alarm:
        return db.session.scalars(select(Alarm).where(Alarm.refit_id == self.refit_id)).one()

    def subscriptions(self) -> list[str]:
        db.session.rollback()
        query = select(PushSubscription.device_id).where(PushSubscription.refit_id == self.refit_id)
        return list(db.session.scalars(query))

    def _item(self, kind: str, id_: str, fields: dict[str, Any]) -> None:
        db.session.add(
            ItemRow(
                refit_id=self.refit_id,
                id=id_,
                kind=kind,
                at=STAMP,
                fields=fields,
                stamps={},
                sets={},
                seq=1,
            )
        )


def wanted(
    member_id: str,
    due_at: datetime,
    alarm: str = "coat",
    kind: str = "recoat_closing",
    useless_after: datetime | None = None,
    **params: Any,
) -> Wanted:
    """Give a wanted warning whose window closes an hour after it is due, unless told otherwise."""
    useless_after = useless_after or due_at + timedelta(hours=1)
    known = {
        "opens_at": iso_of(due_at - minutes(60)),
        "last_start_at": iso_of(due_at + minutes(30)),
        "closes_at": iso_of(useless_after),
        "product": "Epoxy primer, generic",
        "zone": "Port hull",
        **params,
    }
    return Wanted(member_id, f"{alarm}.{kind}", kind, alarm, due_at, useless_after, known)
