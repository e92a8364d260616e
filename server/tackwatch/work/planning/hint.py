"""The plan before, as something to begin the search with."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tackwatch.plan.build.project import Built
from tackwatch.plan.model import Placed, Plan, Score
from tackwatch.work.reckoning.rows import at_of

_UNKNOWN = Score(0, 0, 0, 0, 0)  # nobody reads the score of a hint


def hint_of(built: Built, pieces: Mapping[str, Sequence[Mapping[str, Any]]]) -> Plan | None:
    """Give where the steps of a project stood in the plan before, as far as they are cut in the same way."""
    placed = []
    for part in built.parts.values():
        known = pieces.get(part.step.id, ())
        if len(known) != len(part.ids):
            continue
        for id_, one in zip(part.ids, known, strict=True):
            start = built.clock.up(at_of(one["start_at"]))
            end = max(start, built.clock.up(at_of(one["end_at"])))
            placed.append(Placed(id_, start, end, tuple(one["member_ids"])))
    return Plan(tuple(placed), _UNKNOWN) if placed else None
