"""The rows of plans: one open plan a refit, the claim under a lease, and what each change of a plan leaves behind.

Rules
-----
- A refit has at most one plan that is asked or running; an index sees to it, also where two ask at once.
- A claim is one ``UPDATE ... RETURNING``, as with alarms; what its holder writes is fenced by the holder's name and the
  number of the attempt, so that one that was cancelled or taken over changes nothing any more.
- Each change raises the plan's ``rev`` and that of the refit's watch, by which pages know what is new.
"""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any, cast

from sqlalchemy import (
    ColumnElement,
    CursorResult,
    and_,
    delete,
    insert,
    literal_column,
    or_,
    select,
    update,
)

from tackwatch.store.db import db
from tackwatch.store.models import Plan, PlanWatch, Refit

OPEN = ("asked", "running")
# literals, not parameters: only so may both databases use the partial index
_IS_OPEN: ColumnElement[bool] = literal_column("plan.state IN ('asked', 'running')")


@dataclass(frozen=True, slots=True)
class PlanHead:
    """A plan without its texts."""

    plan_id: str
    refit_id: str
    state: str
    rev: int
    asked_at: datetime
    asked_by: str | None
    why: list[str]
    seconds: int
    claimed_by: str | None
    lease_until: datetime | None
    attempts: int
    progress: dict[str, Any] | None
    based_on: int | None
    done_at: datetime | None
    published_at: datetime | None
    published_by: str | None
    published_id: str | None
    given: dict[str, Any] | None
    problem: dict[str, Any] | None


@dataclass(frozen=True, slots=True)
class WatchRow:
    """What the planner last saw of a refit."""

    refit_id: str
    rev: int
    seen_seq: int
    changed_at: datetime | None
    quiet_from: datetime | None
    look_at: datetime | None
    basis: str | None


_HEAD = tuple(getattr(Plan, name) for name in PlanHead.__slots__)
_WATCH = tuple(getattr(PlanWatch, name) for name in WatchRow.__slots__)


def head(refit_id: str, plan_id: str, *, locked: bool = False) -> PlanHead | None:
    """Give a plan of a refit."""
    query = select(*_HEAD).where(Plan.refit_id == refit_id, Plan.plan_id == plan_id)
    row = db.session.execute(query.with_for_update() if locked else query).one_or_none()
    return None if row is None else PlanHead(*row)


def heads(refit_id: str, most: int) -> list[PlanHead]:
    """Give a refit's plans, the newest first."""
    query = (
        select(*_HEAD).where(Plan.refit_id == refit_id).order_by(Plan.asked_at.desc(), Plan.plan_id)
    )
    return [PlanHead(*row) for row in db.session.execute(query.limit(most))]


def open_plan(refit_id: str) -> PlanHead | None:
    """Give the plan of a refit that is asked or running."""
    row = db.session.execute(
        select(*_HEAD).where(Plan.refit_id == refit_id, _IS_OPEN)
    ).one_or_none()
    return None if row is None else PlanHead(*row)


def texts(plan_id: str) -> tuple[str | None, str | None]:
    """Give what a plan rests on, and its result, as texts of JSON."""
    row = db.session.execute(select(Plan.basis, Plan.result).where(Plan.plan_id == plan_id)).one()
    return row[0], row[1]


def last_with_result(refit_id: str) -> PlanHead | None:
    """Give the newest plan of a refit that came to something."""
    query = select(*_HEAD).where(Plan.refit_id == refit_id, Plan.state.in_(("ready", "published")))
    row = db.session.execute(query.order_by(Plan.asked_at.desc(), Plan.plan_id).limit(1))
    found = row.one_or_none()
    return None if found is None else PlanHead(*found)


def last_published(refit_id: str) -> PlanHead | None:
    """Give the plan of a refit that was given to the crew last."""
    query = select(*_HEAD).where(Plan.refit_id == refit_id, Plan.state == "published")
    row = db.session.execute(query.order_by(Plan.published_at.desc()).limit(1)).one_or_none()
    return None if row is None else PlanHead(*row)


def published(refit_id: str) -> list[PlanHead]:
    """Give the plans of a refit that were given to the crew, the first in front."""
    query = select(*_HEAD).where(Plan.refit_id == refit_id, Plan.state == "published")
    rows = db.session.execute(query.order_by(Plan.published_at, Plan.plan_id))
    return [PlanHead(*row) for row in rows]


def add(
    plan_id: str, refit_id: str, asked_by: str | None, why: list[str], seconds: int, now: datetime
) -> None:
    """Enter a plan that is asked for; the caller holds the refit's lock and saw none open."""
    db.session.add(
        Plan(
            plan_id=plan_id, refit_id=refit_id, asked_by=asked_by, why=why, seconds=seconds, asked_at=now,
            progress=None, problem=None, given=None,
        )
    )  # fmt: skip
    db.session.flush()
    touch(refit_id)


def change(plan: PlanHead, **values: Any) -> None:
    """Change a plan whose row the caller has locked."""
    query = update(Plan).where(Plan.plan_id == plan.plan_id)
    db.session.execute(query.values(rev=Plan.rev + 1, **values))
    touch(plan.refit_id)


