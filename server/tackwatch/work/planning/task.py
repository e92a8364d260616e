"""What is worked out in a process of its own, and what that says: plain values that can be sent."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tackwatch.plan.facts import Facts
from tackwatch.work.planning.past import Past

SAMPLES = 10_000


@dataclass(frozen=True, slots=True)
class Task:
    """A plan to be worked out.

    Attributes
    ----------
    hint
        The pieces of each step in the plan before.
    rounds
        At most so many rounds of search: then the outcome hangs on nothing but the facts and the seed.
    """

    facts: Facts
    past: Past
    seconds: float
    seed: int = 0
    workers: int = 2
    hint: Mapping[str, Sequence[Mapping[str, Any]]] = field(default_factory=dict)
    samples: int = SAMPLES
    rounds: int | None = None


@dataclass(frozen=True, slots=True)
class Progress:
    """How far it is."""

    phase: str
    p_done: float
    late_s: float | None = None
    missed: int | None = None


@dataclass(frozen=True, slots=True)
class Done:
    """What came of it; ``trouble`` is what only the log is told."""

    result: Mapping[str, Any]
    trouble: str = ""


@dataclass(frozen=True, slots=True)
class Failed:
    """That no plan came of it.

    Parameters
    ----------
    code
        Short stable name.
    step_ids
        The steps at fault, where that is known.
    cannot
        The same for people, as what cannot be.
    detail
        What only the log is told.
    takes
        What it would take, as what cannot be.
    """

    code: str
    step_ids: tuple[str, ...] = ()
    cannot: str | None = None
    detail: str = ""
    takes: tuple[Mapping[str, Any], ...] = ()


Message = Progress | Done | Failed
