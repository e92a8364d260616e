"""The plans in hand, one for each thread: keys, a desk to draw them up at, and how good they are."""

from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.engine import keys
from tackwatch.plan.engine.arrays import FAR, I32, Arrays
from tackwatch.plan.engine.compiled.desk import Desk, Genes, desk
from tackwatch.plan.engine.compiled.levels import LEVELS
from tackwatch.plan.engine.compiled.restore import restore
from tackwatch.plan.engine.compiled.search import better
from tackwatch.plan.model import Placed, Plan, Project, Score

PUT_OFF: Final = 60
WAYS: Final = 20_000
NOISE: Final = (0.3, 0.6, 1.0)
HEATS: Final = (1.0, 2.0, 5.0)
HOPE: Final = 3.0
DEAR: Final = (0.5, 1.0, 2.0)


def promise(rank: tuple[int, ...]) -> float:
    """Give what moves of what was told, and a slot of lateness or missed work as `HOPE` of that; more is worse."""
    lacking, late, missed, moved, *_ = rank
    return FAR * lacking + moved + HOPE * (late + missed)


@dataclass
class Hand:
    """A plan in hand."""

    a: Arrays
    keys: Genes
    trial: Genes
    desk: Desk
    levels: NDArray[np.int64]
    state: NDArray[np.uint64]
    chance: np.random.Generator
    guided: bool = False

    @property
    def lacking(self) -> int:
        """How many steps have no room."""
        return int(self.levels[0])

    def rank(self) -> tuple[int, ...]:
        """Give the levels, to be compared."""
        return tuple(int(x) for x in self.levels)

    def plain(self) -> tuple[int, ...]:
        """Give the levels without the one that only guides."""
        rank = self.rank()
        return (*rank[:4], *rank[5:])

    def cares(self) -> tuple[int, ...]:
        """Give the levels that constraint programming looks at: room, lateness, missed work, what moved."""
        return self.rank()[:4]

    def search(self, tries: int, day: int) -> None:
        """Change keys so many times, and keep what is no worse."""
        better(
            self.a, self.desk, self.keys, self.trial, self.levels, self.state, tries, day, int(self.guided)
        )  # fmt: skip

    def put_back(self, tries: int, day: int, heat: float, dear: float) -> None:
        """Try so many times to put back what moved, and take what is better for people."""
        if self.lacking > 0:
            return
        start, crew = np.zeros(len(self.a.steps), dtype=np.int32), self.desk.crew.copy()
        if restore(
            self.a, self.desk, self.levels, self.state, tries, day, int(self.guided), heat, dear,
            start, crew,
        ):  # fmt: skip
            self.take([keys.by_starts(self.a, start, crew)])
        self.draw_up()

    def draw_up(self) -> None:
        """Draw up the plan of the keys, and weigh it."""
        self.search(0, 1)

    def take(self, ways: list[Genes]) -> bool:
        """Take the best of some keys, if they are better than those in hand; say whether they are."""
        before, mine = self.rank(), keys.copied(self.keys)
        best = before
        for way in ways:
            keys.copy(way, self.keys)
            self.draw_up()
            if self.rank() < best:
                best, mine = self.rank(), keys.copied(way)
        keys.copy(mine, self.keys)
        self.draw_up()
        return best < before


