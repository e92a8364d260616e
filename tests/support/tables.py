"""All that stands in a database, to compare before and after."""

from __future__ import annotations

from typing import Any

from flask import Flask
from sqlalchemy import select

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
