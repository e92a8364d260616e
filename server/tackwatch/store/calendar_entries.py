"""What a person's calendar last had of each alarm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db
from tackwatch.store.models import CalendarEntry


@dataclass(frozen=True, slots=True)
class EntryRow:
    """An entry as it is stored."""

    alarm_id: str
    kind: str
    due_at: datetime
    useless_after: datetime
    params: dict[str, Any]
    acknowledged_at: datetime | None
    cancelled: bool
    sequence: int
    changed_at: datetime


_COLUMNS = tuple(getattr(CalendarEntry, name) for name in EntryRow.__slots__)


def of_member(refit_id: str, member_id: str) -> dict[str, EntryRow]:
    """Give a person's entries by alarm id."""
    mine = select(*_COLUMNS).where(
        CalendarEntry.refit_id == refit_id, CalendarEntry.member_id == member_id
    )
    rows = [EntryRow(*row) for row in db.session.execute(mine)]
    return {row.alarm_id: row for row in rows}


def put(refit_id: str, member_id: str, entries: Sequence[EntryRow]) -> None:
    """Keep entries in place of earlier ones."""
    insert = postgresql.insert if db.engine.dialect.name == "postgresql" else sqlite.insert
    for entry in entries:
        values = asdict(entry)
        db.session.execute(
            insert(CalendarEntry)
            .values(refit_id=refit_id, member_id=member_id, **values)
            .on_conflict_do_update(
                index_elements=["refit_id", "member_id", "alarm_id"], set_=values
            )
        )
