"""What it would take to make the launch, each answer with the slot at which all would be done.

Rules
-----
* Each answer is a project with one thing changed, planned anew quickly; it is given only where that is done sooner
  than the plan in hand, and than a quick plan of the project as it is, by a day or in time. They come in the order
  of what they buy.
* The first entry of a late plan says what decides: of cures, parts, room and people, which of them, taken away,
  buys most; where none buys anything, the work itself, one step after the other.
* A later launch is always an answer: the soonest is when the plan in hand is done.
* What may be left until afloat: see `afloat`. A job that its owner marked as able to wait, with all that waits for it,
  is `afloat`. One that nobody marked is no answer but a question, `mark_afloat`: whether she floats without it, the
  owner knows.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, Literal

from tackwatch.plan.build.grid import HOUR_SLOTS
from tackwatch.plan.build.project import Built, build
from tackwatch.plan.infeasible import afloat, changed
from tackwatch.plan.infeasible.quick import done_at, quickly_done
from tackwatch.plan.model import Plan, Project, Slot
from tackwatch.plan.why import why_all

Code = Literal[
    "late_people", "late_cure", "late_part", "late_zone", "late_chain",
    "skill", "person", "hours", "free_day", "part", "afloat", "mark_afloat", "launch", "zone", "chain",
]  # fmt: skip
Param = str | int | date | datetime
MOST: Final = 4
MOST_DAYS: Final = 8
MOST_HOURS: Final = 2


@dataclass(frozen=True, slots=True)
class Answer:
    """What it would take, or what decides.

    Attributes
    ----------
    step_ids
        Steps of the refit that it is about.
    done
        The slot at which all that must be is done then; None: it is no answer, or nobody knows.
    """

    code: Code
    step_ids: tuple[str, ...] = ()
    params: Mapping[str, Param] = field(default_factory=dict)
    done: Slot | None = None


def _go_on() -> bool:
    return False


def answers(built: Built, plan: Plan, enough: Callable[[], bool] = _go_on) -> tuple[Answer, ...]:
    """Say what it would take that a late plan makes the launch; nothing where it does.

    Parameters
    ----------
    built : Built
        What the plan was made from.
    plan : Plan
        The best plan there is.
    enough : callable
        Asked before each try; when it says so, what was found so far is given.
    """
    if not plan.score.late:
        return ()
    return _Late(built, plan, enough).all()


class _Late:
    """A late plan, and what was tried to make it less late."""

    def __init__(self, built: Built, plan: Plan, enough: Callable[[], bool]) -> None:
        self.built, self.project, self.plan, self._enough = built, built.project, plan, enough
        self.at = {one.step_id: one for one in plan.placed}
        self.done = done_at(built.project, plan.placed)
        self.without = min(self.done, self._unchanged())
        self.step_of = {id_: part.step for part in built.parts.values() for id_ in part.ids}
        self.late = self._refit_ids(
            one.step_id for one in plan.placed
            if one.end > self.project.launch and self.project.step_of[one.step_id].by_launch
        )  # fmt: skip
        self.chain = self._chain()

    def all(self) -> tuple[Answer, ...]:
        decides = self._what_decides()
        found = [
            *self._people(),
            *self._free_days(),
            *self._hours(),
            *self._parts(),
            *self._afloat(),
        ]
        found.sort(key=lambda one: (one.done, one.code))
        launch_at = self.built.clock.at(self.done)
        later = Answer("launch", self.late, {"launch_at": launch_at}, self.done)
        return (decides, *found, later)

    def _unchanged(self) -> Slot:
        """Give when a quick plan is done that changes nothing: an answer is none that buys no more."""
        done = None if self._enough() else quickly_done(self.project, self.plan)
        return self.done if done is None else done

    def _try(self, project: Project) -> Slot | None:
        """Give when all is done, where that is sooner."""
        if self._enough():
            return None
        done = quickly_done(project, self.plan)
        return done if done is not None and done < self.without else None

    def _worth(self, project: Project) -> Slot | None:
        """Give when all is done, where that is in time or a day sooner: an hour is not worth a word."""
        done = self._try(project)
        if done is None or done <= self.project.launch:
            return done
        day, before = (changed.local_day(self.built, slot - 1) for slot in (done, self.without))
        return done if day < before else None

    def _what_decides(self) -> Answer:
        parts = frozenset(step.id for step in self.project.steps if step.earliest)
        tried: dict[Code, Slot | None] = {
            "late_cure": self._try(changed.without_cures(self.built)),
            "late_part": self._try(changed.without_waiting(self.project, parts)) if parts else None,
            "late_zone": self._try(changed.without_crowding(self.project)),
            "late_people": self._try(changed.with_everybody_twice(self.project)),
        }
        helps = {code: done for code, done in tried.items() if done is not None}
        code: Code = min(helps, key=lambda one: helps[one]) if helps else "late_chain"
        return Answer(code, self.late)

    def _people(self) -> Iterator[Answer]:
        """Try one more person for two days, by each set of skills that the chain needs."""
        days = list(changed.yard_days(self.built).items())
        wanted: dict[frozenset[str], set[int]] = {}
        for id_ in self.chain:
            one, step = self.at[id_], self.step_of.get(id_)
            if step is None or not one.people:
                continue
            first = next((k for k, (_, span) in enumerate(days) if span[1] > one.start), None)
            if first is not None:
                wanted.setdefault(step.skills, {0}).add(first)
        for skills, firsts in list(wanted.items())[:MOST]:
            tries = []
            for k in sorted(firsts)[: MOST + 1]:
                spans = [span for _, span in days[k : k + 2]]
                done = self._worth(changed.with_person(self.built, skills, spans))
                tries += [] if done is None else [(done, k)]
            if tries:
                done, k = min(tries)
                params: dict[str, Param] = {"n": 1, "on": days[k][0]}
                if len(skills) == 1:
                    params["skill_id"] = next(iter(skills))
                ids = [id_ for id_ in self.chain if self._skills(id_) == skills]
                yield Answer("person", self._refit_ids(ids), params, done)

    def _free_days(self) -> Iterator[Answer]:
        worked = set(changed.yard_days(self.built))
        last = self.done // (24 * HOUR_SLOTS) + 1
        days = {changed.local_day(self.built, 24 * HOUR_SLOTS * n) for n in range(last)} - worked
        tries = []
        for on in sorted(days)[:MOST_DAYS]:
            done = self._worth(changed.with_free_day(self.built, on))
            tries += [] if done is None else [(done, on)]
        if tries:
            done, on = min(tries)
            yield Answer("free_day", self.late, {"on": on}, done)

    def _hours(self) -> Iterator[Answer]:
        """Try longer days: as little longer as makes the launch, else as much as is tried."""
        found: list[tuple[Slot, int]] = []
        for hours in range(1, MOST_HOURS + 1):
            if not self._enough():
                done = self._worth(build(changed.longer_days(self.built.facts, hours)).project)
                found += [] if done is None else [(done, hours)]
            if found and found[-1][0] <= self.project.launch:
                break
        if found:
            done, hours = min(found)
            yield Answer("hours", self.late, {"hours": hours}, done)

    def _parts(self) -> Iterator[Answer]:
        waiting: dict[str, set[str]] = {}
        for step in self.project.steps:
            if step.earliest and step.fixed is None and step.id in self.step_of:
                waiting.setdefault(self.step_of[step.id].id, set()).add(step.id)
        on_chain = {self.step_of[id_].id for id_ in self.chain if id_ in self.step_of}
        first = sorted(waiting, key=lambda id_: (id_ not in on_chain, id_))
        for id_ in first[:MOST]:
            done = self._worth(changed.without_waiting(self.project, frozenset(waiting[id_])))
            if done is not None:
                expected = next(one for one in self.step_of.values() if one.id == id_).expected_at
                params: dict[str, Param] = {} if expected is None else {"expected_at": expected}
                yield Answer("part", (id_,), params, done)

    def _afloat(self) -> Iterator[Answer]:
        """Try to leave one job with what waits for it; where no single one helps, all that may be left."""
        may_wait = afloat.able_to_wait(self.built)
        yield from self._left("afloat", may_wait.marked)
        yield from self._left("mark_afloat", may_wait.unmarked)

    def _left(self, code: Code, units: Mapping[str, afloat.Unit]) -> Iterator[Answer]:
        tries = []
        for job_id in self._late_first(units)[: 2 * MOST]:
            done = self._without(units[job_id].step_ids)
            tries += [] if done is None else [(done, job_id)]
        for done, job_id in sorted(tries)[:2]:
            yield Answer(code, self._refit_ids(units[job_id].step_ids), {"job_id": job_id}, done)
        if not tries and len(units) > 1:
            every = list(dict.fromkeys(id_ for one in units.values() for id_ in one.step_ids))
            done_without = self._without(every)
            if done_without is not None:
                yield Answer(code, self._refit_ids(every), {}, done_without)

    def _without(self, step_ids: Iterable[str]) -> Slot | None:
        return self._worth(changed.without_steps(self.project, frozenset(step_ids)))

    def _late_first(self, units: Mapping[str, afloat.Unit]) -> list[str]:
        """Give jobs with most of what would be left on the chain first."""
        chain = set(self.chain)
        return sorted(units, key=lambda id_: (-len(chain & {*units[id_].step_ids}), id_))

    def _chain(self) -> list[str]:
        """Give the steps that hold one another up to the last end, from the last back."""
        whys = why_all(self.project, self.plan.placed)
        must = [one for one in self.plan.placed if self.project.step_of[one.step_id].by_launch]
        id_: str | None = max(must, key=lambda one: one.end).step_id
        chain: list[str] = []
        while id_ is not None and id_ not in chain:
            chain.append(id_)
            id_ = whys[id_].step_id
        return chain

    def _skills(self, id_: str) -> frozenset[str] | None:
        return self.step_of[id_].skills if id_ in self.step_of else None

    def _refit_ids(self, ids: Iterable[str]) -> tuple[str, ...]:
        return tuple(dict.fromkeys(self.step_of[id_].id for id_ in ids if id_ in self.step_of))
