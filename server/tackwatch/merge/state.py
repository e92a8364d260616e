"""Rows as the merge sees them: items, records, differences, and a state that holds those at hand.

Rules
-----
- Rows are never changed in place: the merge gives new ones.
- ``Item.stamps`` holds only the fields whose stamp is not the item's own ``at``.
- ``Item.sets`` maps set name to member to the tags under which the member was put in.
- ``State.taken_out`` names what was taken out before it is put in: after a restore the server may hear of the one from
  a phone first, and of the other from its maker later.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field
from typing import Any

Key = tuple[str, str]
Tagged = tuple[str, str, str, str]  # an item's id, a set, a member, a tag


@dataclass(frozen=True, slots=True)
class Item:
    """A thing with fields by last writer and sets by tags."""

    kind: str
    id: str
    at: str
    fields: Mapping[str, Any]
    stamps: Mapping[str, str] = field(default_factory=dict)
    sets: Mapping[str, Mapping[str, tuple[str, ...]]] = field(default_factory=dict)

    @property
    def gone(self) -> bool:
        """Say whether it was deleted."""
        return bool(self.fields.get("gone", False))

    def stamp(self, name: str) -> str:
        """Give the stamp of a field's present value."""
        return self.stamps.get(name, self.at)


@dataclass(frozen=True, slots=True)
class Record:
    """A thing that happened; only ever added."""

    kind: str
    id: str
    at: str
    body: Mapping[str, Any]
    replaces: str | None = None
    void: bool = False


@dataclass(frozen=True, slots=True)
class Version:
    """A field's value with the stamp of who set it."""

    value: Any
    at: str


@dataclass(frozen=True, slots=True)
class Difference:
    """A field's value that somebody overwrote without having seen it."""

    id: str
    kind: str
    item_id: str
    field: str
    kept: Version
    lost: Version
    settled: str | None = None


@dataclass(frozen=True, slots=True)
class State:
    """The rows at hand; ids are unique across kinds within items and within records."""

    items: Mapping[str, Item] = field(default_factory=dict)
    records: Mapping[str, Record] = field(default_factory=dict)
    differences: Mapping[str, Difference] = field(default_factory=dict)
    taken_out: AbstractSet[Tagged] = frozenset()

    def after(
        self,
        items: Iterable[Item] = (),
        records: Iterable[Record] = (),
        differences: Iterable[Difference] = (),
    ) -> State:
        """Give the state with these rows put in place of their namesakes."""
        return State(
            {**self.items, **{row.id: row for row in items}},
            {**self.records, **{row.id: row for row in records}},
            {**self.differences, **{row.id: row for row in differences}},
            self.taken_out,
        )
