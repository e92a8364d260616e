"""Judges what became of entries and records: one fate each, told alike on the phone and on the server."""

from __future__ import annotations

from collections import Counter
from typing import Any

from tests.simulation.books import Entry, must
from tests.simulation.history import History
from tests.simulation.quiet import Rest
from tests.simulation.truth import Truth


def check_fates(history: History, rests: list[Rest], truth: Truth) -> None:
    filed = Counter((row["device_id"], row["sent"]) for row in truth.log)
    twice = [key for key, count in filed.items() if count > 1]
    must(not twice, "applied-twice", f"{twice}")
    logged = {(row["device_id"], row["sent"]): row for row in truth.log}
    for rest in rests:
        rows = {(rest.key.device_id, row["at"]): row for row in rest.disk["operations"]}
        for entry in history.books.entries.values():
            if entry.device == rest.key.device_id:
                _check_fate(history, rest, entry, rows.get(entry.key), logged.get(entry.key))


def _check_fate(
    history: History,
    rest: Rest,
    entry: Entry,
    row: dict[str, Any] | None,
    filed: dict[str, Any] | None,
) -> None:
    what = f"{rest.key.name}'s {entry.act} {entry.key}"
    must(row is not None and row["actions"] == entry.actions, "entry-vanished", f"{what}: {row}")
    assert row is not None
    status = row.get("status", "waiting")
    if filed is None:
        excused = not rest.alive and (status == "waiting" or history.books.restores)
        must(excused, "lost-on-server", f"{what} is {status} here and not there")
        return
    if not rest.alive and (status == "waiting" or history.books.restores):
        return  # its last answer was lost with its key
    refused = filed["refusal"] is not None
    must(
        status == ("refused" if refused else "acknowledged"),
        "verdict-differs",
        f"{what}: {status}, {filed}",
    )
    if refused:
        must(
            row["problem"] == filed["refusal"],
            "verdict-differs",
            f"{what}: {row['problem']} {filed['refusal']}",
        )
    must(_same_text(filed["actions"], entry.actions), "text-differs", f"{what}: {filed['actions']}")


def _same_text(filed: Any, sent: Any) -> bool:
    """Compare, where a character that no database can keep is shown by a stand-in."""
    if isinstance(sent, str):
        return bool(filed == sent.replace("\x00", "\u2400"))
    if isinstance(sent, dict):
        return filed.keys() == sent.keys() and all(_same_text(filed[k], v) for k, v in sent.items())
    if isinstance(sent, list):
        return len(filed) == len(sent) and all(map(_same_text, filed, sent))
    return bool(filed == sent)


def check_records(history: History, truth: Truth) -> None:
    entered: dict[str, tuple[Entry, dict[str, Any]]] = {}
    for entry, _ in truth.taken:
        for action in entry.actions:
            if action["do"] == "record":
                must(action["id"] not in entered, "applied-twice", f"record {action['id']}")
                entered[action["id"]] = (entry, action)
    for id_, (entry, action) in entered.items():
        row = truth.records.get(id_)
        must(row is not None, "record-lost", f"{entry.act} {action}")
        assert row is not None
        same = all(row[name] == action[name] for name in ("kind", "body", "replaces", "void"))
        must(same and row["at"][17:] == entry.device, "record-changed", f"{row} was {action}")
    here = {key.device_id for key in history.keys}
    more = [
        id_ for id_, row in truth.records.items() if row["at"][17:] in here and id_ not in entered
    ]
    must(not more, "row-from-nowhere", f"{more}")
