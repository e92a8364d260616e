"""Rows as they come over the wire and lie in the file, and as the merge sees them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from tackwatch.merge.state import Difference, Item, Record, Version

Row = Item | Record


def read_row(row: Mapping[str, Any]) -> Row:
    """Read an item or a record."""
    if "fields" not in row:
        return Record(row["kind"], row["id"], row["at"], row["body"], row["replaces"], row["void"])
    sets = {
        name: {member: tuple(tags) for member, tags in members.items()}
        for name, members in row["sets"].items()
    }
    return Item(row["kind"], row["id"], row["at"], row["fields"], row["stamps"], sets)


def read_difference(row: Mapping[str, Any]) -> Difference:
    """Read a difference."""
    kept, lost = Version(**row["kept"]), Version(**row["lost"])
    return Difference(
        row["id"], row["kind"], row["item_id"], row["field"], kept, lost, row["settled"]
    )


def write_row(row: Row) -> dict[str, Any]:
    """Give an item or a record as it comes over the wire."""
    head = {"kind": row.kind, "id": row.id, "at": row.at}
    if isinstance(row, Record):
        return {**head, "body": dict(row.body), "replaces": row.replaces, "void": row.void}
    sets = {
        name: {m: list(tags) for m, tags in members.items()} for name, members in row.sets.items()
    }
    return {**head, "fields": dict(row.fields), "stamps": dict(row.stamps), "sets": sets}


def write_difference(difference: Difference) -> dict[str, Any]:
    """Give a difference as it comes over the wire."""
    return {
        "id": difference.id,
        "kind": difference.kind,
        "item_id": difference.item_id,
        "field": difference.field,
        "kept": {"value": difference.kept.value, "at": difference.kept.at},
        "lost": {"value": difference.lost.value, "at": difference.lost.at},
        "settled": difference.settled,
    }


def stamps_in(row: Mapping[str, Any]) -> Iterator[str]:
    """Give every stamp in a row as it comes over the wire."""
    yield row["at"]
    yield from row.get("stamps", {}).values()
    for members in row.get("sets", {}).values():
        for tags in members.values():
            yield from tags


def all_seen(item: Item) -> dict[str, str]:
    """Give what a person saw who deletes an item: docs/sync.md, section 5."""
    seen = dict(item.stamps)
    for name, members in item.sets.items():
        seen[name] = " ".join(tag for tags in members.values() for tag in tags)
    return seen
