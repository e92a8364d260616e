"""Applying one operation to a state: all of its actions take effect, or none and an error says why.

Rules
-----
- Pure: the state handed in stays as it is; the outcome lists the rows that are new or changed.
- Deletion is the field ``gone``. It meets an unseen touch of the same item, in either order, by keeping the item and
  asking a person (a difference on ``gone``).
- ``altered`` names the rows that did not come out just as the sending device would have them: it is sent those.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace
from typing import Any

from tackwatch.merge.catalogue import ITEMS, RECORDS, ItemKind
from tackwatch.merge.conflict import decide
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import device_of
from tackwatch.merge.operation import Operation
from tackwatch.merge.state import Difference, Item, Record, State, Version
from tackwatch.merge.values import Field, check


@dataclass(frozen=True, slots=True)
class Outcome:
    """The rows that an operation made or changed, and the ids among them that came out otherwise than sent."""

    items: Mapping[str, Item]
    records: Mapping[str, Record]
    differences: Mapping[str, Difference]
    altered: frozenset[str]

    def all_altered(self) -> Outcome:
        """Give the same outcome with every row to be sent back, since its stamp is not the one that was sent."""
        ids = frozenset((*self.items, *self.records, *self.altered))
        return replace(self, altered=ids)


@dataclass(slots=True)
class _Bench:
    """Where one operation is worked on: the state below, the new rows above."""

    below: State
    operation: Operation
    items: dict[str, Item] = field(default_factory=dict)
    records: dict[str, Record] = field(default_factory=dict)
    differences: dict[str, Difference] = field(default_factory=dict)
    altered: set[str] = field(default_factory=set)

    def item(self, id_: str) -> Item | None:
        return self.items.get(id_) or self.below.items.get(id_)

    def record(self, id_: str) -> Record | None:
        return self.records.get(id_) or self.below.records.get(id_)

    def difference(self, id_: str) -> Difference | None:
        return self.differences.get(id_) or self.below.differences.get(id_)


def apply(state: State, operation: Operation) -> tuple[State, Outcome]:
    """Apply an operation whose shape was checked.

    Parameters
    ----------
    state
        Must hold every row that the operation names and that exists.
    operation
        Filed under a stamp that is later than its device's earlier ones.

    Returns
    -------
    tuple of State and Outcome
        The state afterwards, and what changed.

    Raises
    ------
    RefusedError
        When any action cannot take effect; nothing has then.
    """
    outcome = work_out(state, operation)
    return state.after(
        outcome.items.values(), outcome.records.values(), outcome.differences.values()
    ), outcome


def work_out(state: State, operation: Operation) -> Outcome:
    """Give what ``apply`` would change, without the state afterwards; it raises the same."""
    bench = _Bench(state, operation)
    for number, action in enumerate(operation.actions):
        try:
            _ACTIONS[action["do"]](bench, action)
        except RefusedError as error:
            raise error.under(f"actions[{number}]") from None
    return Outcome(bench.items, bench.records, bench.differences, frozenset(bench.altered))


def _create(bench: _Bench, action: Mapping[str, Any]) -> None:
    kind = _item_kind(action)
    if bench.item(action["id"]):
        raise RefusedError("id-in-use", "Something with this id exists already.", "id")
    fields = dict(action["fields"])
    _check_fields(bench, kind.fields, fields, "fields")
    _check_required(kind.fields, fields, "fields")
    _check_not_itself(action["kind"], action["id"], fields)
    _check_days(action["kind"], fields)
    at = bench.operation.at
    sets: dict[str, dict[str, tuple[str, ...]]] = {}
    for name, members in (action.get("sets") or {}).items():
        for member in members:
            _check_member(bench, kind, name, member, f"sets.{name}")
        if members:
            sets[name] = dict.fromkeys(members, (at,))
    bench.items[action["id"]] = Item(action["kind"], action["id"], at, fields, {}, sets)


def _set(bench: _Bench, action: Mapping[str, Any]) -> None:
    kind = _item_kind(action)
    item = _existing(bench, action)
    fields: Mapping[str, Any] = action["fields"]
    seen: Mapping[str, str] = action.get("seen") or {}
    _check_fields(bench, kind.fields, fields, "fields")
    _check_not_itself(action["kind"], action["id"], {**item.fields, **fields})
    _check_days(action["kind"], fields)
    if fields.get("gone") is True:
        if len(fields) > 1:
            raise RefusedError("value-not-valid", "Deletion stands alone.", "fields")
        _drop(bench, item, seen)
        return
    if item.gone and fields.get("gone") is not False:
        item = _come_back(bench, item)
    for name, value in fields.items():
        item = _set_field(bench, kind, item, name, value, seen.get(name))
    bench.items[item.id] = item


def _set_field(
    bench: _Bench, kind: ItemKind, item: Item, name: str, value: Any, seen: str | None
) -> Item:
    present = Version(item.fields.get(name, kind.fields[name].default), item.stamp(name))
    verdict = decide(present, Version(value, bench.operation.at), seen)
    if not verdict.as_sent:
        bench.altered.add(item.id)
    if verdict.lost is not None:
        _differ(bench, item, name, verdict.stays, verdict.lost)
    return _with_field(item, name, verdict.stays)


def _with_field(item: Item, name: str, version: Version) -> Item:
    stamps = {**item.stamps, name: version.at}
    if version.at == item.at:
        del stamps[name]
    fields = {**item.fields, name: version.value}
    return Item(item.kind, item.id, item.at, fields, stamps, item.sets)


def _drop(bench: _Bench, item: Item, seen: Mapping[str, str]) -> None:
    """Delete an item, unless somebody else touched it unseen: then keep it and ask."""
    operation = bench.operation
    if item.gone:
        return
    unseen = _unseen_touches(item, seen, operation.device)
    if unseen:
        _differ(bench, item, "gone", Version(False, max(unseen)), Version(True, operation.at))
        bench.altered.add(item.id)
        return
    present = Version(False, item.stamp("gone"))
    verdict = decide(present, Version(True, operation.at), present.at)
    if not verdict.as_sent:
        bench.altered.add(item.id)
    bench.items[item.id] = _with_field(item, "gone", verdict.stays)


def _unseen_touches(item: Item, seen: Mapping[str, str], device: str) -> list[str]:
    """Give the stamps of other devices in an item that are not among those that the person saw."""
    fields = [at for name, at in item.stamps.items() if at != seen.get(name)]
    tags = [
        tag
        for name, members in item.sets.items()
        for tags in members.values()
        for tag in tags
        if tag not in seen.get(name, "").split()
    ]
    return [at for at in (*fields, *tags) if at != item.at and device_of(at) != device]


def _come_back(bench: _Bench, item: Item) -> Item:
    """Bring a deleted item back because somebody worked on it without having seen the deletion."""
    deleted = Version(True, item.stamp("gone"))
    verdict = decide(deleted, Version(False, bench.operation.at), deleted.at)
    bench.altered.add(item.id)
    _differ(bench, item, "gone", verdict.stays, deleted)
    return _with_field(item, "gone", verdict.stays)


def _put_in(bench: _Bench, action: Mapping[str, Any]) -> None:
    kind = _item_kind(action)
    item = _existing(bench, action)
    _check_member(bench, kind, action["set"], action["member"], "member")
    if item.gone:
        item = _come_back(bench, item)
    at = bench.operation.at
    if (item.id, action["set"], action["member"], at) in bench.below.taken_out:
        bench.items[item.id] = item
        bench.altered.add(item.id)
        return
    members = dict(item.sets.get(action["set"], {}))
    tags = {*members.get(action["member"], ()), at}
    members[action["member"]] = tuple(sorted(tags))
    bench.items[item.id] = replace(item, sets={**item.sets, action["set"]: members})


def _take_out(bench: _Bench, action: Mapping[str, Any]) -> None:
    kind = _item_kind(action)
    item = _existing(bench, action)
    if action["set"] not in kind.sets:
        raise RefusedError("unknown-field", "There is no such set.", "set")
    members = dict(item.sets.get(action["set"], {}))
    # A device knows what it put in itself, also where the server has set the stamp back.
    left = tuple(
        tag
        for tag in members.pop(action["member"], ())
        if tag not in action["tags"] and device_of(tag) != bench.operation.device
    )
    if left:
        members[action["member"]] = left
    sets = {**item.sets, action["set"]: members}
    if not members:
        del sets[action["set"]]
    bench.items[item.id] = replace(item, sets=sets)


def _record(bench: _Bench, action: Mapping[str, Any]) -> None:
    kind = RECORDS.get(action["kind"])
    if kind is None:
        raise RefusedError("unknown-kind", "There is no such kind of record.", "kind")
    if bench.record(action["id"]):
        raise RefusedError("id-in-use", "A record with this id exists already.", "id")
    replaces = action.get("replaces")
    if replaces is not None:
        earlier = bench.record(replaces)
        if earlier is None or earlier.kind != action["kind"]:
            raise RefusedError("unknown-id", "The record to be corrected is not here.", "replaces")
    body = dict(action["body"])
    void = action.get("void", False)
    _check_fields(bench, kind.body, body, "body")
    if not void:
        _check_required(kind.body, body, "body")
        _check_order(action["kind"], body)
    at = bench.operation.at
    bench.records[action["id"]] = Record(action["kind"], action["id"], at, body, replaces, void)


def _settle(bench: _Bench, action: Mapping[str, Any]) -> None:
    for id_ in action["differences"]:
        difference = bench.difference(id_)
        if difference is None:
            raise RefusedError("unknown-id", "There is no such difference.", "differences")
        if difference.settled is None:
            bench.differences[id_] = replace(difference, settled=bench.operation.at)


def _differ(bench: _Bench, item: Item, name: str, kept: Version, lost: Version) -> None:
    id_ = f"{item.id}.{name}.{lost.at}"
    if bench.difference(id_) is None:
        bench.differences[id_] = Difference(id_, item.kind, item.id, name, kept, lost)


def _item_kind(action: Mapping[str, Any]) -> ItemKind:
    kind = ITEMS.get(action["kind"])
    if kind is None:
        raise RefusedError("unknown-kind", "There is no such kind of item.", "kind")
    return kind


def _existing(bench: _Bench, action: Mapping[str, Any]) -> Item:
    item = bench.item(action["id"])
    if item is None or item.kind != action["kind"]:
        raise RefusedError("unknown-id", f"There is no such {action['kind']} in this refit.", "id")
    return item


def _check_fields(
    bench: _Bench, known: Mapping[str, Field], given: Mapping[str, Any], path: str
) -> None:
    for name, value in given.items():
        where = f"{path}.{name[:40]}"
        if name not in known:
            raise RefusedError("unknown-field", "There is no such field.", where)
        check(known[name], value, where)
        if known[name].type == "ref" and value is not None:
            _check_ref(bench, known[name], value, where)


def _check_ref(bench: _Bench, known: Field, value: str, where: str) -> None:
    target = bench.item(value) or bench.record(value)
    if target is None or target.kind not in known.of:
        raise RefusedError(
            "unknown-id", f"There is no such {' or '.join(known.of)} in this refit.", where
        )


def _check_required(known: Mapping[str, Field], given: Mapping[str, Any], path: str) -> None:
    for name, part in known.items():
        if part.required and name not in given:
            raise RefusedError("value-missing", "A value is needed here.", f"{path}.{name}")


def _check_member(bench: _Bench, kind: ItemKind, name: str, member: str, where: str) -> None:
    if name not in kind.sets:
        raise RefusedError("unknown-field", "There is no such set.", where)
    target = bench.item(member)
    if target is None or target.kind != kind.sets[name]:
        raise RefusedError(
            "unknown-id", f"There is no such {kind.sets[name]} in this refit.", where
        )


def _check_not_itself(kind: str, id_: str, fields: Mapping[str, Any]) -> None:
    """Refuse what stands in itself: a step after itself, a zone in itself."""
    if kind == "link" and fields.get("step_id") == fields.get("after_id"):
        raise RefusedError("value-not-valid", "A step cannot come after itself.", "fields.after_id")
    for name in ("parent_id", "twin_id", "found_while", "mirror_of"):
        if fields.get(name) == id_:
            raise RefusedError("value-not-valid", "This cannot point to itself.", f"fields.{name}")


def _check_days(kind: str, fields: Mapping[str, Any]) -> None:
    """Refuse days that one person gave the wrong way round; those that two people gave make no absence."""
    both = kind == "away" and {"from_on", "to_on"} <= fields.keys()
    if both and fields["to_on"] < fields["from_on"]:
        raise RefusedError("value-not-valid", "The last day is before the first.", "fields.to_on")


def _check_order(kind: str, body: Mapping[str, Any]) -> None:
    if kind == "application" and body.get("end_at") and body["end_at"] < body["start_at"]:
        raise RefusedError("value-not-valid", "The end is before the start.", "body.end_at")


_ACTIONS: Mapping[str, Callable[[_Bench, Mapping[str, Any]], None]] = {
    "create": _create,
    "set": _set,
    "put_in": _put_in,
    "take_out": _take_out,
    "record": _record,
    "settle": _settle,
}
