"""Many rows at once, as the driver takes them: a phone that was away hands in a thousand operations.

Rules
-----
- What the ORM does for each row (watching it, turning each value) costs more than writing it. Here a row is a plain
  tuple, documents in it are texts of JSON and instants are milliseconds, in the order of the columns that are named.
- Documents come back as texts too: select them with ``as_text`` and read them with ``document``.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from functools import cache
from json import JSONDecoder
from typing import Any

from sqlalchemy import ColumnElement, Text, cast

from tackwatch.store.db import Base, db

_read = JSONDecoder().raw_decode
_EMPTY = "{}"
_PLACEHOLDER = {"sqlite": "?", "postgresql": "%s"}


def document(text: str) -> Any:
    """Read a document that the database kept."""
    return {} if text == _EMPTY else _read(text)[0]


def as_text(column: Any) -> ColumnElement[str]:
    """Give a document's column as its text, under its own name."""
    return cast(column, Text).label(column.name)


def insert(model: type[Base], names: tuple[str, ...], rows: Sequence[tuple[Any, ...]]) -> None:
    """Add rows to a table."""
    if rows:
        _write(_insert(model, names, _placeholder()), rows)


def upsert(
    model: type[Base],
    names: tuple[str, ...],
    lasting: Collection[str],
    rows: Sequence[tuple[Any, ...]],
) -> None:
    """Put rows in place of their namesakes, or add them; ``lasting`` columns keep what was there."""
    if rows:
        _write(_upsert(model, names, frozenset(lasting), _placeholder()), rows)


def _write(statement: str, rows: Sequence[tuple[Any, ...]]) -> None:
    db.session.connection().exec_driver_sql(statement, list(rows))


def _placeholder() -> str:
    return _PLACEHOLDER[db.engine.dialect.name]


@cache
def _insert(model: type[Base], names: tuple[str, ...], placeholder: str) -> str:
    columns, places = ", ".join(names), ", ".join([placeholder] * len(names))
    return f"INSERT INTO {model.__tablename__} ({columns}) VALUES ({places})"  # noqa: S608 - our own names


@cache
def _upsert(
    model: type[Base], names: tuple[str, ...], lasting: frozenset[str], placeholder: str
) -> str:
    keys = [column.name for column in model.__table__.primary_key]
    rest = [f"{name} = excluded.{name}" for name in names if name not in {*keys, *lasting}]
    conflict = f"ON CONFLICT ({', '.join(keys)}) DO UPDATE SET {', '.join(rest)}"
    return f"{_insert(model, names, placeholder)} {conflict}"
