"""Judges the values of fields: each stands, was seen by who wrote over it, or is kept as a difference."""

from __future__ import annotations

from typing import Any

from tackwatch.merge.hlc import device_of
from tests.simulation.books import Entry, must
from tests.simulation.deeds import AGREED
from tests.simulation.truth import Truth

TOLD_APART = frozenset(
    ("title", "text", "name", "held_text", "labour_h", "area_m2")
)  # each value is written once
_MISSING = object()


def writes(entry: Entry) -> list[tuple[str, str, Any]]:
    """Give what an entry wrote into fields: item, field, value."""
    return [
        (action["id"], name, value)
        for action in entry.actions
        if action["do"] in ("create", "set")
        for name, value in action["fields"].items()
        if name != "gone"
    ]


def check_values(truth: Truth) -> None:
    """Each value stands, or was on the screen of whoever wrote over it, or is kept in a difference."""
    seen: dict[tuple[str, str], list[Any]] = {}
    for entry, _ in truth.taken:
        within: dict[tuple[str, str], Any] = {}
        for item_id, name, value in writes(entry):
            before = within.get((item_id, name), entry.saw_value(item_id, name))
            seen.setdefault((item_id, name), []).append(before)
            within[(item_id, name)] = value
    kept: dict[tuple[str, str], list[Any]] = {}
    settled = {one for entry, _ in truth.taken for one in _settles(entry)}
    for row in truth.differences.values():
        kept.setdefault((row["item_id"], row["field"]), []).append(row["lost"]["value"])
        asked = row["settled"] is None or row["id"] in settled
        must(asked, "question-closed-by-nobody", f"{row}")
    for entry, _ in truth.taken:
        for item_id, name, value in writes(entry):
            item = truth.items.get(item_id)
            must(item is not None, "item-lost", f"{entry.act}: {item_id}")
            assert item is not None
            key = (item_id, name)
            stands = item["fields"].get(name, _MISSING) == value
            found = stands or value in seen.get(key, ()) or value in kept.get(key, ())
            must(
                found,
                "value-lost",
                f"{entry.act} {entry.key}: {key} = {value!r}; now {item['fields'].get(name)!r}",
            )


def check_questions(truth: Truth) -> None:
    """Nobody is asked about a value that they had on the screen when they wrote over it.

    The device counts too: where two people wrote the same words, one may have seen what the other wrote over unseen.
    """
    knowing = {
        (item_id, name, device_of(entry.at), str(value), str(entry.saw_value(item_id, name)))
        for entry, _ in truth.taken
        for item_id, name, value in writes(entry)
    }
    for row in truth.differences.values():
        kept, lost = row["kept"]["value"], row["lost"]["value"]
        told_apart = row["field"] in TOLD_APART and lost not in (None, "", AGREED)
        by = device_of(row["kept"]["at"])
        asked = (row["item_id"], row["field"], by, str(kept), str(lost))
        must(not told_apart or asked not in knowing, "asked-for-nothing", f"{row}")


def _settles(entry: Entry) -> list[str]:
    return [
        one for action in entry.actions if action["do"] == "settle" for one in action["differences"]
    ]
