"""Rows as phones read them: what is new to a device, and everything that lives, as texts of JSON.

The documents inside the rows go out as the database keeps them, without being taken apart and put together again.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from json import dumps, loads
from json.encoder import encode_basestring
from typing import Any

from sqlalchemy import ColumnElement, Text, and_, case, cast, or_, select

from tackwatch.store.db import db
from tackwatch.store.models import DifferenceRow, ItemRow, RecordRow, Refit
from tackwatch.store.tables import Tables

_FORGETTABLE = ("zone", "job", "step", "link", "product")
_FORGOTTEN = and_(ItemRow.gone, ItemRow.kind.in_(_FORGETTABLE))

_Conditions = list[ColumnElement[bool]]
_ALL: _Conditions = []
_Sort = tuple[Any, list[Any], Callable[..., str]]


@dataclass(frozen=True, slots=True)
class Page:
    """What is new to a device: texts of rows and of differences, up to the number ``cursor``."""

    changes: tuple[str, ...]
    differences: tuple[str, ...]
    cursor: int
    more: bool


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
    found: list[tuple[int, bool, str]] = []
    sorts = [_parts_until(cursor), *_SORTS[1:]] if parts and not all_of_it else _SORTS
    for (model, columns, write), number, conditions in zip(sorts, numbers, wanted, strict=True):
        query = select(number, *columns).where(
            model.refit_id == refit.id, model.seq > cursor, number > cursor, *conditions
        )
        for seq, *row in db.session.execute(query.order_by(number).limit(most + 1)):
            found.append((seq, model is DifferenceRow, write(*row)))
    found.sort(key=lambda entry: entry[0])
    sent, more = found[:most], len(found) > most
    return Page(
        tuple(row for _, is_difference, row in sent if not is_difference),
        tuple(row for _, is_difference, row in sent if is_difference),
        sent[-1][0] if more else refit.seq,
        more,
    )


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
    set_later, values = loads(stamps), loads(fields)
    part = {name: values[name] for name in set_later if name in values}
    text = dumps(part, ensure_ascii=False, separators=(",", ":"))
    head = f'{{"kind":{_text(kind)},"id":{_text(id_)},"part":true'
    return f'{head},"fields":{text},"stamps":{stamps},"sets":{sets}}}'


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
