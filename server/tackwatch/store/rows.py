"""Items, records and differences: bringing them to the merge, filing what it made, and reading what is new.

Each filed row takes the next number of the refit (whose lock the caller holds), so numbers are unique in a refit and a
page of changes can be cut anywhere.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, and_, or_, select
from sqlalchemy.dialects import postgresql, sqlite

from tackwatch.merge.apply import Outcome
from tackwatch.merge.state import Difference, Item, Record, State, Version
from tackwatch.store.db import Base, db
from tackwatch.store.models import DifferenceRow, ItemRow, RecordRow, Refit

_MANY = 500
_FORGETTABLE = ("zone", "job", "step", "link", "product")


def load(refit_id: str, ids: Collection[str]) -> State:
    """Bring the rows with these ids, of whatever sort, into a state."""
    return State(
        {row.id: _item(row) for row in _by_ids(ItemRow, refit_id, ids)},
        {row.id: _record(row) for row in _by_ids(RecordRow, refit_id, ids)},
        {row.id: _difference(row) for row in _by_ids(DifferenceRow, refit_id, ids)},
    )


def items(refit_id: str, kinds: Collection[str]) -> list[Item]:
    """Give every item of these kinds, deleted ones too."""
    query = select(ItemRow).where(ItemRow.refit_id == refit_id, ItemRow.kind.in_(kinds))
    return [_item(row) for row in db.session.scalars(query)]


def records(refit_id: str, kinds: Collection[str]) -> list[Record]:
    """Give every record of these kinds, corrected ones too, oldest stamp first."""
    query = (
        select(RecordRow)
        .where(RecordRow.refit_id == refit_id, RecordRow.kind.in_(kinds))
        .order_by(RecordRow.at)
    )
    return [_record(row) for row in db.session.scalars(query)]


class Filing:
    """Rows that wait to be filed for one refit after operations of one device."""

    def __init__(self, refit: Refit, device: str) -> None:
        self.refit = refit
        self.device = device
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
        touched = self._items.keys() | (self._altered - self._records.keys())
        before = {row.id: row for row in _by_ids(ItemRow, self.refit.id, touched)}
        for id_ in touched - self._items.keys():
            self._items[id_] = _item(before[id_])
        _upsert(
            ItemRow, [self._item_values(one, before.get(one.id)) for one in self._items.values()]
        )
        _upsert(RecordRow, [self._record_values(one) for one in self._records.values()])
        _upsert(DifferenceRow, [self._difference_values(one) for one in self._differences.values()])
        db.session.flush()
        db.session.expire_all()

    def _writer(self, id_: str) -> str | None:
        return None if id_ in self._altered else self.device

    def _next(self) -> int:
        self.refit.seq += 1
        return self.refit.seq

    def _item_values(self, item: Item, before: ItemRow | None) -> dict[str, Any]:
        writer = self._writer(item.id)
        others = 0
        if before is not None:
            others = before.seq_others if writer and before.writer == writer else before.seq
        return {
            "refit_id": self.refit.id,
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
            "seq": self._next(),
            "seq_others": others,
            "writer": writer,
        }

    def _record_values(self, record: Record) -> dict[str, Any]:
        return {
            "refit_id": self.refit.id,
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
            "refit_id": self.refit.id,
            "id": difference.id,
            "kind": difference.kind,
            "item_id": difference.item_id,
            "field": difference.field,
            "kept": {"value": difference.kept.value, "at": difference.kept.at},
            "lost": {"value": difference.lost.value, "at": difference.lost.at},
            "settled": difference.settled,
            "seq": self._next(),
        }


@dataclass(frozen=True, slots=True)
class Page:
    """What is new to a device: rows and differences as phones read them, up to the number ``cursor``."""

    changes: tuple[dict[str, Any], ...]
    differences: tuple[dict[str, Any], ...]
    cursor: int
    more: bool


def page(refit: Refit, cursor: int, device: str, whole_until: int, most: int) -> Page:
    """Give what is new to a device past its cursor, at most ``most`` rows.

    While the device loads the whole (``cursor < whole_until``) it is sent its own rows too, and not what was deleted
    before it began.
    """
    found: list[tuple[int, bool, dict[str, Any]]] = []
    queries = _new_to(device, whole_until if cursor < whole_until else 0, cursor)
    for model, wire, news in queries:
        query = select(model).where(model.refit_id == refit.id, model.seq > cursor, *news)
        for row in db.session.scalars(query.order_by(model.seq).limit(most + 1)):
            found.append((row.seq, model is DifferenceRow, wire(row)))
    found.sort(key=lambda entry: entry[0])
    sent, more = found[:most], len(found) > most
    return Page(
        tuple(row for _, is_difference, row in sent if not is_difference),
        tuple(row for _, is_difference, row in sent if is_difference),
        sent[-1][0] if more else refit.seq,
        more,
    )


def _new_to(
    device: str, whole_until: int, cursor: int
) -> list[tuple[Any, Callable[[Any], dict[str, Any]], list[ColumnElement[bool]]]]:
    if whole_until:
        forgotten = and_(ItemRow.gone, ItemRow.kind.in_(_FORGETTABLE), ItemRow.seq <= whole_until)
        item_news: list[ColumnElement[bool]] = [~forgotten]
        record_news: list[ColumnElement[bool]] = []
    else:
        others = or_(
            ItemRow.writer.is_(None), ItemRow.writer != device, ItemRow.seq_others > cursor
        )
        item_news = [others]
        record_news = [or_(RecordRow.writer.is_(None), RecordRow.writer != device)]
    return [
        (ItemRow, wire_item, item_news),
        (RecordRow, wire_record, record_news),
        (DifferenceRow, wire_difference, []),
    ]


def wire_item(row: ItemRow) -> dict[str, Any]:
    """Give an item as phones read it."""
    return {
        "kind": row.kind,
        "id": row.id,
        "at": row.at,
        "fields": row.fields,
        "stamps": row.stamps,
        "sets": row.sets,
    }


def wire_record(row: RecordRow) -> dict[str, Any]:
    """Give a record as phones read it."""
    return {
        "kind": row.kind,
        "id": row.id,
        "at": row.at,
        "body": row.body,
        "replaces": row.replaces,
        "void": row.void,
    }


def wire_difference(row: DifferenceRow) -> dict[str, Any]:
    """Give a difference as phones read it."""
    return {
        "id": row.id,
        "kind": row.kind,
        "item_id": row.item_id,
        "field": row.field,
        "kept": row.kept,
        "lost": row.lost,
        "settled": row.settled,
    }


def _by_ids(model: Any, refit_id: str, ids: Collection[str]) -> Iterable[Any]:
    wanted = sorted(ids)
    for start in range(0, len(wanted), _MANY):
        query = select(model).where(
            model.refit_id == refit_id, model.id.in_(wanted[start : start + _MANY])
        )
        yield from db.session.scalars(query)


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
    rest = {name: insert.excluded[name] for name in rows[0] if name not in keys}
    db.session.execute(insert.on_conflict_do_update(index_elements=keys, set_=rest), rows)


def _item(row: ItemRow) -> Item:
    sets = {
        name: {m: tuple(tags) for m, tags in members.items()} for name, members in row.sets.items()
    }
    return Item(row.kind, row.id, row.at, row.fields, row.stamps, sets)


def _record(row: RecordRow) -> Record:
    return Record(row.kind, row.id, row.at, row.body, row.replaces, row.void)


def _difference(row: DifferenceRow) -> Difference:
    return Difference(
        row.id,
        row.kind,
        row.item_id,
        row.field,
        Version(row.kept["value"], row.kept["at"]),
        Version(row.lost["value"], row.lost["at"]),
        row.settled,
    )
