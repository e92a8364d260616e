"""The forecast of the launch: samples of how the work goes on, and what they say.

Rules
-----
* A figure is a share of samples; a day is the first by which so many of them have ended.
* What rests on priors alone is said, and so is what does not end.
* The same project, plan, record and seed give the same answer.
"""

from typing import Final

import numpy as np
from numpy.typing import NDArray

from tackwatch.plan.forecast import columns, sampling
from tackwatch.plan.forecast import net as nets
from tackwatch.plan.forecast.answer import (
    Forecast,
    FoundRate,
    JobCritical,
    Moved,
    Overrun,
    Says,
)
from tackwatch.plan.forecast.burn_up import burn_up
from tackwatch.plan.forecast.calendars import LATER
from tackwatch.plan.forecast.dispatch import Draws, Played, play
from tackwatch.plan.forecast.durations import DRIFT_SD
from tackwatch.plan.forecast.moving import GOAL, confirmed, movable
from tackwatch.plan.forecast.record import Record
from tackwatch.plan.forecast.saved import Samples
from tackwatch.plan.model import NEVER, Plan, Project, Slot

SAMPLES: Final = 10_000
SEARCH_SAMPLES: Final = 1_500
FAN_SAMPLES: Final = 2_000
FRESH: Final = 1_000_003
MAY_NEVER_END: Final = 0.01


class Future:
    """The work to come, ready to be sampled."""

    def __init__(self, project: Project, plan: Plan, record: Record) -> None:
        self.record, self.launch = record, project.launch
        self.net, self.jobs, self.drawn = nets.build(project, plan, record)
        self.beliefs = sampling.Beliefs.of(record)
        self.floor = sampling.floors(self.net, self.drawn, plan)

    def draw(self, samples: int, seed: int) -> Draws:
        """Draw samples."""
        return sampling.draw(
            self.net, self.jobs, self.drawn, self.record, self.beliefs, samples, seed
        )

    def samples(self, samples: int, seed: int) -> Samples:
        """Draw samples that can be asked how they end with jobs dropped."""
        return Samples(self.net, self.draw(samples, seed), self.floor, self.launch)

    def without_chance(self) -> Slot:
        """Give the end when everything takes what it is reckoned to, and nothing is found."""
        draws = sampling.without_chance(self.net, self.drawn)
        return slot_of(int(play(self.net, draws, floor=self.floor).end[0]))


def forecast(
    project: Project, plan: Plan, record: Record, *, samples: int = SAMPLES, seed: int
) -> Forecast:
    """Say when the work that must be done before the launch is done.

    Parameters
    ----------
    project
        What there is to do.
    plan
        The plan by whose order it is done; all its steps are placed.
    record
        What the refit has shown so far, and what each step belongs to.
    samples
        How many samples; the set to move is looked for with fewer others.
    seed
        The same seed gives the same answer.
    """
    future = Future(project, plan, record)
    draws = future.draw(samples, seed)
    played = play(future.net, draws, floor=future.floor, criticality=True, labour=True)
    moved = _to_move(future, draws, played, seed)
    p10, p50, p90 = (quantile(played.end, p) for p in (0.1, 0.5, 0.9))
    p_launch = float((played.end <= project.launch).mean())
    found = _found(future, draws)
    return Forecast(
        p_launch,
        p10,
        p50,
        p90,
        samples,
        _says(future, found, p90, max(p_launch, moved.p_launch)),
        found,
        _overrun(future),
        _criticality(future, played),
        moved,
        burn_up(
            record.done,
            played.labour[:FAN_SAMPLES],
            draws.trees.endless[:FAN_SAMPLES],
            future.net.day_start,
            record.now,
        ),
    )


def slot_of(end: int) -> Slot:
    """Give an end of the dispatch as a slot."""
    return NEVER if end >= LATER else end


def quantile(ends: NDArray[np.int32], p: float) -> Slot:
    """Give the first slot by which at least the share `p` of the samples has ended."""
    at = max(0, int(np.ceil(p * ends.size - 1e-9)) - 1)
    return slot_of(int(np.partition(ends, at)[at]))


def _to_move(future: Future, draws: Draws, played: Played, seed: int) -> Moved:
    p_launch = float((played.end <= future.launch).mean())
    units = movable(future.jobs, future.record.afloat)
    if p_launch >= GOAL or not units:
        return Moved((), p_launch)
    few = min(played.end.size, SEARCH_SAMPLES)
    judge = Samples(future.net, draws, future.floor, future.launch, played)
    chosen, p_moved = confirmed(future.samples(few, seed + FRESH), units, judge)
    return Moved(tuple(future.jobs.ids[one] for one in sorted(chosen)), p_moved)


def _found(future: Future, draws: Draws) -> FoundRate:
    rate = future.beliefs.rate
    return FoundRate(
        rate.mean(),
        rate.quantile(0.1),
        rate.quantile(0.9),
        rate.n > 0,
        rate.mean() >= 1,
        float(draws.trees.endless.mean()),
    )


def _overrun(future: Future) -> Overrun:
    belief = future.beliefs.durations
    mean = float((belief.weight * belief.mean).sum())
    var = float((belief.weight * (belief.sd**2 + belief.mean**2)).sum()) - mean**2 + DRIFT_SD**2
    wide = 1.2816 * var**0.5  # the middle 80 %
    low, middle, high = (float(np.exp(mean + off)) for off in (-wide, 0.0, wide))
    return Overrun(low, middle, high, belief.n > 0)


def _criticality(future: Future, played: Played) -> tuple[JobCritical, ...]:
    p_critical = played.on_chain.mean(axis=0)
    shares = [
        JobCritical(job, float(p_critical[n]))
        for n, job in enumerate(future.jobs.ids)
        if future.jobs.share_left[n] > 0
    ]
    return tuple(sorted(shares, key=lambda one: -one.p_critical))


def _says(future: Future, found: FoundRate, p90: Slot, p_best: float) -> tuple[Says, ...]:
    weather_matters = bool(future.net.column(columns.OUTDOORS).any())
    said: list[tuple[Says, bool]] = [
        ("durations_from_prior", future.beliefs.durations.n == 0),
        ("found_from_prior", not found.from_record),
        ("weather_from_prior", weather_matters and future.record.weather.days == 0),
        ("never_ends", found.never_ends),
        ("may_never_end", not found.never_ends and found.p_endless > MAY_NEVER_END),
        ("beyond_horizon", p90 == NEVER),
        ("cannot_reach", p_best < GOAL),
    ]
    return tuple(code for code, holds in said if holds)
