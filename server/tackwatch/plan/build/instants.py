"""A plan told in instants: when each step of the refit begins and ends, who does it, and its cure.

Rules
-----
* A step that was cut begins with its first piece and ends with its last; its people are all of theirs.
* `cure_until_at` is when a coat that is planned lets the first of those go on that wait for it: on the
  slow edge, as phones will show it.
* `opens_at` and `closes_at` are the window in which the step must begin, by the coats before it.
* What is done is not told again.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from tackwatch.plan.build.parts import Part
from tackwatch.plan.build.project import Built
from tackwatch.plan.model import NEVER, Link, Placed, Slot


@dataclass(frozen=True, slots=True)
class PlannedPiece:
    """A part of a step that is done in one go."""

    start_at: datetime
    end_at: datetime
    member_ids: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PlannedStep:
    """A step of the refit in a plan."""

    step_id: str
    start_at: datetime
    end_at: datetime
    member_ids: tuple[str, ...]
    pieces: tuple[PlannedPiece, ...]
    cure_until_at: datetime | None
    opens_at: datetime | None
    closes_at: datetime | None
    missed: bool


def planned_steps(built: Built, placed: Sequence[Placed]) -> tuple[PlannedStep, ...]:
    """Tell a plan in instants.

    Parameters
    ----------
    built : Built
        What the plan was made from.
    placed : sequence of Placed
        Where the steps of its project stand.
    """
    at = {one.step_id: one for one in placed}
    into: dict[str, list[Link]] = {}
    out: dict[str, list[Link]] = {}
    for link in built.project.links:
        into.setdefault(link.after, []).append(link)
        out.setdefault(link.before, []).append(link)
    return tuple(
        _planned(built, part, at, into, out)
        for part in built.parts.values()
        if part.standing != "done"
    )


def _planned(
    built: Built,
    part: Part,
    at: Mapping[str, Placed],
    into: Mapping[str, list[Link]],
    out: Mapping[str, list[Link]],
) -> PlannedStep:
    ones = [at[id_] for id_ in part.ids]
    clock = built.clock
    pieces = tuple(PlannedPiece(clock.at(one.start), clock.at(one.end), one.people) for one in ones)
    before = [link for link in into.get(part.ids[0], []) if link.before not in part.ids]
    after = [link for one in part.ids for link in out.get(one, []) if link.after not in part.ids]
    opens = [
        _opens(built, link, at) for link in before if link.window_id or link.max_gap is not None
    ]
    closes = [close for link in before if (close := _closes(built, link, at)) is not None]
    cures = [_opens(built, link, at) for link in after if link.window_id]
    ends = max(one.end for one in ones)
    return PlannedStep(
        step_id=part.step.id,
        start_at=min(one.start_at for one in pieces),
        end_at=max(one.end_at for one in pieces),
        member_ids=tuple(dict.fromkeys(id_ for one in ones for id_ in one.people)),
        pieces=pieces,
        cure_until_at=_instant(built, min((cure for cure in cures if cure > ends), default=None)),
        opens_at=_instant(built, max(opens, default=None)),
        closes_at=_instant(built, min(closes, default=None)),
        missed=any(one.missed for one in ones),
    )


def _opens(built: Built, link: Link, at: Mapping[str, Placed]) -> Slot:
    end = at[link.before].end
    opens = end + link.min_gap
    if link.window_id is not None:
        opens = max(opens, int(built.project.windows[link.window_id].ready[max(0, end)]))
    return opens


def _closes(built: Built, link: Link, at: Mapping[str, Placed]) -> Slot | None:
    end = at[link.before].end
    closes = [] if link.max_gap is None else [end + link.max_gap]
    last = None if link.window_id is None else built.project.windows[link.window_id].last
    if last is not None:
        closes.append(int(last[max(0, end)]))
    return min(closes, default=None)


def _instant(built: Built, slot: Slot | None) -> datetime | None:
    return None if slot is None or slot >= NEVER // 2 else built.clock.at(slot)
