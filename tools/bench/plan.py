"""How good and how fast the planner's engine is: figures beside their bars.

    python -m tools.bench.plan [first] [optimum] [missed] [again] [packings] [--seeds 1 2 3] [--long 60] [--processor]

Seconds are of the clock; those of the processor stand beside them, since a machine that is shared makes the
former longer. With --processor a search has so many seconds of each of two processors, however long they take to
come. Every plan of every run is looked at by the checker, and violations are counted.
"""

import argparse
import os
import resource
import subprocess
import sys
import time

from tests.support.changed_refits import changed
from tests.support.random_refits import random_project
from tools.bench.plan_least import least_moved
from tools.bench.plan_packings import contradiction, packing, packing_with_gaps

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, InfeasibleError, solve
from tackwatch.plan.model import Plan, Project

WORKERS = 2
violations = 0
clock = time.monotonic


def planned(project: Project, seconds: float, seed: int, **more) -> Plan:
    """Plan, look at each plan that is told of, and count what the checker finds."""
    global violations

    def look(plan: Plan) -> None:
        global violations
        violations += len(check(project, plan))

    plan = solve(project, Budget(seconds, WORKERS, seed), clock=clock, **more)
    look(plan)
    return plan


def line(what: str, figure: str, bar: str, seeds: object = "") -> None:
    print(f"{what:58} {figure:>26}   bar {bar:16} seeds {seeds}", flush=True)


def cpu_s() -> float:
    """Give the processor's seconds of this process so far."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def processor_s() -> float:
    """Give the processor's seconds as if two had come at once."""
    return time.process_time() / WORKERS


# --- the first plan ---------------------------------------------------------------------------------------------------


def first(seeds: list[int], _: float) -> None:
    """Time a process of its own from its first line to its first plan, loading and all."""
    for steps, people, bar in ((140, 4, 3.0), (1000, 11, 10.0)):
        took = []
        for seed in seeds:
            command = [
                sys.executable,
                "-m",
                "tools.bench.plan_first",
                str(steps),
                str(people),
                str(seed),
            ]
            took.append([
                float(x)
                for x in subprocess.run(command, check=True, capture_output=True, text=True).stdout.split()
            ])  # fmt: skip
        wall, used = max(x[0] for x in took), max(x[1] for x in took)
        line(f"first plan, {steps} steps, {people} people, slowest",
             f"{wall:.2f} s ({used:.2f} s cpu)", f"{bar:.0f} s", seeds)  # fmt: skip


# --- against the optimum ----------------------------------------------------------------------------------------------


def optimum(seeds: list[int], long_s: float) -> None:
    """Compare lateness and missed windows after 5 s with those of a long run, and with what is proved."""
    equal, proved, known = 0, 0, 0
    for seed in seeds:
        project = random_project(seed, 140, 4, launch_share=0.5)
        short = planned(project, 5.0, seed)
        # What is less than the lateness bound cannot be, whatever else is given up for it.
        long = planned(project, long_s, seed + 1000, hint=short)
        is_known = long.score.late == long.late_bound and long.score.missed_work == 0
        cares = (short.score.late, short.score.missed_work) == (
            long.score.late,
            long.score.missed_work,
        )
        equal += cares
        known += is_known
        proved += is_known and cares
        found = [f"late {one.score.late}, missed {one.score.missed_work}" for one in (short, long)]
        print(
            f"  seed {seed}: after 5 s {found[0]}; after {long_s:.0f} s {found[1]}; late at least {long.late_bound}"
        )
    line(
        "lateness and missed as proved optimal, 140 steps, 5 s",
        f"{proved} of {known} proved",
        "all",
        seeds,
    )
    line("  and as a long run has them, proved or not", f"{equal} of {len(seeds)}", "-", seeds)


# --- missed windows ---------------------------------------------------------------------------------------------------


def missed(seeds: list[int], _: float) -> None:
    """Compare missed windows after 5 s with schedule generation alone, with and without holding coats back."""
    from tackwatch.plan.engine import keys
    from tackwatch.plan.engine.arrays import to_arrays
    from tackwatch.plan.engine.hands import Hands

    totals = [0, 0, 0]
    for seed in seeds:
        project = random_project(seed, 1000, 11)
        a = to_arrays(project)
        hand = Hands(a, seed, 1).all[0]
        found = []
        for hold in (0, 2):
            keys.copy(keys.by_tail(a, 0.0, hand.chance, hold), hand.keys)
            hand.draw_up()
            found.append(int(hand.desk.missed.sum()))
        plan = planned(project, 5.0, seed)
        found.append(sum(len(one.missed) for one in plan.placed))
        totals = [x + y for x, y in zip(totals, found, strict=True)]
        print(
            f"  seed {seed}: generation {found[0]}, with coats held back {found[1]}, after 5 s {found[2]} windows"
        )
    line(
        "missed windows at 1,000 steps, 5 s, to generation alone",
        f"{totals[2] / totals[0]:.3f}",
        "0.3",
        seeds,
    )
    line(
        "  to generation that holds coats back by hours",
        f"{totals[2] / max(1, totals[1]):.3f}",
        "-",
        seeds,
    )


# --- planning again ---------------------------------------------------------------------------------------------------


