"""Which steps are dispatched, and in which order.

Rules
-----
* What must be done before the launch, and what comes before that, is dispatched; the rest can wait.
* Steps stand in the order of the plan's starts, a step after those that it is linked to.
"""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from heapq import heapify, heappop, heappush

from tackwatch.plan.model import Link, Project, Step


def needed(project: Project) -> frozenset[str]:
    """Give the steps that must be done before the launch, and all that those come after."""
    before: dict[str, list[str]] = defaultdict(list)
    for link in project.links:
        before[link.after].append(link.before)
    found = {step.id for step in project.steps if step.by_launch}
    todo = list(found)
    while todo:
        for one in before[todo.pop()]:
            if one not in found:
                found.add(one)
                todo.append(one)
    return frozenset(found)


def in_order(steps: Sequence[Step], links: Iterable[Link], start: Mapping[str, int]) -> list[Step]:
    """Sort by the plan's start, each step after those it is linked to; where links go round, by start."""
    number = {step.id: n for n, step in enumerate(steps)}
    waits, after = dict.fromkeys(number, 0), defaultdict(list)
    for link in links:
        waits[link.after] += 1
        after[link.before].append(link.after)
    ready = [(start[one], number[one]) for one, n in waits.items() if n == 0]
    heapify(ready)
    done: list[Step] = []
    while len(done) < len(steps):
        if not ready:
            ready = [min((start[one], number[one]) for one, n in waits.items() if n > 0)]
        step = steps[heappop(ready)[1]]
        done.append(step)
        waits[step.id] = -1
        for one in after[step.id]:
            if waits[one] > 0:
                waits[one] -= 1
                if waits[one] == 0:
                    heappush(ready, (start[one], number[one]))
    return done
