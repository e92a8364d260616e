"""The rows at hand, sorted by what they are for: the ground on which everything is derived."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from tackwatch.merge.hlc import device_of
from tackwatch.merge.standing import Standing, roots, standing
from tackwatch.merge.state import Item, Record


@dataclass(frozen=True, slots=True)
class Link:
    """A step comes after another, with gaps."""

    step_id: str
    after_id: str
    min_gap_s: float
    max_gap_s: float | None
    by_cure: bool


class RefitRows:
    """The rows at hand, sorted by what they are for."""

    def __init__(self, items: Iterable[Item], records: Iterable[Record]) -> None:
        self.items: dict[str, dict[str, Item]] = defaultdict(dict)
        for item in items:
            self.items[item.kind][item.id] = item
        by_kind: dict[str, list[Record]] = defaultdict(list)
        for record in records:
            by_kind[record.kind].append(record)
        self.records = {kind: standing(found) for kind, found in by_kind.items()}
        self.coat_roots = roots(by_kind["application"])
        self.links = [link_of(item) for item in self.items["link"].values() if not item.gone]

    def author(self, record: Record) -> str:
        """Give the member on whose device a record was made, empty when unknown."""
        device = self.items["device"].get(device_of(record.at))
        return str(device.fields["member_id"]) if device else ""

    def standing(self, kind: str) -> list[Standing]:
        """Give the records of a kind that stand."""
        return self.records.get(kind, [])

    def live(self, kind: str) -> dict[str, Item]:
        """Give the items of a kind that were not deleted, by id."""
        return {id_: item for id_, item in self.items[kind].items() if not item.gone}


def link_of(item: Item) -> Link:
    """Read a link from its item."""
    fields = item.fields
    return Link(
        step_id=fields["step_id"],
        after_id=fields["after_id"],
        min_gap_s=fields.get("min_gap_s") or 0.0,
        max_gap_s=fields.get("max_gap_s"),
        by_cure=bool(fields.get("by_cure")),
    )


def at_of(text: str) -> datetime:
    """Read an instant from a record."""
    return datetime.fromisoformat(text)
