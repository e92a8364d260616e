"""Judges deletions, and who is on which step."""

from __future__ import annotations

from typing import Any

from tests.simulation.books import Entry, must
from tests.simulation.truth import Truth
from tests.simulation.values import writes


def check_deletions(truth: Truth) -> None:
    """A deletion took effect, or is a question; what is gone was deleted by somebody who had seen all of it."""
    asked = {row["item_id"] for row in truth.differences.values() if row["field"] == "gone"}
    deleted: dict[str, list[Entry]] = {}
    returned: set[str] = set()
    for entry, _ in truth.taken:
        for action in entry.actions:
            if action["do"] == "set" and "gone" in action["fields"]:
                if action["fields"]["gone"]:
                    deleted.setdefault(action["id"], []).append(entry)
                else:
                    returned.add(action["id"])
    for id_, entries in deleted.items():
        gone = truth.items[id_]["fields"].get("gone")
        must(
            gone or id_ in asked | returned,
            "deletion-lost",
            f"{entries[0].act} {entries[0].key}: {id_}",
        )
    for id_, row in truth.items.items():
        if row["fields"].get("gone"):
            must(id_ in deleted, "row-from-nowhere", f"{row['kind']} {id_} was deleted by nobody")
            _check_seen_whole(truth, id_, deleted[id_])


def _check_seen_whole(truth: Truth, id_: str, by: list[Entry]) -> None:
    later = [
        (entry, name, value)
        for entry, _ in truth.taken
        for item_id, name, value in writes(entry)
        if item_id == id_ and not _creates(entry, id_)
    ]
    lost = {
        (row["field"], str(row["lost"]["value"]))
        for row in truth.differences.values()
        if row["item_id"] == id_
    }
    for entry, name, value in later:
        if any(entry.device == one.device for one in by) or (name, str(value)) in lost:
            continue
        must(
            any(_knew(one, later, name, value, set()) for one in by),
            "deleted-unseen",
            f"{entry.act} {entry.key} wrote {name} = {value!r} into {id_}, deleted by {[one.key for one in by]}",
        )


def _creates(entry: Entry, id_: str) -> bool:
    return any(action["do"] == "create" and action["id"] == id_ for action in entry.actions)


def _knew(
    by: Entry, writes: list[tuple[Entry, str, Any]], name: str, value: Any, past: set[str]
) -> bool:
    """Say whether who deleted saw a value, or one that was knowingly written over it."""
    item_ids = {action["id"] for action in by.actions if action.get("fields", {}).get("gone")}
    if any(by.saw_value(item_id, name) == value for item_id in item_ids):
        return True
    past.add(str(value))
    return any(
        _knew(by, writes, name, newer, past)
        for entry, other, newer in writes
        if other == name
        and str(newer) not in past
        and any(entry.saw_value(id_, name) == value for id_ in item_ids)
    )


def check_crews(truth: Truth) -> None:
    """Who or what was put into a set is in it, until somebody who saw that took it out."""
    put: dict[tuple[str, str, str], dict[str, tuple[str, Entry]]] = {}
    off: dict[tuple[str, str, str], set[str]] = {}
    for entry, row in truth.taken:
        for action in entry.actions:
            if action["do"] == "put_in":
                put.setdefault(_place(action), {})[row["at"]] = (entry.at, entry)
            if action["do"] == "create":
                for name, members in (action.get("sets") or {}).items():
                    for member in members:
                        put.setdefault((action["id"], name, member), {})[row["at"]] = (
                            entry.at,
                            entry,
                        )
            if action["do"] == "take_out":
                off.setdefault(_place(action), set()).update(action["tags"])
    for (id_, name, member), tags in put.items():
        stands = truth.items[id_]["sets"].get(name, {}).get(member, ())
        for filed, (sent, entry) in tags.items():
            taken_off = {filed, sent} & off.get((id_, name, member), set())
            what = f"{entry.act} {entry.key}: {member} in {name} of {id_}"
            must(filed in stands or taken_off, "assignment-lost", what)
            must(filed not in stands or not taken_off, "taking-off-lost", what)


def _place(action: dict[str, Any]) -> tuple[str, str, str]:
    return action["id"], action["set"], action["member"]
