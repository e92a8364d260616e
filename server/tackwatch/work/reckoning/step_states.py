"""The states of the steps, from marks, applications, links and clocks.

Rules
-----
- A step's own clocks are those of all its applications, careful side first; a coat begins its step.
- What the next step waits for, by its kind: sanding and grinding for ``sandable``, waiting (for the water) for
  ``immerse_opens``, everything else for ``recoat_opens`` and before the last start of ``recoat_closes``.
- Steps that wait for one another in a circle all wait; nothing is lost and somebody can cut the circle.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import datetime

from tackwatch.trade.cure import clocks_of_group
from tackwatch.trade.steps import LinkFacts, Mark, StepFacts, StepState, step_state
from tackwatch.trade.types import Clock, Stage
from tackwatch.work.reckoning.rows import Link, RefitRows, at_of
from tackwatch.work.reckoning.sources import Source

_SANDING = ("sand", "grind")
_CURE_ENDS: tuple[Stage, ...] = ("immerse_opens", "sandable", "touch_dry", "recoat_opens")


def window_stages(kind: str) -> tuple[Stage, Stage | None]:
    """Give the stages between which a step of this kind follows a coat by its cure."""
    if kind in _SANDING:
        return "sandable", None
    if kind == "wait":
        return "immerse_opens", "immerse_closes"
    return "recoat_opens", "recoat_closes"


class StepStates:
    """Works out the state of every step, those before it first."""

    def __init__(
        self, refit: RefitRows, sources: Mapping[str, Sequence[Source]], now: datetime
    ) -> None:
        self.steps = refit.live("step")
        self.sources = sources
        self.now = now
        self.marks: dict[str, list[Mark]] = defaultdict(list)
        for one in refit.standing("mark"):
            body = one.record.body
            self.marks[body["step_id"]].append(Mark(body["mark"], at_of(body["marked_at"])))
        self.before: dict[str, list[Link]] = defaultdict(list)
        self.following: dict[str, list[Link]] = defaultdict(list)
        for link in refit.links:
            if link.step_id in self.steps and link.after_id in self.steps:
                self.before[link.step_id].append(link)
                self.following[link.after_id].append(link)
        self.done: dict[str, StepState] = {}

    def all(self) -> dict[str, StepState]:
        """Give the state of each step by id."""
        for id_ in self.steps:
            self._state(id_, frozenset())
        return self.done

    def _state(self, id_: str, under_way: frozenset[str]) -> StepState:
        if id_ not in self.done:
            links = sorted(self.before[id_], key=lambda link: link.after_id)
            facts = StepFacts(
                id=id_,
                now_at=self.now,
                held_reason=self.steps[id_].fields.get("held"),
                marks=(*self.marks.get(id_, ()), *self._begun(id_)),
                has_open_application=any(source.open for source in self.sources.get(id_, ())),
                cures_until_at=self._cures_until(id_),
                before=tuple(self._facts(link, under_way | {id_}) for link in links),
            )
            self.done[id_] = step_state(facts)
        return self.done[id_]

    def _begun(self, id_: str) -> list[Mark]:
        """Give a start for each coat: who lays paint has begun the step, whether or not it was said."""
        return [Mark("started", source.start_at) for source in self.sources.get(id_, ())]

    def _facts(self, link: Link, under_way: frozenset[str]) -> LinkFacts:
        opens = closes = None
        if link.by_cure:
            kind = str(self.steps[link.step_id].fields["kind"])
            opens, closes = self._window(link.after_id, kind)
        in_a_circle = link.after_id in under_way
        state = "waiting" if in_a_circle else self._state(link.after_id, under_way).state
        return LinkFacts(
            step_id=link.after_id,
            state=state,
            finished_at=self._finished_at(link.after_id),
            min_gap_s=link.min_gap_s,
            max_gap_s=link.max_gap_s,
            opens_at=opens,
            closes_at=closes,
        )

    def _window(self, id_: str, kind: str) -> tuple[datetime | None, datetime | None]:
        """Give when a step's coat lets a step of this kind begin, and the last good instant."""
        clocks = self._clocks(id_)
        opens_stage, closes_stage = window_stages(kind)
        opens = clocks.get(opens_stage)
        closes = clocks.get(closes_stage) if closes_stage else None
        return opens.governing_at if opens else None, closes.last_start_at if closes else None

    def _clocks(self, id_: str) -> dict[Stage, Clock]:
        group = clocks_of_group(id_, [source.clocks for source in self.sources.get(id_, ())])
        return {clock.stage: clock for clock in group}

    def _cures_until(self, id_: str) -> datetime | None:
        clocks = self._clocks(id_)
        kinds = [
            str(self.steps[link.step_id].fields["kind"])
            for link in self.following[id_]
            if link.by_cure
        ]
        stages = [window_stages(kind)[0] for kind in kinds]
        if not stages:
            stages = [stage for stage in _CURE_ENDS if stage in clocks][:1]
        ends = [clocks[stage].governing_at for stage in stages if stage in clocks]
        return min((end for end in ends if end is not None), default=None)

    def _finished_at(self, id_: str) -> datetime | None:
        ends = [source.end_at for source in self.sources.get(id_, ()) if source.end_at is not None]
        if ends:
            return max(ends)
        return max(
            (mark.at for mark in self.marks.get(id_, ()) if mark.kind == "finished"), default=None
        )