def again(seeds: list[int], long_s: float) -> None:
    """Plan again after a morning that differs: how many are moved against the least there is, and how long it takes."""
    ratios, proved = [], 0
    for seed in seeds:
        project = random_project(seed, 140, 4)
        plan = planned(project, 5.0, seed)
        morning = changed(project, plan, seed)
        quick = planned(morning, 2.0, seed, hint=plan)
        least = least_moved(
            morning, planned(morning, long_s, seed + 1000, hint=quick), long_s, WORKERS
        )
        best = (least.late, least.missed_work)
        same = (quick.score.late, quick.score.missed_work) == best
        ratios.append(quick.score.moved / max(1, least.moved) if same else float("inf"))
        proved += least.proved
        print(
            f"  seed {seed}: moved {quick.score.moved} after 2 s, {least.moved} at least after {long_s:.0f} s twice "
            f"({'proved' if least.proved else f'not proved, bound {least.bound}'}); late {quick.score.late}, missed "
            f"{quick.score.missed_work}{'' if same else f' and {best}'}"
        )
    line("changes after 2 s to the least, 140 steps, worst", f"{max(ratios):.2f}", "1.2", seeds)
    line("  mean", f"{sum(ratios) / len(ratios):.2f}", "-", seeds)
    line("  of which the least is proved", f"{proved} of {len(seeds)}", "-", seeds)
    took = []
    for seed in seeds:
        project = random_project(seed, 400, 6)
        plan = planned(project, 5.0, seed)
        morning = changed(project, plan, seed)
        began, used = time.monotonic(), cpu_s()
        quick = planned(morning, 2.0, seed, hint=plan)
        took.append((time.monotonic() - began, cpu_s() - used))
        print(f"  seed {seed}: 400 steps, moved {quick.score.moved}, late {quick.score.late}")
    wall, used = max(took)
    line("planning again, 400 steps, slowest", f"{wall:.2f} s ({used:.2f} s cpu)", "2 s", seeds)


# --- packings ---------------------------------------------------------------------------------------------------------


def packings(seeds: list[int], long_s: float) -> None:
    """Compare packings after 10 s with the best of a long run, and of a plain constraint model in 10 s."""
    from tackwatch.plan.engine.arrays import to_arrays
    from tackwatch.plan.engine.packing.model import pack_by_model
    from tackwatch.plan.engine.packing.short import least_span, short_way

    for n, bar, strengths in (
        (30, "1.000", (0.2, 0.5)),
        (60, "1.010", (0.2, 0.5)),
        (120, "1.035", (0.1, 0.3)),
    ):
        ours, plain, used = [], [], cpu_s()
        for seed in seeds:
            for rs in strengths:
                project = packing(
                    seed, n, (1.5, 1.8, 2.1)[seed % 3], (0.5, 0.75, 1.0)[seed % 3], rs
                )
                plan = planned(project, 10.0, seed)
                p = short_way(to_arrays(project))
                answer = pack_by_model(p, None, least_span(p), p.slots, 10.0, WORKERS, seed)
                other = int((answer.start + p.work).max()) if answer.start is not None else p.slots
                best = min(plan.score.late, other)
                if plan.late_bound < plan.score.late and long_s > 10:
                    best = min(best, planned(project, long_s, seed + 1000, hint=plan).score.late)
                ours.append(plan.score.late / best)
                plain.append(other / best)
        line(
            f"{n} steps in places, span over the best found, mean",
            f"{sum(ours) / len(ours):.4f}",
            bar,
            seeds,
        )
        line("  of the constraint model alone", f"{sum(plain) / len(plain):.4f}",
             f"- ({cpu_s() - used:.0f} s cpu)", seeds)  # fmt: skip
    ours, called = [], 0
    for seed in seeds:
        for n in (20, 50, 100):
            project, span = packing_with_gaps(seed, n)
            ours.append(planned(project, 10.0, seed).score.late / span)
            for by_places in (True, False):
                try:
                    planned(contradiction(seed, n, by_places), 10.0, seed)
                except InfeasibleError as error:
                    called += error.proved
    line(
        "largest gaps, span over the known optimum, mean",
        f"{sum(ours) / len(ours):.4f}",
        "1.005",
        seeds,
    )
    line("contradictions called so", f"{called} of {6 * len(seeds)}", "all", seeds)


PARTS = {"first": first, "optimum": optimum, "missed": missed, "again": again, "packings": packings}


def main() -> None:
    """Run the parts that are named, or all."""
    global clock
    asked = argparse.ArgumentParser()
    asked.add_argument("parts", nargs="*", choices=[*PARTS, []])
    asked.add_argument("--seeds", type=int, nargs="+", default=[1, 2, 3])
    asked.add_argument("--long", type=float, default=60.0)
    asked.add_argument("--processor", action="store_true")
    options = asked.parse_args()
    if options.processor:
        clock = processor_s
    print(f"{os.cpu_count()} processors, load {os.getloadavg()[0]:.1f}")
    for part in options.parts or PARTS:
        PARTS[part](options.seeds, options.long)
    line("violations in all plans", str(violations), "0", options.seeds)


if __name__ == "__main__":
    main()
