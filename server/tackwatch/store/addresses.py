"""Persons' addresses: one of each kind for a person, found by person or by a calendar's token."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy import delete, func, or_, select, update
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.store.db import db
from tackwatch.store.models import Address, SentCode


@dataclass(frozen=True, slots=True)
class AddressRow:
    """An address as it is stored."""

    refit_id: str
    member_id: str
    kind: str
    target: str
    secret: str
    with_calendar: bool
    code_hash: str | None
    code_until: datetime | None
    code_tries: int
    made_at: datetime
    confirmed_at: datetime | None
    trouble: str


_COLUMNS = tuple(getattr(Address, name) for name in AddressRow.__slots__)
_KEY = ("refit_id", "member_id", "kind")


def of_member(refit_id: str, member_id: str) -> dict[str, AddressRow]:
    """Give a person's addresses by kind."""
    mine = select(*_COLUMNS).where(Address.refit_id == refit_id, Address.member_id == member_id)
    rows = [AddressRow(*row) for row in db.session.execute(mine)]
    return {row.kind: row for row in rows}


def by_token(token_hash: str) -> AddressRow | None:
    """Give the calendar that a token opens."""
    found = db.session.execute(
        select(*_COLUMNS).where(Address.token_hash == token_hash)
    ).one_or_none()
    return None if found is None else AddressRow(*found)


def put(refit_id: str, member_id: str, kind: str, now: datetime, **values: Any) -> None:
    """Keep an address in place of an earlier one of that kind."""
    insert = postgresql.insert if db.engine.dialect.name == "postgresql" else sqlite.insert
    new = {
        "target": "", "secret": "", "token_hash": None, "with_calendar": False, "code_hash": None,
        "code_until": None, "code_tries": 0, "made_at": now, "confirmed_at": None, "trouble": "",
    } | values  # fmt: skip
    db.session.execute(
        insert(Address)
        .values(refit_id=refit_id, member_id=member_id, kind=kind, **new)
        .on_conflict_do_update(index_elements=list(_KEY), set_=new)
    )


def change(row: AddressRow, **values: Any) -> None:
    """Change an address, unless another was put in its place meanwhile."""
    db.session.execute(update(Address).where(*_is(row)).values(**values))


def drop(refit_id: str, member_id: str, kind: str) -> bool:
    """Forget an address; say whether there was one."""
    one = delete(Address).where(
        Address.refit_id == refit_id, Address.member_id == member_id, Address.kind == kind
    )
    return bool(list(db.session.scalars(one.returning(Address.kind))))


def _is(row: AddressRow) -> list[Any]:
    same = [getattr(Address, name) == getattr(row, name) for name in _KEY]
    return [*same, Address.target == row.target]


def count_code(refit_id: str, member_id: str, target: str, now: datetime) -> None:
    """Note that a code is sent, and forget those of more than a day ago."""
    db.session.execute(delete(SentCode).where(SentCode.sent_at < now - timedelta(days=1)))
    db.session.add(SentCode(refit_id=refit_id, member_id=member_id, target=target, sent_at=now))
    db.session.flush()


@dataclass(frozen=True, slots=True)
class CodesSent:
    """How many codes went out since an instant, and when the person's last one did."""

    by_person: int
    to_address: int
    by_refit: int
    last_at: datetime | None


def codes_since(refit_id: str, member_id: str, target: str, since: datetime) -> CodesSent:
    """Count the codes that a person, an address or a refit took up."""
    by_person = (SentCode.refit_id == refit_id) & (SentCode.member_id == member_id)
    recent = select(SentCode).where(
        SentCode.sent_at >= since, or_(SentCode.refit_id == refit_id, SentCode.target == target)
    )
    rows = list(db.session.scalars(recent))
    last = db.session.scalar(select(func.max(SentCode.sent_at)).where(by_person))
    return CodesSent(
        by_person=sum(row.refit_id == refit_id and row.member_id == member_id for row in rows),
        to_address=sum(row.target == target for row in rows),
        by_refit=sum(row.refit_id == refit_id for row in rows),
        last_at=last,
    )
