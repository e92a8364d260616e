"""Prints how fast the forecast is and how true, beside the bars. ``make bench-forecast``.

How true: refits whose truth is known (``forecast_refits``) leave a record, a forecast is made from the record alone,
and the truth is played on by a player that shares no code with it (``forecast_player``). The share of truths
that end by the stated day should be what was stated. How small: the set that is moved after the launch
against the smallest of all sets. Words: which parts to run, ``speed``, ``truth``, ``moving``, ``found``.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import partial
from itertools import combinations

import numpy as np
from tests.support.random_refits import random_project
from tools.bench.forecast_player import Player
from tools.bench.forecast_refits import Refit, refit_of

from tackwatch.plan.engine.solve import Budget, solve
from tackwatch.plan.forecast import Record
from tackwatch.plan.forecast.dispatch import THREADS, play
from tackwatch.plan.forecast.future import Future, forecast, quantile
from tackwatch.plan.forecast.moving import GOAL, movable, smallest
from tackwatch.plan.forecast.saved import Chosen, Samples
from tackwatch.plan.model import Plan, Project

SAMPLES = 10_000
REFITS = 100
ROWS = tuple((r, jobs) for r in (0.1, 0.35) for jobs in (0, 8, 40))
missed: list[str] = []


def line(what: str, figure: str, bar: str = "", holds: bool = True) -> None:
    """Print a figure beside its bar."""
    if not holds:
        missed.append(what)
    print(f"{what:<72}{figure:>16}{bar:>16}{'' if holds else '  MISSED'}", flush=True)


def _plan(project: Project) -> Plan:
    return solve(project, Budget(20.0, rounds=3), clock=time.monotonic)


def _job(step_id: str) -> str:
    return step_id.partition(".")[0]


def _samples(future: Future, seed: int) -> None:
    draws = future.draw(SAMPLES, seed)
    play(future.net, draws, floor=future.floor, criticality=True, labour=True)


def _timed(what: Callable[..., object], times: int) -> tuple[float, float]:
    """Give the least seconds by the clock, and the least of processor time, spread over the threads."""
    seconds, processor = [], []
    for seed in range(times):
        began, used = time.perf_counter(), time.process_time()
        what(seed=seed)
        seconds.append(time.perf_counter() - began)
        processor.append((time.process_time() - used) / THREADS)
    return min(seconds), min(processor)


def speed() -> None:
    """Time whole samples, drawn and dispatched with criticality and labour by day, and what goes with them.

    By the clock, best of seven, beside the bar; in brackets processor time on two threads, which says what the clock
    would on a machine with nothing else to do.
    """
    for steps, bar_s, whole_s in ((140, 0.5, 2.0), (400, 2.0, 5.0)):
        project = random_project(3, steps)
        plan = _plan(project)
        jobs = {step.id: _job(step.id) for step in project.steps}
        record = Record(job_of=jobs, afloat=frozenset(list(dict.fromkeys(jobs.values()))[::4]))
        future = Future(project, plan, record)
        samples, answer = partial(_samples, future), partial(forecast, project, plan, record)
        samples(seed=0)  # loads what is compiled
        figures = (
            (f"{SAMPLES:,} samples, {steps} steps", samples, 7, bar_s),
            ("  the whole answer, with the set to move", answer, 3, whole_s),
        )
        for what, run, times, bar in figures:
            took, processor = _timed(run, times)
            figure = f"{took:.2f} s ({processor:.2f})"
            line(what, figure, f"<= {bar:g} s", took <= bar)


def _truth(order: tuple[int, float, int]) -> tuple[bool, bool, bool]:
    seed, r, jobs = order
    refit = refit_of(seed, r, jobs)
    future = Future(refit.project, refit.plan, refit.record)
    end = play(future.net, future.draw(2_000, seed), floor=future.floor).end
    truth = Player(refit, f"truth {seed}").play()
    p10, p50, p90 = (truth <= quantile(end, p) for p in (0.1, 0.5, 0.9))
    return p10, p50, p90


def truth() -> None:
    """Count how often the truth ends by the stated day."""
    every: list[tuple[bool, bool, bool]] = []
    with ProcessPoolExecutor(2) as pool:
        for r, jobs in ROWS:
            orders = [(seed, r, jobs) for seed in range(REFITS)]
            answers = list(pool.map(_truth, orders, chunksize=10))
            every += answers
            line(f"  r near {r}, {jobs} jobs on record: P10 P50 P90 hold in", _shares(answers))
    _, p50, p90 = (sum(one[k] for one in every) / len(every) for k in range(3))
    line(f"P90 holds, of {len(every)} refits", f"{p90:.3f}", "0.87-0.93", 0.87 <= p90 <= 0.93)
    line(f"P50 holds, of {len(every)} refits", f"{p50:.3f}", "0.45-0.55", 0.45 <= p50 <= 0.55)


def _shares(answers: Sequence[tuple[bool, bool, bool]]) -> str:
    return " ".join(f"{sum(one[k] for one in answers) / len(answers):.2f}" for k in range(3))


def _late(refit: Refit, seed: int) -> tuple[Future, int]:
    """Set a launch that is made with a chance between a fifth and four fifths, and let ten jobs wait."""
    future = Future(refit.project, refit.plan, refit.record)
    end = play(future.net, future.draw(1_500, seed), floor=future.floor).end
    launch = quantile(end, 0.2 + 0.6 * (seed % 7) / 6)
    jobs = sorted(set(refit.record.job_of.values()))
    record = replace(refit.record, afloat=frozenset(jobs[seed % 2 : 11 + seed % 2]))
    return Future(replace(refit.project, launch=launch), refit.plan, record), launch


def _enough(samples: Samples, chosen: Chosen) -> bool:
    """Say whether a set is enough, from nothing but samples without it and with it."""
    mask = np.zeros(samples.net.jobs, dtype=np.bool_)
    mask[list(chosen)] = True
    without, moved = (
        play(samples.net, samples.draws, floor=samples.floor, dropped=dropped).end
        for dropped in (None, mask)
    )
    in_time = np.minimum(without, moved) <= samples.launch
    return bool(in_time.mean() >= GOAL - 1e-12)


def _least(samples: Samples, units: dict[int, Chosen], most: int) -> int:
    """Look through all sets with fewer jobs, the smaller first."""
    for size in range(1, most):
        for jobs in combinations(sorted(units), size):
            chosen = frozenset(jobs)
            if all(units[one] <= chosen for one in jobs) and _enough(samples, chosen):
                return size
    return most


def moving() -> None:
    """Compare the sets that are moved with the smallest of all, by the number of jobs."""
    ours, least, seed = 0, 0, 0
    solved, reached = 0, 0
    while solved < 30:
        seed += 1
        refit = refit_of(1_000 + seed, 0.2, 12)
        future, _ = _late(refit, seed)
        units = movable(future.jobs, future.record.afloat)
        samples = future.samples(1_000, seed)
        chosen = smallest(samples, units)
        if samples.p(chosen) < GOAL - 1e-12 or len(units) > 12:
            reached += 1
            continue
        solved += 1
        ours += len(chosen)
        least += _least(samples, units, len(chosen))
    ratio = ours / least
    line(f"jobs moved over the least, {solved} refits", f"{ratio:.3f}", "<= 1.1", ratio <= 1.1)
    line(f"  {ours} moved, {least} at least; nothing was enough in so many others", str(reached))


def found() -> None:
    """Show how the chance of one date hangs on what is found: no bar."""
    project = random_project(11, 140)
    plan = _plan(project)
    jobs = {step.id: _job(step.id) for step in project.steps}
    from tackwatch.plan.forecast.record import FoundWhile, Took

    took = tuple(
        Took(f"done {n // 4}", 10.0, 10.0 * (0.8, 1.0, 1.1, 1.3)[n % 4]) for n in range(120)
    )
    launch = None
    for tenths in (0, 1, 2, 3, 4):
        while_ = tuple(FoundWhile(f"done {n}", int(n % 10 < tenths)) for n in range(200))
        record = Record(job_of=jobs, took=took, found_while=while_)
        if launch is None:
            end = Future(project, plan, record)
            launch = quantile(play(end.net, end.draw(4_000, 1), floor=end.floor).end, 0.81)
        made = forecast(replace(project, launch=launch), plan, record, samples=4_000, seed=1)
        line(f"  chance of one date, r {made.found.r:.2f}", f"{made.p_launch:.2f}")


PARTS = {"speed": speed, "truth": truth, "moving": moving, "found": found}


def main(parts: Sequence[str]) -> int:
    """Run the parts that are named, or all."""
    for name, part in PARTS.items():
        if not parts or name in parts:
            part()
    return 1 if missed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
