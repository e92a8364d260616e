"""Plays the truth on, slot by slot, in plain Python. It shares no code with the forecast.

What the crew does, as people do: in each slot those who are there and free take the first step of the plan, in the
order of its starts, that can be begun now: what it waits for is done and cured, its people are there, its
estimate fits into what is left of their day. Nobody begins a later step that by its estimate would keep them from
their own next one, when it is known when that may begin. A step whose person is still busy for more than half a day, by
estimates, is taken over by somebody able who stands idle, once it is late. A coat is not begun when the next would fall
outside its window. Work that takes longer goes on the next morning; work found is done in what time is left, half a
day at a time, and reveals more.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from random import Random

from tools.bench.forecast_refits import DAY, Refit

from tackwatch.plan.model import Link

HALF_DAY = 16
HELD = 2 * DAY
LONGEST = 400 * DAY


@dataclass
class Task:
    """Something to do: a step of the plan, or a piece of found work."""

    name: str
    people: tuple[str, ...]
    able: tuple[str, ...]
    estimate: int
    factor: float
    job: str
    planned: int
    outdoors: bool = False
    links: list[Link] = field(default_factory=list)
    left: float = 0.0
    begun: bool = False
    end: int | None = None
    held_since: int | None = None


@dataclass
class Found:
    """A found job, with what is left of it."""

    name: str
    able: tuple[str, ...]
    left: float


class Player:
    """One course of the work."""

    def __init__(self, refit: Refit, seed: str) -> None:
        self.refit, self.chance = refit, Random(seed)
        self.open = {
            one.id: [(a % DAY, b % DAY, a // DAY % 7) for a, b in one.open]
            for one in refit.project.people
        }
        self.wet = refit.truth.wet_days(self.chance, LONGEST // DAY)
        self.busy: dict[str, Task | Found] = {}
        self.expected: dict[str, int] = {}
        self.found: list[Found] = []
        self.tasks = self._tasks()
        self.by_name = {one.name: one for one in self.tasks}
        self.after: dict[str, list[Link]] = {one.name: [] for one in self.tasks}
        for link in refit.project.links:
            self.after[link.before].append(link)
        self.todo = dict.fromkeys(refit.record.job_of.values(), 0)
        for one in self.tasks:
            self.todo[one.job] += 1

    def _tasks(self) -> list[Task]:
        project, record, truth = self.refit.project, self.refit.record, self.refit.truth
        placed = {one.step_id: one for one in self.refit.plan.placed}
        jobs = {job: truth.job(self.chance) for job in sorted(set(record.job_of.values()))}
        tasks = []
        for step in sorted(project.steps, key=lambda one: placed[one.id].start):
            factor = truth.factor(self.chance, jobs[record.job_of[step.id]], ahead=True)
            links = [link for link in project.links if link.after == step.id]
            one = placed[step.id]
            tasks.append(
                Task(
                    step.id,
                    one.people,
                    step.able if step.crew == 1 else (),
                    step.work,
                    factor,
                    record.job_of[step.id],
                    one.start,
                    step.id in record.outdoors,
                    links,
                )
            )
        return tasks

    def play(self) -> int:
        """Play to the end of all work, and give it."""
        end = 0
        for t in range(LONGEST):
            if not 32 <= t % DAY <= 68:
                continue
            end = max(end, self._work(t))
            if not self.busy and not self.found and all(one.end is not None for one in self.tasks):
                return end
            here = [p for p in self.open if p not in self.busy and self._there(p, t)]
            if here:
                self._begin(t, here)
        return LONGEST

    def _there(self, person: str, t: int) -> bool:
        return self._span(person, t) is not None

    def _span(self, person: str, t: int) -> int | None:
        """Give the end of the span in which a person is here, or None."""
        for start, end, weekday in self.open[person]:
            if weekday == t // DAY % 7 and start <= t % DAY < end:
                return t - t % DAY + end
        return None

    def _work(self, t: int) -> int:
        """Let the slot before `t` be worked; give the end of what was finished, if anything."""
        last = 0
        for what in list({id(one): one for one in self.busy.values()}.values()):
            who = [p for p, one in self.busy.items() if one is what]
            at = t - 1
            rain = isinstance(what, Task) and what.outdoors and self.wet[at // DAY]
            if rain or not all(self._there(p, at) for p in who):
                continue
            what.left -= 1
            if isinstance(what, Found) and what.left > 0 and t < self.expected[who[0]]:
                continue
            if isinstance(what, Task) and what.left > 0.5:
                continue
            for p in who:
                del self.busy[p]
            last = max(last, t)
            if isinstance(what, Task):
                what.end = t
                self.todo[what.job] -= 1
                if self.todo[what.job] == 0:
                    able = {
                        p
                        for one in self.tasks
                        if one.job == what.job
                        for p in (*one.able, *one.people)
                    }
                    self._reveal(tuple(sorted(able)))
            elif what.left <= 0.5:
                self._reveal(what.able)
            else:
                self.found.insert(0, what)
        return last

    def _reveal(self, able: tuple[str, ...]) -> None:
        truth, chance = self.refit.truth, self.chance
        for _ in range(truth.reveals(chance)):
            factor = truth.factor(chance, truth.job(chance), ahead=True)
            work = truth.found_labour(chance) * factor
            self.found.append(Found("found", able, work))

    def _begin(self, t: int, here: list[str]) -> None:
        for task in self.tasks:
            if task.begun:
                continue
            ready = self._ready(task)
            if ready is None or t < ready or (task.outdoors and self.wet[t // DAY]):
                continue
            who = self._hands(task, t, here)
            if not who or self._holds(task, t, who):
                continue
            self._start(task, t, who)
            here[:] = [p for p in here if p not in who]
        for p in list(here):
            mine = next((one for one in self.found if p in one.able), None)
            if mine is not None:
                self.found.remove(mine)
                self.busy[p] = mine
                self.expected[p] = t + HALF_DAY

    def _ready(self, task: Task) -> int | None:
        """Give when the links let it begin, or None while that is not known."""
        ends = [(self.by_name[link.before].end, link) for link in task.links]
        if any(end is None for end, _ in ends):
            return None
        return max([0, *(end + link.min_gap for end, link in ends if end is not None)])

    def _hands(self, task: Task, t: int, here: list[str]) -> tuple[str, ...]:
        if all(p in here for p in task.people):
            return task.people if self._fits(task, t, task.people) else ()
        if len(task.people) != 1 or t <= task.planned + HALF_DAY:
            return ()
        theirs = self.expected.get(task.people[0], t)
        if task.people[0] in self.busy and theirs - t > HALF_DAY:
            for p in here:
                if p in task.able and self._fits(task, t, (p,)):
                    return (p,)
        return ()

    def _fits(self, task: Task, t: int, who: tuple[str, ...]) -> bool:
        ends = [self._span(p, t) for p in who]
        if any(end is None or t + task.estimate > end for end in ends):
            return False
        for p in who:
            first = next((o for o in self.tasks if not o.begun and p in o.people), task)
            if first is not task:
                ready = self._ready(first)
                if ready is not None and t < ready < t + task.estimate:
                    return False
        return True

    def _holds(self, task: Task, t: int, who: tuple[str, ...]) -> bool:
        """Say whether to wait, since the window after it would close before anybody is there."""
        for link in self.after[task.name]:
            if link.max_gap is None:
                continue
            after = self.by_name[link.after]
            end = t + task.estimate
            slots = range(end + link.min_gap, end + link.max_gap + 1)
            good = any(
                all((self._span(p, s) or 0) >= s + after.estimate for p in after.people)
                for s in slots
            )
            if not good:
                task.held_since = task.held_since or t
                return t - task.held_since < HELD
        return False

    def _start(self, task: Task, t: int, who: tuple[str, ...]) -> None:
        task.begun = True
        more = 0
        for link in task.links:
            end = self.by_name[link.before].end or 0
            if link.max_gap is not None and t > end + link.max_gap:
                more += link.missed_work or 0
        task.left = max(1.0, (task.estimate + more) * task.factor)
        for p in who:
            self.busy[p] = task
            self.expected[p] = t + task.estimate + more
