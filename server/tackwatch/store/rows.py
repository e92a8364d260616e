"""Items, records and differences: bringing them to the merge, and filing what it made.

Rules
-----
- Each filed row takes the next number of the refit (whose lock the caller holds), so numbers are unique in a refit and
  a page of changes can be cut anywhere.
- Rows are read and written in bulk, as columns and not as objects that the session watches: a phone that was away hands
  in a thousand at once.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from dataclasses import dataclass
from functools import cache
from json import dumps
from typing import Any

from sqlalchemy import String, any_, bindparam, func, select
from sqlalchemy.dialects import postgresql

from tackwatch.merge.apply import Outcome
from tackwatch.merge.state import Difference, Item, Record, State, Version
from tackwatch.merge.text import text_of
from tackwatch.store import bulk
from tackwatch.store.bulk import as_text, document
from tackwatch.store.db import db
from tackwatch.store.models import DifferenceRow, ItemRow, RecordRow, Refit

_ITEM = (
    *(ItemRow.kind, ItemRow.id, ItemRow.at),
    *(as_text(ItemRow.fields), as_text(ItemRow.stamps), as_text(ItemRow.sets)),
)
_RECORD = (
    *(RecordRow.kind, RecordRow.id, RecordRow.at, as_text(RecordRow.body)),
    *(RecordRow.replaces, RecordRow.void),
)
_DIFFERENCE = (
    *(DifferenceRow.id, DifferenceRow.kind, DifferenceRow.item_id, DifferenceRow.field),
    *(as_text(DifferenceRow.kept), as_text(DifferenceRow.lost), DifferenceRow.settled),
)
_PLACE = (ItemRow.gone, ItemRow.seq, ItemRow.seq_made, ItemRow.seq_others, ItemRow.writer)
_ITEM_PLACED = (*_ITEM, *_PLACE)


@dataclass(frozen=True, slots=True)
class Place:
    """Where an item stood: whether it was deleted, its numbers, and who left it so."""

    gone: bool
    seq: int
    seq_made: int
    seq_others: int
    writer: str | None


Places = Mapping[str, Place]


def load(refit_id: str, ids: Collection[str]) -> State:
    """Bring the rows with these ids, of whatever sort, into a state."""
    return load_to_file(refit_id, ids)[0]


def load_to_file(refit_id: str, ids: Collection[str]) -> tuple[State, Places]:
    """As ``load``; give also where the items stood, for the filing of what becomes of them."""
    items: dict[str, Item] = {}
    places: dict[str, Place] = {}
    for row in _by_ids(ItemRow, _ITEM_PLACED, refit_id, ids):
        item = _item(*row[:6])
        items[item.id], places[item.id] = item, Place(*row[6:])
    records = [_record(*row) for row in _by_ids(RecordRow, _RECORD, refit_id, ids)]
    differences = [_difference(*row) for row in _by_ids(DifferenceRow, _DIFFERENCE, refit_id, ids)]
    return State(
        items, {one.id: one for one in records}, {one.id: one for one in differences}
    ), places


def items(refit_id: str, kinds: Collection[str]) -> list[Item]:
    """Give every item of these kinds, deleted ones too."""
    query = select(*_ITEM).where(ItemRow.refit_id == refit_id, ItemRow.kind.in_(kinds))
    return [_item(*row) for row in _found(query)]


def items_named(refit_id: str, ids: Collection[str]) -> list[Item]:
    """Give the items with these ids, deleted ones too."""
    return [_item(*row) for row in _by_ids(ItemRow, _ITEM, refit_id, ids)]


def items_with(refit_id: str, kind: str, field: str) -> list[Item]:
    """Give the items of a kind that have something in a field, deleted ones too."""
    query = select(*_ITEM).where(
        ItemRow.refit_id == refit_id,
        ItemRow.kind == kind,
        ItemRow.fields[field].as_string().is_not(None),
    )
    return [_item(*row) for row in _found(query)]


def records(refit_id: str, kinds: Collection[str]) -> list[Record]:
    """Give every record of these kinds, corrected ones too, oldest stamp first."""
    query = (
        select(*_RECORD)
        .where(RecordRow.refit_id == refit_id, RecordRow.kind.in_(kinds))
        .order_by(RecordRow.at)
    )
    return [_record(*row) for row in _found(query)]


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

    def items(self) -> Collection[Item]:
        """Give the items that are to be filed, as they are then."""
        return self._items.values()

    def write(self) -> None:
        """Number the rows and write them; the counter of the refit moves on.

        Items that are only to be sent back as they stand are numbered anew too, and are not among ``items``.
        """
        only_sent_back = self._altered - self._records.keys() - self._items.keys()
        sent_back = items_named(self.refit.id, only_sent_back)
        items = [self._item_row(one) for one in (*self._items.values(), *sent_back)]
        bulk.upsert(ItemRow, _ITEM_NAMES, _LASTING, items)
        records = [self._record_row(one) for one in self._records.values()]
        bulk.upsert(RecordRow, _RECORD_NAMES, _LASTING, records)
        differences = [self._difference_row(one) for one in self._differences.values()]
        bulk.upsert(DifferenceRow, _DIFFERENCE_NAMES, _LASTING, differences)
        self.refit.seq = self._seq
        db.session.flush()
        _forget_items()

    def _writer(self, id_: str) -> str | None:
        return None if id_ in self._altered else self.device

    def _next(self) -> int:
        self._seq += 1
        return self._seq

    def _item_row(self, item: Item) -> tuple[Any, ...]:
        before = self._places.get(item.id)
        writer = self._writer(item.id)
        others, seq = 0, self._next()
        made = seq if before is None or before.gone else before.seq_made
        if before is not None:
            others = before.seq_others if writer and before.writer == writer else before.seq
        documents = text_of(item.fields), text_of(item.stamps), text_of(item.sets)
        head = self._refit_id, item.id, item.kind, item.at
        return (*head, *documents, item.gone, seq, made, others, writer)

    def _record_row(self, record: Record) -> tuple[Any, ...]:
        head = self._refit_id, record.id, record.kind, record.at, text_of(record.body)
        writer = self._writer(record.id)
        return (*head, record.replaces, record.void, self._next(), writer)

    def _difference_row(self, difference: Difference) -> tuple[Any, ...]:
        versions = (
            text_of({"value": version.value, "at": version.at})
            for version in (difference.kept, difference.lost)
        )
        about = difference.kind, difference.item_id, difference.field
        head = self._refit_id, difference.id, *about
        return (*head, *versions, difference.settled, self._next())


_ITEM_NAMES = (
    *("refit_id", "id", "kind", "at", "fields", "stamps", "sets"),
    *("gone", "seq", "seq_made", "seq_others", "writer"),
)
_RECORD_NAMES = ("refit_id", "id", "kind", "at", "body", "replaces", "void", "seq", "writer")
_DIFFERENCE_NAMES = (
    *("refit_id", "id", "kind", "item_id", "field"),
    *("kept", "lost", "settled", "seq"),
)
_LASTING = ("kind", "at", "item_id", "field")  # never change, so their indexes need no writing


def _forget_items() -> None:
    """Let the session read its items anew where somebody asks for them: it has not seen what was written."""
    for one in list(db.session):
        if isinstance(one, ItemRow):
            db.session.expire(one)


def _by_ids(
    model: Any, columns: tuple[Any, ...], refit_id: str, ids: Collection[str]
) -> Iterable[Any]:
    if not ids:
        return ()
    on_postgres = db.engine.dialect.name == "postgresql"
    among = sorted(ids) if on_postgres else dumps(sorted(ids))
    query = _query_by_ids(model, columns, on_postgres)
    return db.session.connection().execute(query, {"refit": refit_id, "among": among}).all()


@cache
def _query_by_ids(model: Any, columns: tuple[Any, ...], on_postgres: bool) -> Any:
    """Compare with many ids as one parameter: a thousand of them are slow, and not every database takes so many."""
    mine = select(*columns).where(model.refit_id == bindparam("refit"))
    if on_postgres:
        return mine.where(model.id == any_(bindparam("among", type_=postgresql.ARRAY(String))))
    each = func.json_each(bindparam("among", type_=String)).table_valued("value")
    return mine.where(model.id.in_(select(each.c.value)))


def _found(query: Any) -> Iterable[Any]:
    """Ask the connection itself: these are columns, and nothing that the session keeps."""
    return db.session.connection().execute(query).all()


def _item(kind: str, id_: str, at: str, fields: str, stamps: str, sets: str) -> Item:
    return Item(kind, id_, at, document(fields), document(stamps), _sets(document(sets)))


def _sets(kept: Mapping[str, Mapping[str, list[str]]]) -> dict[str, dict[str, tuple[str, ...]]]:
    return {name: {m: tuple(tags) for m, tags in members.items()} for name, members in kept.items()}


def _record(kind: str, id_: str, at: str, body: str, replaces: str | None, void: bool) -> Record:
    return Record(kind, id_, at, document(body), replaces, void)


def _difference(
    id_: str, kind: str, item_id: str, field: str, kept: str, lost: str, settled: str | None
) -> Difference:
    stays, gone = (Version(one["value"], one["at"]) for one in map(document, (kept, lost)))
    return Difference(id_, kind, item_id, field, stays, gone, settled)
