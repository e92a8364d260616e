"""What it would take to make the launch, each answer with the slot at which all would be done.

Rules
-----
* Each answer is a project with one thing changed, planned anew quickly; it is given only where that is done sooner
  than the plan in hand, and than a quick plan of the project as it is, by a day or in time. They come in the order
  of what they buy.
* The first entry of a late plan says what decides: of cures, parts, room and people, which of them, taken away,
  buys most; where none buys anything, the work itself, one step after the other.
* A later launch is always an answer: the soonest is when the plan in hand is done.
* What may be left until afloat is a job of which nothing is begun and nothing else waits for it: one that its owner
  said may wait, or one that lays nothing that may stand under water. Whether it can, people know.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import date, datetime
from typing import Final, Literal

from tackwatch.plan.build.grid import HOUR_SLOTS
from tackwatch.plan.build.project import Built, build
from tackwatch.plan.facts import RefitStep
from tackwatch.plan.infeasible import changed
from tackwatch.plan.infeasible.quick import done_at, quickly_done
from tackwatch.plan.model import Plan, Project, Slot
from tackwatch.plan.why import why_all
from tackwatch.trade.edges import stage_known

Code = Literal[
    "late_people", "late_cure", "late_part", "late_zone", "late_chain",
    "skill", "person", "hours", "free_day", "part", "afloat", "launch", "zone", "chain",
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
        """Try to leave one job; where no single one helps, all that may be left."""
        jobs = _may_wait(self.built)
        tries = []
        for job_id, ids in self._late_first(jobs)[: 2 * MOST]:
            done = self._worth(changed.without_steps(self.project, frozenset(ids)))
            tries += [] if done is None else [(done, job_id)]
        for done, job_id in sorted(tries)[:2]:
            yield Answer("afloat", self._refit_ids(jobs[job_id]), {"job_id": job_id}, done)
        every = [id_ for ids in jobs.values() for id_ in ids]
        if not tries and len(jobs) > 1:
            all_done = self._worth(changed.without_steps(self.project, frozenset(every)))
            if all_done is not None:
                yield Answer("afloat", self._refit_ids(every), {}, all_done)

    def _late_first(self, jobs: Mapping[str, list[str]]) -> list[tuple[str, list[str]]]:
        """Give jobs with most of their steps on the chain first."""
        chain = set(self.chain)
        return sorted(jobs.items(), key=lambda one: (-len(chain & set(one[1])), one[0]))

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


def _may_wait(built: Built) -> dict[str, list[str]]:
    """Give the jobs that may be left until afloat, with their steps in the project."""
    jobs: dict[str, list[str]] = {}
    kept: set[str] = set()
    for part in built.parts.values():
        step = part.step
        if part.standing == "ahead" and (step.afloat_ok or not _for_the_water(step)):
            jobs.setdefault(step.job_id, []).extend(part.ids)
        elif part.standing != "done":
            kept.add(step.job_id)
    jobs = {job_id: ids for job_id, ids in jobs.items() if job_id not in kept}
    job_of = {id_: part.step.job_id for part in built.parts.values() for id_ in part.ids}
    jobs = {job_id: ids for job_id, ids in jobs.items() if job_id not in kept}
    for _ in range(len(jobs)):
        held = {
            job_of[link.before] for link in built.project.links
            if job_of.get(link.before) in jobs and job_of.get(link.after) != job_of[link.before]
        }  # fmt: skip
        if not held:
            break
        jobs = {job_id: ids for job_id, ids in jobs.items() if job_id not in held}
    return jobs


def _for_the_water(step: RefitStep) -> bool:
    """Say whether a step lays what may stand under water, or waits for it."""
    known = step.profile is not None and stage_known(step.profile, "immerse_opens")
    return known or step.kind == "wait"
