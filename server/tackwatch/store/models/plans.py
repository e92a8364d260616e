"""Plans that were asked for, what came of them, and what the planner last saw of each refit.

States of a plan: ``asked`` (waits for a planner), ``running`` (a planner has it under a lease), ``ready`` (it can be
looked at and published), ``published`` (its times were given to the crew), ``cancelled``, ``failed`` (``problem`` says
why).
"""

from __future__ import annotations

from datetime import datetime
from typing import Any

from sqlalchemy import BigInteger, ForeignKey, Index, String, Text, text
from sqlalchemy.orm import Mapped, mapped_column

from tackwatch.store.db import Base, Document, Instant

_OPEN = text("state IN ('asked', 'running')")


class Plan(Base):
    """One plan of a refit.

    ``rev`` rises with each change of the row. ``based_on`` is the refit's counter when its rows were read, ``basis``
    what was read there that a plan rests on (a text of JSON), ``result`` the proposals (a text of JSON). ``given`` is
    what changed when it was given to the crew: the stamp, the steps, of how many the start and the people are others.
    """

    __tablename__ = "plan"
    __table_args__ = (
        Index(None, "refit_id", "asked_at"),
        Index("ix_plan_open", "refit_id", unique=True, sqlite_where=_OPEN, postgresql_where=_OPEN),
    )

    plan_id: Mapped[str] = mapped_column(String(40), primary_key=True)
    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"))
    state: Mapped[str] = mapped_column(String(12), default="asked")
    rev: Mapped[int] = mapped_column(BigInteger, default=1)
    asked_at: Mapped[datetime] = mapped_column(Instant)
    asked_by: Mapped[str | None] = mapped_column(String(40))
    why: Mapped[list[str]] = mapped_column(Document)
    seconds: Mapped[int]
    claimed_by: Mapped[str | None] = mapped_column(String(80))
    lease_until: Mapped[datetime | None] = mapped_column(Instant)
    attempts: Mapped[int] = mapped_column(default=0)
    progress: Mapped[dict[str, Any] | None] = mapped_column(Document)
    based_on: Mapped[int | None] = mapped_column(BigInteger)
    basis: Mapped[str | None] = mapped_column(Text)
    result: Mapped[str | None] = mapped_column(Text)
    done_at: Mapped[datetime | None] = mapped_column(Instant)
    published_at: Mapped[datetime | None] = mapped_column(Instant)
    published_by: Mapped[str | None] = mapped_column(String(40))
    published_id: Mapped[str | None] = mapped_column(String(40))
    given: Mapped[dict[str, Any] | None] = mapped_column(Document)
    problem: Mapped[dict[str, Any] | None] = mapped_column(Document)


class PlanWatch(Base):
    """What the planner last saw of a refit for which a plan was ever asked.

    ``rev`` rises with each change of any of its plans. ``seen_seq`` is the refit's counter at the last glance,
    ``changed_at`` since when there are changes that were not looked into (None: none), ``quiet_from`` the last of them.
    ``look_at`` is when something would be late that is not late yet. ``basis`` is what the last plan rested on.
    """

    __tablename__ = "plan_watch"

    refit_id: Mapped[str] = mapped_column(ForeignKey("refit.id"), primary_key=True)
    rev: Mapped[int] = mapped_column(BigInteger, default=1)
    seen_seq: Mapped[int] = mapped_column(BigInteger, default=0)
    changed_at: Mapped[datetime | None] = mapped_column(Instant)
    quiet_from: Mapped[datetime | None] = mapped_column(Instant)
    look_at: Mapped[datetime | None] = mapped_column(Instant)
    basis: Mapped[str | None] = mapped_column(Text)