def claim(owner: str, now: datetime, lease_until: datetime) -> PlanHead | None:
    """Take the plan that waits longest, or whose planner is dead."""
    lapsed = and_(Plan.state == "running", Plan.lease_until <= now)
    picked = (
        select(Plan.plan_id)
        .where(_IS_OPEN, or_(Plan.state == "asked", lapsed))
        .order_by(Plan.asked_at, Plan.plan_id)
        .limit(1)
        .with_for_update(skip_locked=True)
    ).cte("picked")
    taking = (
        update(Plan)
        .where(Plan.plan_id.in_(select(picked.c.plan_id)))
        .values(
            state="running",
            claimed_by=owner,
            lease_until=lease_until,
            attempts=Plan.attempts + 1,
            rev=Plan.rev + 1,
        )
        .returning(*_HEAD)
        .execution_options(synchronize_session=False)
    )
    row = db.session.execute(taking).one_or_none()
    if row is None:
        return None
    taken = PlanHead(*row)
    touch(taken.refit_id)
    return taken


def keep(held: PlanHead, **values: Any) -> bool:
    """Write what a holder has to say; False where the plan is not its own any more."""
    query = (
        update(Plan)
        .where(
            Plan.plan_id == held.plan_id,
            Plan.state == "running",
            Plan.claimed_by == held.claimed_by,
            Plan.attempts == held.attempts,
        )
        .values(rev=Plan.rev + 1, **values)
        .execution_options(synchronize_session=False)
    )
    done = cast("CursorResult[Any]", db.session.execute(query)).rowcount == 1
    if done:
        touch(held.refit_id)
    return done


def is_held(held: PlanHead) -> bool:
    """Say whether a plan is still its holder's."""
    query = select(Plan.state, Plan.claimed_by, Plan.attempts).where(Plan.plan_id == held.plan_id)
    row = db.session.execute(query).one_or_none()
    return row is not None and tuple(row) == ("running", held.claimed_by, held.attempts)


def let_go(refit_id: str, keep_newest: int) -> None:
    """Delete old plans of a refit, but for the one that was published last; of others that were, the head stays."""
    newest = select(Plan.plan_id).where(Plan.refit_id == refit_id)
    by_age = newest.order_by(Plan.asked_at.desc(), Plan.plan_id)
    kept = {*db.session.scalars(by_age.limit(keep_newest))}
    kept |= {*db.session.scalars(by_age.where(Plan.state == "published").limit(1))}
    old = (Plan.refit_id == refit_id, Plan.plan_id.not_in(kept), ~_IS_OPEN)
    full = (Plan.state == "published", Plan.result.is_not(None))
    emptied = update(Plan).where(*old, *full).values(basis=None, result=None)
    gone = delete(Plan).where(*old, Plan.state != "published")
    for one in (emptied, gone):
        db.session.execute(one.execution_options(synchronize_session=False))


# --- the watch -------------------------------------------------------------------------------------------------------


def touch(refit_id: str) -> None:
    """Let pages know that one of a refit's plans changed; begins to watch the refit if nobody did."""
    query = update(PlanWatch).where(PlanWatch.refit_id == refit_id).values(rev=PlanWatch.rev + 1)
    done = db.session.execute(query.execution_options(synchronize_session=False))
    if not cast("CursorResult[Any]", done).rowcount:
        db.session.execute(insert(PlanWatch).values(refit_id=refit_id, rev=1, seen_seq=0))


def watch(refit_id: str) -> WatchRow | None:
    """Give what was last seen of a refit."""
    row = db.session.execute(select(*_WATCH).where(PlanWatch.refit_id == refit_id)).one_or_none()
    return None if row is None else WatchRow(*row)


def set_watch(refit_id: str, **values: Any) -> None:
    """Write what was seen of a refit."""
    query = update(PlanWatch).where(PlanWatch.refit_id == refit_id).values(**values)
    db.session.execute(query.execution_options(synchronize_session=False))


def moved_on() -> list[tuple[WatchRow, int]]:
    """Give the watched refits whose counter is another than when they were last glanced at, with the counter."""
    query = select(*_WATCH, Refit.seq).join(Refit, Refit.id == PlanWatch.refit_id)
    rows = db.session.execute(query.where(Refit.seq != PlanWatch.seen_seq))
    return [(WatchRow(*row[:-1]), row[-1]) for row in rows]


def to_look_into(now: datetime, quiet_before: datetime, changed_before: datetime) -> list[str]:
    """Give the watched refits that came to rest since they changed, or where something may be late by now.

    Parameters
    ----------
    quiet_before
        Those that have not changed since then.
    changed_before
        Those that have been changing since then without rest.
    """
    query = select(PlanWatch.refit_id).where(
        or_(
            PlanWatch.quiet_from <= quiet_before,
            PlanWatch.changed_at <= changed_before,
            PlanWatch.look_at <= now,
        )
    )
    return list(db.session.scalars(query.order_by(PlanWatch.refit_id)))


def revs(refit_ids: Collection[str]) -> dict[str, int]:
    """Give the number of the last change of any plan, by refit."""
    query = select(PlanWatch.refit_id, PlanWatch.rev).where(PlanWatch.refit_id.in_(refit_ids))
    return {row[0]: row[1] for row in db.session.execute(query)}
