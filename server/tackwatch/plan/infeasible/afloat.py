"""Which jobs may be left until she is afloat, each with all that waits for it.

Rules
-----
* A job is left whole, and so is each job of which a step waits for one of its steps, and so on. Of none of them may
  anything be begun; what is done already stays done.
* Marked: the owner said of all of them that they may wait.
* Unmarked: the owner did not, but those that nobody marked lay nothing that may stand under water, nor wait for the
  water. That is no more than a reason to ask.
"""

from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass

from tackwatch.plan.build.parts import Part
from tackwatch.plan.build.project import Built
from tackwatch.plan.facts import RefitStep
from tackwatch.trade.edges import stage_known


@dataclass(frozen=True, slots=True)
class Unit:
    """What is left together: jobs, the one that was meant first, and their steps in the project."""

    job_ids: tuple[str, ...]
    step_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class AbleToWait:
    """What may be left, by the job that was meant."""

    marked: Mapping[str, Unit]
    unmarked: Mapping[str, Unit]


def able_to_wait(built: Built) -> AbleToWait:
    """Give what may be left until she is afloat.

    Parameters
    ----------
    built : Built
        What was planned.
    """
    parts: dict[str, list[Part]] = defaultdict(list)
    for part in built.parts.values():
        if part.standing != "done":
            parts[part.step.job_id].append(part)
    after = _waiting(built, parts)
    marked, unmarked = {}, {}
    for job_id in parts:
        job_ids = _with_it(job_id, after)
        left = [part for id_ in job_ids for part in parts[id_]]
        unit = Unit(job_ids, tuple(id_ for part in left for id_ in part.ids))
        if any(part.standing != "ahead" for part in left):
            continue
        if all(part.step.afloat_ok for part in left):
            marked[job_id] = unit
        elif not any(_for_the_water(part.step) for part in left if not part.step.afloat_ok):
            unmarked[job_id] = unit
    return AbleToWait(marked, unmarked)


def _waiting(built: Built, parts: Mapping[str, list[Part]]) -> dict[str, set[str]]:
    """Give, by job, the jobs of which something waits for it."""
    job_of = {id_: job_id for job_id, ones in parts.items() for one in ones for id_ in one.ids}
    after: dict[str, set[str]] = defaultdict(set)
    for link in built.project.links:
        if link.before in job_of and link.after in job_of:
            after[job_of[link.before]].add(job_of[link.after])
    return after


def _with_it(job_id: str, after: Mapping[str, set[str]]) -> tuple[str, ...]:
    found = [job_id]
    for one in found:
        found += sorted(after.get(one, set()) - {*found})
    return tuple(found)


def _for_the_water(step: RefitStep) -> bool:
    """Say whether a step lays what may stand under water, or waits for it."""
    known = step.profile is not None and stage_known(step.profile, "immerse_opens")
    return known or step.kind == "wait"
