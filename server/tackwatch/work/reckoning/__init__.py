"""Reckoning: from the rows of a refit to its running clocks, the states of its steps, and who is to be warned.

Pure: rows in, answers out. The phone does the same with the same rows, so both give the same alarms the same ids.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from datetime import datetime

from tackwatch.merge.state import Item, Record
from tackwatch.trade.steps import StepState
from tackwatch.work.reckoning.personal_warnings import PersonalWarning, PersonalWarnings
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import RefitRows
from tackwatch.work.reckoning.sources import Source, sources_of
from tackwatch.work.reckoning.step_states import StepStates

__all__ = ["PersonalWarning", "Reckoning", "Source", "reckon"]


@dataclass(frozen=True, slots=True)
class Reckoning:
    """All that is derived from the rows of a refit at one instant."""

    sources: tuple[Source, ...]
    steps: Mapping[str, StepState]
    warnings: tuple[PersonalWarning, ...]
    rules: RingRules
    rows: RefitRows


def reckon(items: Iterable[Item], records: Iterable[Record], now: datetime) -> Reckoning:
    """Derive clocks, step states and warnings.

    Parameters
    ----------
    items, records
        The refit's rows; of records at least applications, mixes, readings, marks and answers.
    now
        The instant for which it is true.
    """
    refit = RefitRows(items, records)
    sources = sources_of(refit, now)
    by_step: dict[str, list[Source]] = defaultdict(list)
    for source in sources:
        if source.step_id and not source.is_pot:
            by_step[source.step_id].append(source)
    steps = StepStates(refit, by_step, now).all()
    personal = PersonalWarnings(refit, sources, by_step, steps, now)
    return Reckoning(sources, steps, tuple(personal.all()), personal.rules, refit)
