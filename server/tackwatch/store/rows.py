"""Items, records and differences: bringing them to the merge, and filing what it made.

Rules
-----
- Each filed row takes the next number of the refit (whose lock the caller holds), so numbers are unique in a refit and
  a page of changes can be cut anywhere.
- Rows are read and written in bulk, as columns and not as objects that the session watches: a phone that was away hands
  in a thousand at once.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from json import dumps
from typing import Any, cast

from sqlalchemy import ColumnElement, Row, String, any_, func, literal, select
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.merge.apply import Outcome
from tackwatch.merge.state import Difference, Item, Record, State, Version
from tackwatch.store.db import Base, db
from tackwatch.store.models import DifferenceRow, ItemRow, RecordRow, Refit

_ITEM = [
    getattr(ItemRow, name).label(name) for name in ("kind", "id", "at", "fields", "stamps", "sets")
]
_RECORD = [
    getattr(RecordRow, name).label(name)
    for name in ("kind", "id", "at", "body", "replaces", "void")
]
_DIFFERENCE = [
    getattr(DifferenceRow, name).label(name)
    for name in ("id", "kind", "item_id", "field", "kept", "lost", "settled")
]
_PLACE = [
    getattr(ItemRow, name).label(name)
    for name in ("gone", "seq", "seq_made", "seq_others", "writer")
]


Places = Mapping[str, Row[Any]]


def load(refit_id: str, ids: Collection[str]) -> State:
    """Bring the rows with these ids, of whatever sort, into a state."""
    return load_to_file(refit_id, ids)[0]


def load_to_file(refit_id: str, ids: Collection[str]) -> tuple[State, Places]:
    """As ``load``; give also where the items stood, for the filing of what becomes of them."""
    found = list(_by_ids(ItemRow, [*_ITEM, *_PLACE], refit_id, ids))
    state = State(
        {row.id: _item(row) for row in found},
        {row.id: _record(row) for row in _by_ids(RecordRow, _RECORD, refit_id, ids)},
        {row.id: _difference(row) for row in _by_ids(DifferenceRow, _DIFFERENCE, refit_id, ids)},
    )
    return state, {row.id: row for row in found}


def items(refit_id: str, kinds: Collection[str]) -> list[Item]:
    """Give every item of these kinds, deleted ones too."""
    query = select(*_ITEM).where(ItemRow.refit_id == refit_id, ItemRow.kind.in_(kinds))
    return [_item(row) for row in db.session.execute(query)]


def items_named(refit_id: str, ids: Collection[str]) -> list[Item]:
    """Give the items with these ids, deleted ones too."""
    return [_item(row) for row in _by_ids(ItemRow, _ITEM, refit_id, ids)]


def items_with(refit_id: str, kind: str, field: str) -> list[Item]:
    """Give the items of a kind that have something in a field, deleted ones too."""
    query = select(*_ITEM).where(
        ItemRow.refit_id == refit_id,
        ItemRow.kind == kind,
        ItemRow.fields[field].as_string().is_not(None),
    )
    return [_item(row) for row in db.session.execute(query)]


def records(refit_id: str, kinds: Collection[str]) -> list[Record]:
    """Give every record of these kinds, corrected ones too, oldest stamp first."""
    query = (
        select(*_RECORD)
        .where(RecordRow.refit_id == refit_id, RecordRow.kind.in_(kinds))
        .order_by(RecordRow.at)
    )
    return [_record(row) for row in db.session.execute(query)]


class Filing:
    """Rows that wait to be filed for one refit after operations of one device; of ``None`` where all are sent them."""

    def __init__(self, refit: Refit, device: str | None, places: Places) -> None:
        self.refit = refit
        self.device = device
        self._places = places
        self._refit_id, self._seq = refit.id, refit.seq
        self._items: dict[str, Item] = {}
        self._records: dict[str, Record] = {}
        self._differences: dict[str, Difference] = {}
        self._altered: set[str] = set()

    def add(self, outcome: Outcome) -> None:
        """Take up what one operation made."""
        self._items.update(outcome.items)
        self._records.update(outcome.records)
        self._differences.update(outcome.differences)
        self._altered |= outcome.altered

    def kinds(self) -> set[str]:
        """Give the kinds that are touched."""
        return {row.kind for row in self._items.values()} | {
            row.kind for row in self._records.values()
        }

    def write(self) -> None:
        """Number the rows and write them; the counter of the refit moves on."""
        only_sent_back = self._altered - self._records.keys() - self._items.keys()
        for item in items_named(self.refit.id, only_sent_back):
            self._items[item.id] = item
        _upsert(ItemRow, [self._item_values(one) for one in self._items.values()])
        _upsert(RecordRow, [self._record_values(one) for one in self._records.values()])
        _upsert(DifferenceRow, [self._difference_values(one) for one in self._differences.values()])
        self.refit.seq = self._seq
        db.session.flush()
        db.session.expire_all()

    def _writer(self, id_: str) -> str | None:
        return None if id_ in self._altered else self.device

    def _next(self) -> int:
        self._seq += 1
        return self._seq

    def _item_values(self, item: Item) -> dict[str, Any]:
        before = self._places.get(item.id)
        writer = self._writer(item.id)
        others, seq = 0, self._next()
        made = seq if before is None or before.gone else before.seq_made
        if before is not None:
            others = before.seq_others if writer and before.writer == writer else before.seq
        return {
            "refit_id": self._refit_id,
            "id": item.id,
            "kind": item.kind,
            "at": item.at,
            "fields": dict(item.fields),
            "stamps": dict(item.stamps),
            "sets": {
                name: {m: list(tags) for m, tags in members.items()}
                for name, members in item.sets.items()
            },
            "gone": item.gone,
            "seq": seq,
            "seq_made": made,
            "seq_others": others,
            "writer": writer,
        }

    def _record_values(self, record: Record) -> dict[str, Any]:
        return {
            "refit_id": self._refit_id,
            "id": record.id,
            "kind": record.kind,
            "at": record.at,
            "body": dict(record.body),
            "replaces": record.replaces,
            "void": record.void,
            "seq": self._next(),
            "writer": self._writer(record.id),
        }

    def _difference_values(self, difference: Difference) -> dict[str, Any]:
        return {
            "refit_id": self._refit_id,
            "id": difference.id,
            "kind": difference.kind,
            "item_id": difference.item_id,
            "field": difference.field,
            "kept": {"value": difference.kept.value, "at": difference.kept.at},
            "lost": {"value": difference.lost.value, "at": difference.lost.at},
            "settled": difference.settled,
            "seq": self._next(),
        }


def _by_ids(
    model: Any, columns: list[Any], refit_id: str, ids: Collection[str]
) -> Iterable[Row[Any]]:
    if not ids:
        return ()
    query = select(*columns).where(model.refit_id == refit_id, _among(model.id, sorted(ids)))
    return db.session.execute(query)


def _among(column: Any, ids: list[str]) -> ColumnElement[bool]:
    """Compare with many ids as one parameter: a thousand of them are slow, and not every database takes so many."""
    if db.engine.dialect.name == "postgresql":
        return cast("ColumnElement[bool]", column == any_(literal(ids, postgresql.ARRAY(String))))
    each = func.json_each(dumps(ids)).table_valued("value")
    return cast("ColumnElement[bool]", column.in_(select(each.c.value)))


_LASTING = ("kind", "at", "item_id", "field")  # never change, so their indexes need no writing
_INSERT: Mapping[str, Callable[[Any], Any]] = {
    "sqlite": sqlite.insert,
    "postgresql": postgresql.insert,
}


def _upsert(model: type[Base], rows: list[dict[str, Any]]) -> None:
    if not rows:
        return
    table: Any = model.__table__
    insert = _INSERT[db.engine.dialect.name](table)
    keys = [column.name for column in table.primary_key.columns]
    rest = {name: insert.excluded[name] for name in rows[0] if name not in (*keys, *_LASTING)}
    db.session.execute(insert.on_conflict_do_update(index_elements=keys, set_=rest), rows)


def _item(row: Row[Any]) -> Item:
    sets = {
        name: {m: tuple(tags) for m, tags in members.items()} for name, members in row.sets.items()
    }
    return Item(row.kind, row.id, row.at, row.fields, row.stamps, sets)


def _record(row: Row[Any]) -> Record:
    return Record(row.kind, row.id, row.at, row.body, row.replaces, row.void)


def _difference(row: Row[Any]) -> Difference:
    return Difference(
        row.id,
        row.kind,
        row.item_id,
        row.field,
        Version(row.kept["value"], row.kept["at"]),
        Version(row.lost["value"], row.lost["at"]),
        row.settled,
    )
