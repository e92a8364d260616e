"""Working out the plans that are asked for: claim one, read the rows, let it be worked out, write down what came of it.

Rules
-----
- A planner holds a plan under a lease that it renews while it works; of one that was killed the lease ends, and another
  planner begins anew. After `MOST_ATTEMPTS` the plan has failed: it may be what kills them.
- What a holder writes is fenced: a plan that was called off, or taken over, is not written to any more. The holder
  finds out within `ASK_EVERY_S` and lets the work go.
- A planner that is told to end gives its plan back at once.
- A plan that breaks a rule is failed and logged, and never shown.
"""

from __future__ import annotations

import os
import socket
import threading
from collections.abc import Callable
from contextlib import AbstractContextManager
from dataclasses import asdict, replace
from datetime import timedelta
from json import dumps, loads
from typing import Any, Final

import structlog

from tackwatch.store import plans
from tackwatch.store.db import db, writing
from tackwatch.store.plans import PlanHead
from tackwatch.work.planning import basis as bases
from tackwatch.work.planning.child import Solver, SolverDiedError
from tackwatch.work.planning.gather import Pieces, facts_of
from tackwatch.work.planning.past import past_of
from tackwatch.work.planning.rows import PlanRows, read
from tackwatch.work.planning.task import Done, Failed, Progress, Task
from tackwatch.work.ports import Ports

LEASE: Final = timedelta(seconds=20)
ASK_EVERY_S: Final = 0.4
WRITE_EVERY_S: Final = 1.0
LONGEST_OVER_S: Final = 900.0  # a slow machine compiles for minutes, once
MOST_ATTEMPTS: Final = 3
InContext = Callable[[], AbstractContextManager[Any]]

_log = structlog.get_logger()


