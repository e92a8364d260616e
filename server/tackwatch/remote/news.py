"""What changed and was not told yet: kept in the file until whoever follows has told it, so a kill loses no line."""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from tackwatch.remote.copy import Copy
from tackwatch.remote.file import get

Named = Callable[[str, str], Mapping[str, Any] | None]
"""Gives the stored row of a sort (``item``, ``record``) with an id."""


@dataclass(frozen=True, slots=True)
class News:
    """One change: the row before (``None`` when it is new) and after; ``what``: item, record, difference or alarm."""

    what: str
    before: Mapping[str, Any] | None
    after: Mapping[str, Any]


Tell = Callable[[News, Named], None]


def tell_news(copy: Copy, tell: Tell) -> int:
    """Tell what was not told, oldest first, and strike out each after it was told; say how many there were."""
    with copy.file.reading() as db:
        found = list(db.execute("SELECT * FROM news ORDER BY id"))

    def named(what: str, id_: str) -> Mapping[str, Any] | None:
        return get(copy.file.db, "known", what, id_)

    for row in found:
        before = json.loads(row["before"]) if row["before"] else None
        tell(News(row["what"], before, json.loads(row["after"])), named)
        with copy.file.writing() as db:
            db.execute("DELETE FROM news WHERE id = ?", (row["id"],))
    return len(found)
