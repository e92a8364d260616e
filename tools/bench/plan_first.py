"""Plan once, and print the seconds to the first plan: of the clock and of the processor, loading included."""

import time

BEGAN = time.monotonic()

import sys  # noqa: E402

from tests.support.random_refits import random_project  # noqa: E402

from tackwatch.plan.engine import Budget, solve  # noqa: E402


def main() -> None:
    """Plan, until there is a plan."""
    steps, people, seed = (int(word) for word in sys.argv[1:])
    before = time.monotonic()
    project = random_project(seed, steps, people)
    making = time.monotonic() - before
    found: list[float] = []
    solve(
        project,
        Budget(30.0, 2, seed),
        clock=time.monotonic,
        cancelled=lambda: bool(found),
        on_better=lambda _: found.append(time.monotonic()),
    )
    print(found[0] - BEGAN - making, time.process_time())


main()
