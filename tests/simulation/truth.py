"""What stands in the server's tables in the end, read past the application."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from tests.simulation.books import Entry, must
from tests.simulation.history import History


@dataclass
class Truth:
    """What stands in the server's tables."""

    items: dict[str, dict[str, Any]]
    records: dict[str, dict[str, Any]]
    differences: dict[str, dict[str, Any]]
    log: list[dict[str, Any]]
    taken: list[tuple[Entry, dict[str, Any]]] = field(default_factory=list)


def read(history: History) -> Truth:
    house, refit = history.house, history.house.keys[0].refit_id
    items = house.rows(
        "SELECT kind, id, at, fields, stamps, sets FROM item WHERE refit_id = :refit", refit=refit
    )
    records = house.rows(
        "SELECT kind, id, at, body, replaces, void FROM record WHERE refit_id = :refit", refit=refit
    )
    differences = house.rows(
        "SELECT id, kind, item_id, field, kept, lost, settled FROM difference WHERE refit_id = :refit",
        refit=refit,
    )
    log = house.rows(
        "SELECT device_id, n, sent, at, actions, refusal FROM operation WHERE refit_id = :refit ORDER BY device_id, n",
        refit=refit,
    )
    for row in records:
        row["void"] = bool(row["void"])
    mine = {key.device_id for key in history.keys}
    truth = Truth(
        by_id(items), by_id(records), by_id(differences),
        [row for row in log if row["device_id"] in mine],
    )  # fmt: skip
    for row in truth.log:
        entry = history.books.entries.get((row["device_id"], row["sent"]))
        must(entry is not None, "operation-from-nowhere", f"{row}")
        if row["refusal"] is None:
            truth.taken.append((entry, row))
    return truth


def by_id(rows: list[dict[str, Any]]) -> dict[str, dict[str, Any]]:
    return {row["id"]: row for row in rows}