class Hands:
    """All hands; after each round they share the best."""

    def __init__(self, a: Arrays, seed: int, workers: int) -> None:
        self.a = a
        self.all = [_hand(a, seed, w) for w in range(workers)]
        self._starts: list[Genes] = []
        self._told_of: Genes | None = None
        self._told_rank: tuple[int, ...] = (FAR,) * LEVELS

    @property
    def best(self) -> Hand:
        """The hand with the best plan."""
        return min(self.all, key=Hand.rank)

    def begin(self, project: Project, hint: Plan | None) -> None:
        """Try some ways to begin, and take the best."""
        a, first = self.a, self.all[0]
        ways = [keys.by_told(a), keys.by_tail(a, 0.0, first.chance)]
        ways += [keys.by_tail(a, 0.0, first.chance, hold) for hold in (0, 1)]
        many = int(np.clip(WAYS // len(a.steps), 3, 150))
        if (a.steps["told"] < FAR).any():
            many = 3  # what was told leads to better ones than chance does
        ways += [keys.by_tail(a, NOISE[k % 3], first.chance, 2 - k % 2) for k in range(many)]
        if hint is not None:
            ways += [keys.by_plan(a, project, hint, exactly) for exactly in (True, False)]
        first.take(ways)
        self._starts = ways[1:] + self._keep_told()
        self.share()
        self.remember()

    def _keep_told(self) -> list[Genes]:
        """Place those last that cannot be where they were told, so that they push nobody else from there.

        What it ended with in its two ways is given; they move little, and may be late.

        One that moved may have been pushed by another: so only the first that moved is put off, and all are
        placed anew. Where that is late, those that moved go first instead, and who is pushed by them is put off.
        """
        hand = self.all[0]
        best, tried = keys.copied(hand.keys), list[tuple[tuple[int, ...], Genes]]()
        if (self.a.steps["told"] < FAR).any():
            none = np.zeros(len(self.a.steps), dtype=bool)
            moved = self._put_off(none, tried)
            ends = [len(tried) - 1]
            self._put_off(moved, tried)
            ends.append(len(tried) - 1)
        else:
            ends = []
        keys.copy(best, hand.keys)
        hand.draw_up()
        if tried:
            hand.take([min(tried, key=lambda one: one[0])[1]])
        return [tried[n][1] for n in reversed(ends)]

    def _put_off(
        self, first: NDArray[np.bool_], tried: list[tuple[tuple[int, ...], Genes]]
    ) -> NDArray[np.bool_]:
        """Place some first and wherever they may, and put off who is not where told; give who moved at last."""
        hand, told = self.all[0], self.a.steps["told"]
        way = keys.by_told(self.a)
        way.steps["prio"][first] -= FAR
        way.steps["aim"][first] = -1
        moved = first
        for _ in range(PUT_OFF):
            keys.copy(way, hand.keys)
            hand.draw_up()
            tried.append((hand.rank(), keys.copied(way)))
            moved = (told < FAR) & (hand.desk.steps["start"] != told)
            left = np.flatnonzero(moved & ~first & (way.steps["prio"] < FAR))
            if not len(left):
                break
            way.steps["prio"][left[np.argmin(told[left])]] += FAR
        return moved

    def is_news(self) -> bool:
        """Say whether the best is better for people than what was told of; then it is remembered as that."""
        upto = 4 if self.best.guided else LEVELS
        if self.best.plain()[:upto] >= self._told_rank[:upto]:
            return False
        self.remember()
        return True

    def guide(self, guided: bool) -> None:
        """Begin or end to be guided; what was told of stays unless what came after it is better for people too."""
        if guided == self.all[0].guided:
            return
        for hand in self.all:
            hand.guided = guided
            hand.draw_up()
        if not guided and self._told_of is not None:
            self.all[0].take([self._told_of])
        self.share()

    def remember(self) -> None:
        """Remember the best plan as the one that was told of."""
        self._told_of, self._told_rank = keys.copied(self.best.keys), self.best.plain()

    def share(self) -> None:
        """Give the best plan to all."""
        best = self.best
        for hand in self.all:
            if hand is not best and hand.rank() > best.rank():
                keys.copy(best.keys, hand.keys)
                hand.draw_up()

    def search(self, tries: int, day: int) -> None:
        """Have all search at once."""
        with ThreadPoolExecutor(len(self.all)) as pool:
            list(pool.map(lambda hand: hand.search(tries, day), self.all))
        self.share()

    def put_back_from_starts(self, tries: int, day: int, goes_on: Callable[[], bool]) -> None:
        """Put back for a short while from each way to begin, and go on from the most hopeful ones.

        A plan that is in time and misses nothing is often so tight that nothing can go back in it, where one that
        misses something at first has room. So the first hand goes on from the best plan, and the others from those
        that move least where a slot of lateness or missed work weighs `HOPE` that move.
        """
        found = [(self.best.rank(), keys.copied(self.best.keys))]

        def play(number: int) -> list[tuple[tuple[int, ...], Genes]]:
            hand, mine = self.all[number], []
            for way in self._starts[number :: len(self.all)]:
                if not goes_on():
                    break
                keys.copy(way, hand.keys)
                hand.draw_up()
                if hand.lacking == 0:
                    hand.put_back(tries, day, HEATS[1], DEAR[1])
                    mine.append((hand.rank(), keys.copied(hand.keys)))
            return mine

        with ThreadPoolExecutor(len(self.all)) as pool:
            for mine in pool.map(play, range(len(self.all))):
                found.extend(mine)
        chosen = [min(found, key=lambda one: one[0])]
        found.sort(key=lambda one: promise(one[0]))
        chosen += [one for one in found if one[0] != chosen[0][0]]
        for hand, (_, way) in zip(self.all, chosen * len(self.all), strict=False):
            keys.copy(way, hand.keys)
            hand.draw_up()

    def put_back(self, tries: int, day: int) -> None:
        """Have all put back what moved at once, each from its own plan and with its own patience."""
        ways = [
            (hand, float(hand.chance.choice(HEATS)), float(hand.chance.choice(DEAR)))
            for hand in self.all
        ]
        with ThreadPoolExecutor(len(self.all)) as pool:
            list(pool.map(lambda way: way[0].put_back(tries, day, way[1], way[2]), ways))

    def offer(self, start: I32, crew: I32) -> bool:
        """Offer a plan by its starts and crews; say whether it was better."""
        exact = keys.by_starts(self.a, start, crew)
        sooner = keys.copied(exact)
        sooner.steps["aim"] = np.where(self.a.steps["told"] < FAR, exact.steps["aim"], -1)
        taken = self.all[0].take([exact, sooner])
        self.share()
        return taken


def read_plan(project: Project, a: Arrays, hand: Hand, late_bound: int | None = None) -> Plan:
    """Read a plan off a hand."""
    d, people = hand.desk, [one.id for one in project.people]
    missed: dict[int, list[str]] = {}
    for k in np.flatnonzero(d.missed):
        before = project.steps[a.arcs["before"][k]].id
        missed.setdefault(int(a.arcs["after"][k]), []).append(before)
    placed = tuple(
        Placed(
            step.id,
            int(d.steps["start"][i]),
            int(d.steps["end"][i]),
            tuple(people[p] for p in d.crew[i] if p >= 0),
            tuple(dict.fromkeys(missed.get(i, ()))),
        )
        for i, step in enumerate(project.steps)
    )
    late, missed_work, moved, _, idle, uneven, _ = hand.rank()[1:]
    if _at_two_things(a):
        idle = _idle_and_walks(a, d)
    return Plan(placed, Score(late, missed_work, moved, idle, uneven), late_bound)


def _at_two_things(a: Arrays) -> bool:
    """Say whether somebody is at two fixed steps at once, which the search does not tell apart."""
    theirs: dict[int, list[tuple[int, int]]] = {}
    for step in a.steps[a.steps["fixed"] < FAR]:
        for p in a.lists[step["held_at"] : step["held_to"]]:
            theirs.setdefault(int(p), []).append(
                (int(step["fixed"]), int(step["fixed"] + step["work"]))
            )
    return any(
        left[1] > right[0] for spans in theirs.values() for left, right in pairwise(sorted(spans))
    )


def _idle_and_walks(a: Arrays, d: Desk) -> int:
    """Count idling and walks step by step, whatever lies over one another."""
    total = 0
    for p, begin, end in a.spans.tolist():
        here = [
            (int(d.steps["start"][i]), int(d.steps["end"][i]), int(a.steps["walk"][i]))
            for i in np.flatnonzero((d.crew == p).any(axis=1))
            if max(d.steps["start"][i], begin) < min(d.steps["end"][i], end)
        ]
        busy = {u for s, e, _ in here for u in range(max(s, begin), min(e, end))}
        if busy:
            total += max(busy) + 1 - min(busy) - len(busy)
        zones = [zone for _, _, zone in sorted(here, key=lambda one: one[:2]) if zone >= 0]
        total += sum(left != right for left, right in pairwise(zones))
    return total


def _hand(a: Arrays, seed: int, worker: int) -> Hand:
    state = np.array([(seed * 1_000_003 + worker * 7919 + 88_172_645) % 2**62 + 1], dtype=np.uint64)
    levels = np.full(LEVELS, FAR, dtype=np.int64)
    chance = np.random.default_rng((abs(seed), worker))
    return Hand(a, keys.by_told(a), keys.by_told(a), desk(a), levels, state, chance)
