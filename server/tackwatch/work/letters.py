"""What is written to persons outside the app: the work says what, the bells know the words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any, Protocol

from tackwatch.store import rows
from tackwatch.work.errors import WorkError


@dataclass(frozen=True, slots=True)
class Reader:
    """Who reads: the person's language, and the refit with its zone."""

    refit_id: str
    member_id: str
    language: str
    time_zone: str
    refit_name: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One alarm in a person's calendar; ``acknowledged_at``: seen, so no calendar rings it any more."""

    alarm_id: str
    kind: str
    due_at: datetime
    useless_after: datetime
    params: dict[str, Any]
    acknowledged_at: datetime | None
    cancelled: bool
    sequence: int
    changed_at: datetime


class MailNotTakenError(WorkError):
    """The mail server did not take a letter; ``status`` is 422 where the address itself is at fault."""

    def __init__(self, code: str, detail: str, status: int) -> None:
        super().__init__(code, detail, "address")
        self.status = status


class Letters(Protocol):
    """Writes to persons."""

    def send_code(self, reader: Reader, to: str, code: str, now: datetime) -> None:
        """Send the code that confirms a mail address; raises ``MailNotTakenError``."""
        ...

    def calendar(self, reader: Reader, entries: Sequence[Entry], *, feed: bool) -> bytes:
        """Write entries as iCalendar: a feed to be read again and again, or what a person keeps once."""
        ...


def reader_of(refit_id: str, member_id: str) -> Reader | None:
    """Give a member as a reader; ``None`` when they are not of the crew."""
    items = rows.load(refit_id, {refit_id, member_id}).items
    member, refit = items.get(member_id), items.get(refit_id)
    if member is None or member.gone or refit is None:
        return None
    return reader_with(refit_id, member_id, member.fields, refit.fields)


def reader_with(
    refit_id: str, member_id: str, member: Mapping[str, Any], refit: Mapping[str, Any]
) -> Reader:
    """Give a member as a reader, from the fields of both."""
    return Reader(
        refit_id=refit_id,
        member_id=member_id,
        language=str(member.get("language") or "en"),
        time_zone=str(refit["time_zone"]),
        refit_name=str(refit["name"]),
    )