class Planner:
    """Works out one plan after another.

    Parameters
    ----------
    in_context
        Gives what the database needs around it.
    ports
        The world.
    solver
        Where it is worked out.
    monotonic
        Seconds that go by.
    lease
        How long a claim holds that is not renewed.
    """

    def __init__(
        self,
        in_context: InContext,
        ports: Ports,
        solver: Solver,
        monotonic: Callable[[], float],
        lease: timedelta = LEASE,
    ) -> None:
        self._in_context = in_context
        self._ports = ports
        self._solver = solver
        self._monotonic = monotonic
        self._lease = lease
        self._stopping = threading.Event()
        host = socket.gethostname()[:30]
        self.name = f"{host}.{os.getpid()}.{ports.chance.device_id()}"

    def stop(self) -> None:
        """Take nothing on any more, and give back what is in hand."""
        self._stopping.set()

    def look(self) -> bool:
        """Work out the plan that waits longest; say whether there was one."""
        if self._stopping.is_set():
            return False
        with self._in_context():
            held = self._claim()
            if held is None:
                return False
            try:
                self._work(held)
            except Exception:
                _log.exception("a plan could not be worked out", plan_id=held.plan_id)
                self._solver.stop()
                self._end(held, state="failed", problem=_problem("planner-trouble"))
            finally:
                db.session.rollback()
            return True

    def _claim(self) -> PlanHead | None:
        now = self._ports.clock.now()
        with writing():
            held = plans.claim(self.name, now, now + self._lease)
        if held is not None and held.attempts > MOST_ATTEMPTS:
            _log.error("a plan was given up", plan_id=held.plan_id, attempts=held.attempts - 1)
            self._end(held, state="failed", problem=_problem("gave-up"))
            return None
        return held

    def _work(self, held: PlanHead) -> None:
        if not self._keep(held, progress=asdict(Progress("reading", 0.0))):
            return
        rows = read(held.refit_id, self._ports.clock.now())
        given, before = _pieces(held.refit_id)
        facts, basis = facts_of(rows, given), bases.basis_of(rows)
        if not self._rest_on(held, rows, basis):
            return
        seed = int(held.plan_id.replace("-", "")[:8], 16)
        task = Task(facts, past_of(rows), held.seconds, seed, hint=before or given)
        self._solver.begin(task)
        self._follow(held)

    def _rest_on(self, held: PlanHead, rows: PlanRows, basis: bases.Basis) -> bool:
        """Write down what the plan rests on, beside it and for the watch."""
        text, look_at = bases.text_of(basis), bases.times_of(rows).next_at
        with writing():
            if not plans.keep(held, basis=text, based_on=rows.seq):
                return False
            plans.set_watch(
                held.refit_id, basis=text, look_at=look_at, changed_at=None, quiet_from=None
            )
            return True

    def _follow(self, held: PlanHead) -> None:
        """Hear what is said until it comes to an end, or is not wanted any more."""
        ends_at = self._monotonic() + held.seconds + LONGEST_OVER_S
        written_at, progress = self._monotonic(), Progress("building", 0.0)
        while True:
            try:
                said = self._solver.hear(ASK_EVERY_S)
            except SolverDiedError:
                _log.error("the process that worked a plan out ended", plan_id=held.plan_id)
                self._give_back(held)
                return
            now_s = self._monotonic()
            if isinstance(said, Done):
                if said.trouble:
                    _log.error("a plan has no forecast", plan_id=held.plan_id, why=said.trouble)
                self._end(held, state="ready", result=_text(said.result), problem=None)
                return
            if isinstance(said, Failed):
                self._failed(held, said)
                return
            if isinstance(said, Progress):
                progress = said
            if self._stopping.is_set():
                self._solver.stop()
                self._give_back(held, attempts=held.attempts - 1)  # that was no fault of the plan
                return
            if now_s > ends_at:
                self._solver.stop()
                self._failed(held, Failed("took-too-long"))
                return
            if now_s - written_at >= WRITE_EVERY_S:
                written_at, progress = now_s, self._with_time(progress, held)
                wanted = self._keep(held, progress=asdict(progress))
            else:
                wanted = self._is_held(held)
            if not wanted:
                self._solver.stop()
                return

    def _with_time(self, progress: Progress, held: PlanHead) -> Progress:
        """Let a search that finds nothing better be seen to go on."""
        if progress.phase != "searching":
            return progress
        more = 0.8 * WRITE_EVERY_S / max(held.seconds, 1)
        return replace(progress, p_done=round(min(0.9, progress.p_done + more), 3))

    def _failed(self, held: PlanHead, failed: Failed) -> None:
        _log.warning(
            "no plan came of it", plan_id=held.plan_id, code=failed.code, why=failed.detail
        )
        result = {"proposals": [], "cannot": _cannot(failed), "notes": [], "forecast": None}
        problem = _problem(failed.code, next(iter(failed.step_ids), None))
        self._end(held, state="failed", result=_text(result), problem=problem)

    def _end(self, held: PlanHead, **values: Any) -> None:
        with writing():
            plans.keep(
                held,
                progress=None,
                claimed_by=None,
                lease_until=None,
                done_at=self._ports.clock.now(),
                **values,
            )

    def _give_back(self, held: PlanHead, **values: Any) -> None:
        free = {"progress": None, "claimed_by": None, "lease_until": None}
        with writing():
            plans.keep(held, state="asked", **free, **values)

    def _keep(self, held: PlanHead, **values: Any) -> bool:
        with writing():
            return plans.keep(held, lease_until=self._ports.clock.now() + self._lease, **values)

    def _is_held(self, held: PlanHead) -> bool:
        try:
            return plans.is_held(held)
        finally:
            db.session.rollback()


def _pieces(refit_id: str) -> tuple[dict[str, Pieces], dict[str, Pieces]]:
    """Give the pieces of each step in the plan that was given to the crew last, and in the newest."""
    given, newest = plans.last_published(refit_id), plans.last_with_result(refit_id)
    return _pieces_of(given), _pieces_of(newest)


def _pieces_of(plan: PlanHead | None) -> dict[str, Pieces]:
    result = None if plan is None else plans.texts(plan.plan_id)[1]
    if plan is None or result is None:
        return {}
    proposals = loads(result)["proposals"]
    chosen = [one for one in proposals if one["id"] == plan.published_id] or proposals[:1]
    return {step["step_id"]: step["pieces"] for one in chosen for step in one["steps"]}


def _cannot(failed: Failed) -> list[dict[str, Any]]:
    if failed.cannot is None:
        return [dict(one) for one in failed.takes]
    return [{"step_ids": [*failed.step_ids], "code": failed.cannot, "params": {}, "buys_on": None}]


def _problem(code: str, step_id: str | None = None) -> dict[str, Any]:
    return {"code": code, "step_id": step_id}


def _text(value: Any) -> str:
    return dumps(value, ensure_ascii=False, separators=(",", ":"))
