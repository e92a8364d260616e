"""Refits whose truth is known: hidden truths drawn from a population, and the records that they leave.

The population is not the forecast's prior. Estimates are short by a factor that is uniform, the work's own noise is a
gamma with blunders now and then in place of a log-normal, a job's own part is triangular, what is to come
drifts from the record by a uniform factor, found jobs are uniform in size, half of the refits find them in clusters
(geometric numbers), the wet days have a persistence of their own. `r` is what the row says, give or take a half.
"""

from __future__ import annotations

from dataclasses import dataclass
from random import Random

from tackwatch.plan.forecast import FoundWhile, Record, Took, Weather
from tackwatch.plan.model import Grid, Link, Person, Placed, Plan, Project, Score, Step

DAY = 96
DAYS = 60
MISSED = 3


@dataclass(frozen=True)
class Truth:
    """What a refit is really like; nobody in it knows."""

    short: float
    drift: float
    own_shape: float
    job_part: float
    r: float
    clusters: bool
    p_wet: float
    persistence: float
    found_from: float
    found_to: float

    def factor(self, chance: Random, job: float, *, ahead: bool) -> float:
        """Draw actual over estimate of a piece of work."""
        own = chance.gammavariate(self.own_shape, 1 / self.own_shape)
        blunder = chance.uniform(1.5, 2.5) if chance.random() < 0.03 else 1.0
        return max(0.1, self.short * (self.drift if ahead else 1.0) * job * own * blunder)

    def job(self, chance: Random) -> float:
        """Draw the part that is common to the work of one job."""
        return chance.triangular(1 - self.job_part, 1 + 1.3 * self.job_part, 1)

    def reveals(self, chance: Random) -> int:
        """Draw how many jobs a finished one reveals."""
        if not self.clusters:
            left, n = 2.718281828459045**-self.r, 0
            luck = chance.random()
            mass = left
            while luck > mass and n < 50:
                n += 1
                left *= self.r / n
                mass += left
            return n
        n = 0
        while chance.random() < self.r / (1 + self.r) and n < 50:
            n += 1
        return n

    def found_labour(self, chance: Random) -> float:
        """Draw the labour at which a found job is reckoned, in slots."""
        return chance.uniform(self.found_from, self.found_to)

    def wet_days(self, chance: Random, days: int) -> list[bool]:
        """Draw which days are wet."""
        wet = [chance.random() < self.p_wet]
        while len(wet) < days:
            again = self.persistence * wet[-1] + (1 - self.persistence) * self.p_wet
            wet.append(chance.random() < again)
        return wet


@dataclass(frozen=True)
class Refit:
    """A refit with its plan and its record, and the truth behind them."""

    project: Project
    plan: Plan
    record: Record
    truth: Truth


def truth_of(chance: Random, r: float) -> Truth:
    """Draw a truth from the population."""
    least = chance.uniform(8, 20)
    return Truth(
        short=chance.uniform(0.75, 1.75),
        drift=chance.uniform(0.85, 1.18),
        own_shape=chance.uniform(6, 20),
        job_part=chance.uniform(0.1, 0.5),
        r=r * chance.uniform(0.5, 1.5),
        clusters=chance.random() < 0.5,
        p_wet=chance.uniform(0.1, 0.4),
        persistence=chance.uniform(0.1, 0.5),
        found_from=least,
        found_to=least + chance.uniform(20, 60),
    )


def refit_of(seed: int, r: float, finished_jobs: int) -> Refit:
    """Draw a refit with so many jobs behind it."""
    chance = Random(f"refit {seed} {r} {finished_jobs}")
    truth = truth_of(chance, r)
    project, jobs, outdoors = _project(chance)
    record = _record(chance, truth, finished_jobs)
    record = Record(
        job_of=jobs,
        took=record.took,
        found_while=record.found_while,
        found_labour=record.found_labour,
        weather=record.weather,
        outdoors=outdoors,
    )
    return Refit(project, greedy(project), record, truth)


