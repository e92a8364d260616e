"""Published scheduling instances as projects, so that one engine serves refits and is measured on them.

Theory
------
The resource-constrained project scheduling problem (RCPSP) is the planner's model without people: its
resources are places, its activities nobody's time, and with the launch at 0 the lateness is the
makespan. With minimum and maximum time lags (RCPSP/max) a lag from start to start is a gap from end to
start less the first one's duration; a negative lag is a negative gap.

Rules
-----
* A slot is a unit of the instance. The grid holds every activity after every other with all lags.
* An activity has one mode; resources are renewable. Anything else is refused.
* The text of a file is looked through line by line before it is parsed, so that an error names its line.

Source
------
Kolisch and Sprecher, PSPLIB: a project scheduling problem library, European Journal of Operational
Research 96 (1997), for `.sm`; Kolisch, Schwindt and Sprecher, Benchmark instances for project
scheduling problems, 1999, for `.sch`.
"""

import re
from collections.abc import Callable, Iterator, Mapping
from typing import Final

from psplib.ProjectInstance import ProjectInstance

from tackwatch.plan.model import Grid, Link, Place, Project, Step, Use

SLOT_S: Final = 900
Row = tuple[int, str]


class InstanceError(ValueError):
    """A file that is not an instance of its format; `line` counts from 1."""

    field = "file"

    def __init__(self, line: int, message: str) -> None:
        super().__init__(f"line {line}: {message}")
        self.line = line
        self.message = message


def project_of(instance: ProjectInstance) -> Project:
    """Turn a published instance into a project whose lateness is the makespan.

    Parameters
    ----------
    instance : ProjectInstance
        As the package `psplib` parses it.

    Raises
    ------
    InstanceError
        When it has more modes than one, or resources that are used up.
    """
    if any(not resource.renewable for resource in instance.resources):
        raise InstanceError(1, "resources that are used up are not planned")
    if any(activity.num_modes != 1 for activity in instance.activities):
        raise InstanceError(1, "an activity with several modes is not planned")
    steps, links = [], []
    for i, activity in enumerate(instance.activities):
        mode = activity.modes[0]
        uses = tuple(Use(str(j), units) for j, units in enumerate(mode.demands) if units)
        steps.append(Step(str(i), mode.duration, crew=0, uses=uses))
        lags = activity.delays or [mode.duration] * len(activity.successors)
        links += [
            Link(str(i), str(j), min_gap=lag - mode.duration)
            for j, lag in zip(activity.successors, lags, strict=True)
        ]
    return Project(
        grid=Grid(0.0, SLOT_S, _slots(instance)),
        launch=0,
        steps=tuple(steps),
        links=tuple(links),
        places=tuple(Place(str(j), one.capacity) for j, one in enumerate(instance.resources)),
    )


def _slots(instance: ProjectInstance) -> int:
    """Give a time by which all is done if it can be: each activity, or its longest lag, after the other."""
    slots = 1
    for activity in instance.activities:
        slots += max(activity.modes[0].duration, *(activity.delays or [0]))
    return slots


def look_through(text: str, suffix: str) -> None:
    """Look through the text of a file.

    Parameters
    ----------
    text : str
        What the file holds.
    suffix : str
        `.sm` or `.sch`.

    Raises
    ------
    InstanceError
        Naming the first line that is not as the format has it.
    """
    rows = [(n, line.strip()) for n, line in enumerate(text.splitlines(), 1) if line.strip()]
    if not rows:
        raise InstanceError(1, "the file is empty")
    LOOK[suffix](rows)


