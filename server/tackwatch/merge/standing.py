"""Which records stand, after corrections and withdrawals.

Rules
-----
- A correction names what it replaces. Records that replace one another form a tree under the first one, the *root*.
- Of several corrections of one record the one with the later stamp is followed; the last in line stands.
- If that one is a withdrawal (``void``), nothing stands of the whole tree.
- ``leaves`` gives every record of a tree that nothing replaces: more than one when people corrected the same
  record without seeing each other. Cure clocks take all of them and keep to the careful side.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from tackwatch.merge.state import Record


@dataclass(frozen=True, slots=True)
class Standing:
    """A record that stands, the root of its tree, and the tree's unreplaced records (itself among them)."""

    root: Record
    record: Record
    leaves: tuple[Record, ...]


def standing(records: Iterable[Record]) -> list[Standing]:
    """Give what stands, by the stamp of the root.

    Parameters
    ----------
    records
        Records of one kind, in any order.
    """
    everything = list(records)
    known = {record.id for record in everything}
    corrections: dict[str, list[Record]] = defaultdict(list)
    roots = []
    for record in sorted(everything, key=lambda one: one.at):
        if record.replaces in known and record.replaces is not None:
            corrections[record.replaces].append(record)
        else:
            roots.append(record)
    found = []
    for root in roots:
        last = _last(root, corrections)
        if not last.void:
            leaves = tuple(one for one in _leaves(root, corrections) if not one.void)
            found.append(Standing(root, last, leaves))
    return found


def _last(root: Record, corrections: Mapping[str, list[Record]]) -> Record:
    record = root
    while corrections.get(record.id):
        record = corrections[record.id][-1]
    return record


def _leaves(root: Record, corrections: Mapping[str, list[Record]]) -> Iterable[Record]:
    stack = [root]
    while stack:
        record = stack.pop()
        below = corrections.get(record.id, ())
        stack.extend(reversed(below))
        if not below:
            yield record


def roots(records: Iterable[Record]) -> dict[str, str]:
    """Give for each record, replaced ones too, the id of the first of its tree."""
    known = {record.id: record for record in records}
    found = {}
    for record in known.values():
        root = record
        while root.replaces is not None and root.replaces in known:
            root = known[root.replaces]
        found[record.id] = root.id
    return found
