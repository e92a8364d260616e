"""Everything that was ever sent about one item, record or difference: who, when, what, and the verdict.

A plan that was given to the crew is one line: of each step that it changed, and of the refit.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from heapq import merge
from itertools import islice
from typing import Any

from tackwatch.merge.catalogue import ITEMS, RECORDS
from tackwatch.merge.values import is_id
from tackwatch.store import history as log
from tackwatch.store.models import OperationRow
from tackwatch.work import plans
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError

PAGE = 200


@dataclass(frozen=True, slots=True)
class History:
    """A page of operations, oldest first; ``more`` asks for the next one after the last stamp."""

    operations: tuple[dict[str, Any], ...]
    more: bool


def history(caller: Caller, kind: str, item_id: str, after: str = "") -> History:
    """Give the operations that named an item or record of this kind, refused ones too.

    Raises
    ------
    NotFoundError
        When there is no such kind.
    """
    if kind not in ITEMS and kind not in RECORDS:
        raise NotFoundError("unknown-kind", "There is no such kind.")
    if not is_id(item_id):
        raise NotFoundError("unknown-id", "There is no such item.")
    sent = _sent(caller.refit_id, kind, item_id, after)
    given_out = plans.given_out(caller.refit_id, kind, item_id, after)
    found = tuple(islice(merge(sent, given_out, key=lambda one: one["at"]), PAGE + 1))
    return History(found[:PAGE], more=len(found) > PAGE)


def _sent(refit_id: str, kind: str, item_id: str, after: str) -> Iterator[dict[str, Any]]:
    """Give what phones sent about an item, from the log page by page."""
    while rows := log.naming(refit_id, item_id, after, PAGE):
        for row, member_id in rows:
            concerned = [one for one in row.actions if _concerns(one, kind, item_id)]
            if concerned:
                yield _entry(row, member_id, concerned)
        after = rows[-1][0].at


def _entry(row: OperationRow, member_id: str, concerned: list[Any]) -> dict[str, Any]:
    return {
        "device_id": row.device_id,
        "member_id": member_id,
        "n": row.n,
        "at": row.at,
        "sent": row.sent,
        "act": row.act,
        "actions": concerned,
        "problem": row.refusal,
    }


def _concerns(action: Any, kind: str, item_id: str) -> bool:
    """Say whether an action is about the item: names it, corrects it, or settles one of its differences."""
    if not isinstance(action, Mapping):
        return False
    if action.get("do") == "settle":
        settled = action.get("differences")
        return isinstance(settled, list) and any(
            isinstance(one, str) and one.startswith(f"{item_id}.") for one in settled
        )
    named = item_id in (action.get("id"), action.get("replaces"))
    return action.get("kind") == kind and named