def _look_sm(rows: list[Row]) -> None:
    order = _section(rows, "PRECEDENCE RELATIONS")
    work = _section(rows, "REQUESTS/DURATIONS")
    there = _section(rows, "AVAILABILITIES")
    if not order < work < there:
        raise InstanceError(rows[order][0], "the parts of the file are out of order")
    if there + 2 >= len(rows):
        raise InstanceError(rows[-1][0], "the file ends before the availabilities")
    names = [one for one in rows[there + 1][1].split() if one in "RND"]
    if len(names) != len(_whole(rows[there + 2])):
        raise InstanceError(rows[there + 2][0], "an availability for each resource is wanted")
    if set(names) != {"R"}:
        raise InstanceError(rows[there + 1][0], "only renewable resources (R) are planned")
    steps = rows[order + 2 : work - 1]
    for i, row in enumerate(steps, 1):
        _look_sm_step(row, i, len(steps))
    modes = rows[work + 3 : there - 1]
    if len(modes) != len(steps):
        raise InstanceError(rows[work][0], f"{len(modes)} durations for {len(steps)} jobs")
    for i, row in enumerate(modes, 1):
        numbers = _whole(row)
        if len(numbers) != 3 + len(names) or numbers[:2] != [i, 1] or min(numbers) < 0:
            raise InstanceError(
                row[0], f"job {i}, mode 1, its duration and {len(names)} requests are wanted"
            )


def _look_sm_step(row: Row, number: int, most: int) -> None:
    numbers = _whole(row)
    if len(numbers) < 3 or numbers[0] != number:
        raise InstanceError(row[0], f"job {number} with its modes and successors is wanted")
    if numbers[1] != 1:
        raise InstanceError(row[0], f"job {number} has {numbers[1]} modes; one is planned")
    if len(numbers) != 3 + numbers[2]:
        raise InstanceError(row[0], f"{numbers[2]} successors are announced")
    if any(not 1 <= one <= most for one in numbers[3:]):
        raise InstanceError(row[0], f"successors are jobs 1 to {most}")


def _look_sch(rows: list[Row]) -> None:
    head = _whole(rows[0])
    if len(head) < 2 or head[0] < 1 or head[1] < 0:
        raise InstanceError(rows[0][0], "the numbers of activities and resources are wanted")
    activities, resources = head[0] + 2, head[1]
    if len(rows) < 2 * activities + 2:
        raise InstanceError(rows[-1][0], f"the file ends before {activities} activities are told")
    for i, row in enumerate(rows[1 : activities + 1]):
        _look_sch_step(row, i, activities)
    for i, row in enumerate(rows[activities + 1 : 2 * activities + 1]):
        numbers = _whole(row)
        if len(numbers) != 3 + resources or numbers[:2] != [i, 1] or min(numbers) < 0:
            raise InstanceError(
                row[0], f"activity {i}, mode 1, its duration and {resources} demands are wanted"
            )
    if len(_whole(rows[2 * activities + 1])) != resources:
        raise InstanceError(rows[2 * activities + 1][0], f"{resources} capacities are wanted")


def _look_sch_step(row: Row, number: int, activities: int) -> None:
    words = row[1].split()
    head = _whole((row[0], " ".join(words[:3])))
    if len(head) < 3 or head[0] != number:
        raise InstanceError(row[0], f"activity {number} with its modes and successors is wanted")
    if head[1] != 1:
        raise InstanceError(row[0], f"activity {number} has {head[1]} modes; one is planned")
    after, lags = words[3 : 3 + head[2]], words[3 + head[2] :]
    if any(not 0 <= one < activities for one in _whole((row[0], " ".join(after)))):
        raise InstanceError(row[0], f"successors are activities 0 to {activities - 1}")
    if len(lags) != len(after) or not all(re.fullmatch(r"\[-?\d+\]", lag) for lag in lags):
        raise InstanceError(row[0], f"{head[2]} successors and as many lags, [7], are wanted")


LOOK: Final[Mapping[str, Callable[[list[Row]], None]]] = {".sm": _look_sm, ".sch": _look_sch}


def _section(rows: list[Row], name: str) -> int:
    at = next((i for i, (_, text) in enumerate(rows) if name in text), None)
    if at is None:
        raise InstanceError(rows[-1][0], f"the file has no part {name}")
    return at


def _whole(row: Row) -> list[int]:
    return list(_numbers(row))


def _numbers(row: Row) -> Iterator[int]:
    for word in row[1].split():
        if not re.fullmatch(r"-?\d{1,9}", word):
            raise InstanceError(row[0], f"{word[:40]!r} is not a whole number")
        yield int(word)
