"""What people did and saw, as the simulation wrote it down beside them: the oracle's own memory, without any merge."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any


@dataclass(frozen=True, slots=True)
class Sight:
    """What a screen showed: the items by id, and the newest stamp of all."""

    items: Mapping[str, Mapping[str, Any]]
    newest: str


class ViolationError(AssertionError):
    """Something was lost, doubled, shown or done that must not be; ``kind`` is one word for it."""

    def __init__(self, kind: str, detail: str) -> None:
        super().__init__(f"{kind}: {detail}")
        self.kind = kind


def must(holds: object, kind: str, detail: str) -> None:
    """Say that something has to hold."""
    if not holds:
        raise ViolationError(kind, detail)


@dataclass(slots=True)
class Entry:
    """One act that a person saw succeed on their own phone, with what was on the screen when they did it."""

    device: str
    at: str
    act: str
    actions: list[dict[str, Any]]
    saw: Sight
    number: int  # in the order of the story

    @property
    def key(self) -> tuple[str, str]:
        return (self.device, self.at)

    def saw_value(self, item_id: str, name: str) -> Any:
        return self.saw.items.get(item_id, {}).get("fields", {}).get(name)


@dataclass
class Books:
    """Everything that was done, by device and stamp."""

    entries: dict[tuple[str, str], Entry] = field(default_factory=dict)
    hazards: Counter[str] = field(default_factory=Counter)
    pending: dict[str, Sight] = field(
        default_factory=dict
    )  # what was seen when a phone died over an act
    restores: int = 0

    def enter(self, device: str, made: list[dict[str, Any]], saw: Sight) -> None:
        """Write down the operations that an act made."""
        for row in made:
            entry = Entry(device, row["at"], row["act"], row["actions"], saw, len(self.entries))
            must(entry.key not in self.entries, "stamp-used-twice", f"{entry.key}")
            must(entry.at > saw.newest, "clock-behind", f"{entry.key} after {saw.newest} was seen")
            self.entries[entry.key] = entry

    def check_disk(self, device: str, rows: list[dict[str, Any]]) -> None:
        """After a death: all that was done is on the disk; what was just being done is there wholly or not at all."""
        found = {(device, row["at"]): row for row in rows}
        for key, entry in self.entries.items():
            if key[0] != device:
                continue
            must(key in found, "entry-vanished", f"{entry.act} {key} is not on the disk")
            must(found[key]["actions"] == entry.actions, "entry-changed", f"{entry.act} {key}")
        unknown = [row for key, row in found.items() if key not in self.entries]
        saw = self.pending.pop(device, None)
        must(not unknown or saw is not None, "entry-from-nowhere", f"{unknown}")
        must(len(unknown) <= 1, "entry-from-nowhere", f"{unknown}")
        self.enter(device, unknown, saw or NOTHING)


NOTHING = Sight({}, "")


def sight(look: dict[str, Any]) -> Sight:
    """Keep what a screen showed."""
    rows = {row["id"]: row for rows in look["items"].values() for row in rows}
    return Sight(rows, look["newest"])
