"""All that stands in a database: to compare before and after, and to put back."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from flask import Flask
from sqlalchemy import delete, insert, select

from tackwatch.store.db import Base, db

_UNIMPORTANT = {("device", "last_seen_at")}  # signing in moves it


def dump(app: Flask) -> dict[str, list[dict[str, Any]]]:
    """Give every row of every table, in the order of its key."""
    with app.app_context():
        try:
            return {table.name: _rows(table) for table in Base.metadata.sorted_tables}
        finally:
            db.session.rollback()


def _rows(table: Any) -> list[dict[str, Any]]:
    query = select(table).order_by(*table.primary_key.columns)
    return [
        {name: value for name, value in row.items() if (table.name, name) not in _UNIMPORTANT}
        for row in db.session.execute(query).mappings()
    ]


@dataclass(frozen=True, slots=True)
class Snapshot:
    """Every row of a database, to be put into an empty one."""

    rows: dict[str, list[dict[str, Any]]]

    @classmethod
    def take(cls, app: Flask) -> Snapshot:
        with app.app_context():
            rows = {
                table.name: [
                    {name: value for name, value in row.items() if name not in _counted(table)}
                    for row in db.session.execute(select(table)).mappings()
                ]
                for table in Base.metadata.sorted_tables
            }
            db.session.rollback()
        return cls(rows)

    def put_back(self, app: Flask) -> None:
        with app.app_context(), db.engine.begin() as connection:
            for table in Base.metadata.sorted_tables:
                if self.rows[table.name]:
                    connection.execute(insert(table), self.rows[table.name])


def _counted(table: Any) -> set[str]:
    """Give the columns that the database counts up by itself."""
    return {column.name for column in table.columns if column.autoincrement is True}


def empty(app: Flask) -> None:
    """Delete every row of every table."""
    with app.app_context(), db.engine.begin() as connection:
        for table in reversed(Base.metadata.sorted_tables):
            connection.execute(delete(table))
