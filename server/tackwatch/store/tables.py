"""Rows laid out as tables, for the pages of a snapshot: one list for each field, of all rows that have the same ones.

Names are written once and like stands beside like, so a page is a third smaller than the same rows one by one, packed
or not, and quicker to read. What few rows have (stamps of single fields, sets, corrections) stands by the row's place.
"""

from __future__ import annotations

from json import dumps, loads
from typing import Any

_NONE = "{}"


class Tables:
    """Takes rows, documents as texts of JSON, and gives them as one text."""

    def __init__(self) -> None:
        self._tables: dict[tuple[str, ...], dict[str, Any]] = {}
        self._differences: list[str] = []

    def item(self, kind: str, id_: str, at: str, fields: str, stamps: str, sets: str) -> None:
        """Take an item."""
        table, place = self._add("fields", kind, id_, at, fields)
        for name, text in (("stamps", stamps), ("sets", sets)):
            if text != _NONE:
                table.setdefault(name, {})[place] = loads(text)

    def record(
        self, kind: str, id_: str, at: str, body: str, replaces: str | None, void: bool
    ) -> None:
        """Take a record."""
        table, place = self._add("body", kind, id_, at, body)
        if replaces is not None:
            table.setdefault("replaces", {})[place] = replaces
        if void:
            table.setdefault("void", {})[place] = True

    def difference(self, text: str) -> None:
        """Take a difference as phones read it."""
        self._differences.append(text)

    def as_json(self) -> str:
        """Give everything as text."""
        tables = dumps([*self._tables.values()], ensure_ascii=False, separators=(",", ":"))
        return f'{{"tables":{tables},"differences":[{",".join(self._differences)}]}}'

    def _add(
        self, part: str, kind: str, id_: str, at: str, document: str
    ) -> tuple[dict[str, Any], str]:
        values = loads(document)
        key = (part, kind, *values)
        table = self._tables.get(key)
        if table is None:
            columns: dict[str, list[Any]] = {name: [] for name in values}
            table = self._tables[key] = {"kind": kind, "id": [], "at": [], part: columns}
        table["id"].append(id_)
        table["at"].append(at)
        for name, value in values.items():
            table[part][name].append(value)
        return table, str(len(table["id"]) - 1)
