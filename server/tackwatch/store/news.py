"""Rows as phones read them: what is new to a device, and everything that lives, as texts of JSON.

The documents inside the rows go out as the database keeps them, without being taken apart and put together again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from functools import lru_cache
from json import JSONEncoder
from json.encoder import encode_basestring
from operator import itemgetter
from typing import Any

from sqlalchemy import ColumnElement, Text, and_, case, cast, or_, select

from tackwatch.store.bulk import document
from tackwatch.store.db import db
from tackwatch.store.models import DifferenceRow, ItemRow, RecordRow, Refit
from tackwatch.store.tables import Tables

_compact = JSONEncoder(ensure_ascii=False, separators=(",", ":")).encode
_FORGETTABLE = ("zone", "job", "step", "link", "product")
_FORGOTTEN = and_(ItemRow.gone, ItemRow.kind.in_(_FORGETTABLE))

_Conditions = list[ColumnElement[bool]]
_ALL: _Conditions = []
_Write = Callable[..., str]
_Values = tuple[Any, ...]
_Sort = tuple[Any, list[Any], _Write]


@dataclass(frozen=True, slots=True)
class Page:
    """What is new to a device: rows up to the number ``cursor``, read but not yet written out.

    So the refit's lock is not held while texts are put together.
    """

    cursor: int
    more: bool
    _found: list[tuple[int, _Write, bool, _Values]]

    def changes(self) -> list[str]:
        """Give items and records as texts."""
        return [write(*row) for _, write, is_difference, row in self._found if not is_difference]

    def differences(self) -> list[str]:
        """Give differences as texts."""
        return [write(*row) for _, write, is_difference, row in self._found if is_difference]


@contextmanager
def reading() -> Iterator[None]:
    """See the database in one state throughout a block, without holding up those who write."""
    db.session.rollback()
    if db.engine.dialect.name == "postgresql":
        db.session.connection(execution_options={"isolation_level": "REPEATABLE READ"})
    try:
        yield
    finally:
        db.session.rollback()


def page(
    refit: Refit, cursor: int, device: str, whole_until: int, most: int, *, parts: bool = False
) -> Page:
    """Give what is new to a device past its cursor, at most ``most`` rows.

    With ``parts`` the device holds every row up to its cursor: of an item that is among them it is sent the fields that
    were ever set after its making, which are those that have stamps of their own.

    While the device loads everything (``cursor < whole_until``) it is sent its own rows too. Only one that has nothing
    yet goes without what was deleted: a first request that arrives late moves ``whole_until`` for one that has long
    been further.

    An item counts under the number that makes it new: where the device wrote last, that of the last change by others.
    """
    all_of_it = cursor < whole_until
    wanted = _everything(cursor) if all_of_it else _of_others(device)
    item_number = ItemRow.seq if all_of_it else _number_for(device)
    numbers = (item_number, RecordRow.seq, DifferenceRow.seq)
    found: list[tuple[int, _Write, bool, _Values]] = []
    sorts = [_parts_until(cursor), *_SORTS[1:]] if parts and not all_of_it else _SORTS
    for (model, columns, write), number, conditions in zip(sorts, numbers, wanted, strict=True):
        query = select(number, *columns).where(
            model.refit_id == refit.id, model.seq > cursor, number > cursor, *conditions
        )
        ordered = query.order_by(number).limit(most + 1)
        for row in db.session.connection().execute(ordered).all():
            found.append((row[0], write, model is DifferenceRow, row[1:]))
    found.sort(key=itemgetter(0))
    sent, more = found[:most], len(found) > most
    return Page(sent[-1][0] if more else refit.seq, more, sent)


def living(refit_id: str, most: int) -> Iterator[tuple[Tables, int]]:
    """Give every row that a new device needs, at most so many at a time, and how many; like stands beside like."""
    tables, count = Tables(), 0
    for (model, columns, write), conditions in zip(
        _SORTS, ([~_FORGOTTEN], _ALL, _ALL), strict=True
    ):
        query = select(*columns).where(model.refit_id == refit_id, *conditions)
        for row in db.session.execute(query.order_by(model.kind, model.seq)):
            if count == most:
                yield tables, count
                tables, count = Tables(), 0
            count += 1
            if model is ItemRow:
                tables.item(*tuple(row))
            elif model is RecordRow:
                tables.record(*tuple(row))
            else:
                tables.difference(write(*row))
    yield tables, count


def _everything(cursor: int) -> list[_Conditions]:
    return [_ALL if cursor else [~_FORGOTTEN], _ALL, _ALL]


def _of_others(device: str) -> list[_Conditions]:
    return [_ALL, [or_(RecordRow.writer.is_(None), RecordRow.writer != device)], _ALL]


def _number_for(device: str) -> ColumnElement[int]:
    return case((ItemRow.writer == device, ItemRow.seq_others), else_=ItemRow.seq)


def _item(kind: str, id_: str, at: str, fields: str, stamps: str, sets: str) -> str:
    head = _head(kind, id_, at)
    return f'{head},"fields":{fields},"stamps":{stamps},"sets":{sets}}}'


def _part(kind: str, id_: str, fields: str, stamps: str, sets: str) -> str:
    head = f'{{"kind":{_text(kind)},"id":{_text(id_)},"part":true'
    return f'{head},"fields":{_set_later(fields, stamps)},"stamps":{stamps},"sets":{sets}}}'


@lru_cache(maxsize=4_000)
def _set_later(fields: str, stamps: str) -> str:
    """Give those of the fields that have stamps of their own.

    What one did all others are sent: with eight phones the same is asked for seven times.
    """
    names, values = document(stamps), document(fields)
    return _compact({name: values[name] for name in names if name in values})


def _record(kind: str, id_: str, at: str, body: str, replaces: str | None, void: bool) -> str:
    head, replaced = _head(kind, id_, at), _text(replaces)
    return f'{head},"body":{body},"replaces":{replaced},"void":{"true" if void else "false"}}}'


def _difference(
    kind: str, id_: str, item_id: str, field: str, kept: str, lost: str, settled: str | None
) -> str:
    named = f'"id":{_text(id_)},"kind":{_text(kind)},"item_id":{_text(item_id)}'
    versions = f'"field":{_text(field)},"kept":{kept},"lost":{lost}'
    return f'{{{named},{versions},"settled":{_text(settled)}}}'


def _head(kind: str, id_: str, at: str) -> str:
    return f'{{"kind":{_text(kind)},"id":{_text(id_)},"at":{_text(at)}'


def _text(text: str | None) -> str:
    return "null" if text is None else encode_basestring(text)


def _sort(model: Any, write: Callable[..., str], names: str, documents: str) -> _Sort:
    """Give a table with its columns in the order in which ``write`` wants them, documents as texts."""
    kept = {name: getattr(model, name) for name in names.split()}
    as_text = {name: cast(kept[name], Text).label(name) for name in documents.split()}
    return model, list({**kept, **as_text}.values()), write


_SORTS: list[_Sort] = [
    _sort(ItemRow, _item, "kind id at fields stamps sets", "fields stamps sets"),
    _sort(RecordRow, _record, "kind id at body replaces void", "body"),
    _sort(DifferenceRow, _difference, "kind id item_id field kept lost settled", "kept lost"),
]


def _parts_until(cursor: int) -> _Sort:
    """As the first of the sorts, with parts of the items that were made up to a cursor."""
    model, columns, write = _SORTS[0]

    def item(made: int, kind: str, id_: str, at: str, *documents: str) -> str:
        if made > cursor:
            return write(kind, id_, at, *documents)
        return _part(kind, id_, *documents)

    return model, [ItemRow.seq_made, *columns], item