def _project(chance: Random) -> tuple[Project, dict[str, str], frozenset[str]]:
    people = tuple(
        Person(f"p{n}", tuple(_hours(n, day) for day in range(DAYS) if day % 7 < 5 + (n == 0)))
        for n in range(3)
    )
    steps: list[Step] = []
    links: list[Link] = []
    jobs: dict[str, str] = {}
    outdoors = set()
    for job in range(chance.randint(6, 11)):
        for part in range(chance.randint(2, 5)):
            crew = 2 if chance.random() < 0.1 else 1
            able = tuple(chance.sample(("p0", "p1", "p2"), chance.choice((2, 2, 3))))
            step = Step(f"s{len(steps)}", chance.randint(3, 22), crew, able)
            jobs[step.id] = f"j{job}"
            if chance.random() < 0.15:
                outdoors.add(step.id)
            if part:
                links.append(_link(chance, steps[-1].id, step.id))
            elif job > 1 and chance.random() < 0.3:
                links.append(Link(chance.choice(steps).id, step.id))
            steps.append(step)
    project = Project(Grid(0.0, 900, DAYS * DAY), 14 * DAY, tuple(steps), tuple(links), people)
    return project, jobs, frozenset(outdoors)


def _hours(person: int, day: int) -> tuple[int, int]:
    return day * DAY + (32, 32, 36)[person], day * DAY + (68, 68, 64)[person]


def _link(chance: Random, before: str, after: str) -> Link:
    kind = chance.random()
    if kind < 0.2:
        return Link(before, after, chance.randint(24, 70), 140, missed_work=MISSED)
    if kind < 0.4:
        return Link(before, after, chance.randint(20, 100))
    return Link(before, after)


def _record(chance: Random, truth: Truth, jobs: int) -> Record:
    took: list[Took] = []
    found: list[FoundWhile] = []
    sizes: list[float] = []
    for n in range(jobs):
        job = truth.job(chance)
        for _ in range(chance.randint(2, 5)):
            estimate = float(chance.randint(3, 22))
            took.append(
                Took(f"done {n}", estimate, estimate * truth.factor(chance, job, ahead=False))
            )
        many = truth.reveals(chance)
        found.append(FoundWhile(f"done {n}", many))
        sizes += [truth.found_labour(chance) for _ in range(many)]
    days = truth.wet_days(chance, 2 * jobs) if jobs else []
    return Record(
        took=tuple(took),
        found_while=tuple(found),
        found_labour=tuple(sizes),
        weather=Weather(len(days), sum(days)),
    )


def greedy(project: Project) -> Plan:
    """Plan in the order of the steps, each as soon as its people allow; for refits without places and zones."""
    busy: dict[str, list[tuple[int, int]]] = {one.id: [] for one in project.people}
    open_ = {one.id: one.open for one in project.people}
    ends: dict[str, int] = {}
    placed = []
    for step in project.steps:
        links = [link for link in project.links if link.after == step.id]
        t = max([step.earliest, *(ends[link.before] + link.min_gap for link in links)])
        while True:
            late = tuple(one for one in links if one.max_gap and t > ends[one.before] + one.max_gap)
            end = t + step.work + sum(one.missed_work or 0 for one in late)
            who = [p for p in step.able if _free(open_[p], busy[p], t, end)]
            if len(who) >= step.crew:
                break
            t += 1
        ends[step.id] = end
        for p in who[: step.crew]:
            busy[p].append((t, end))
        placed.append(
            Placed(step.id, t, end, tuple(who[: step.crew]), tuple(one.before for one in late))
        )
    return Plan(tuple(placed), Score(0, 0, 0, 0, 0))


def _free(
    spans: tuple[tuple[int, int], ...], busy: list[tuple[int, int]], start: int, end: int
) -> bool:
    inside = any(a <= start and end <= b for a, b in spans)
    return inside and not any(a < end and start < b for a, b in busy)
