"""A refit with a crew and jobs, and the answers on its plan as docs/plan.md lays them down, section API.

The times are laid one after another by hand of this module, which knows nothing of the planner: what the screens are
tried on is the form of the answer, with everything in it that they can show.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from playwright.sync_api import Route

from tests.browser.board import written
from tests.browser.device import YARD_ZONE, Device
from tests.support.phone import Phone

ZONE = ZoneInfo(YARD_ZONE)
OPENS, CLOSES = time(8), time(17)
CURE = timedelta(hours=16)
WINDOW = timedelta(hours=30)

# title, zone, and for each step: kind, title, hours, which person
_Parts = tuple[tuple[str, str, float, int], ...]
_JOBS: tuple[tuple[str, int, _Parts], ...] = (
    ("Barrier coats", 0, (
        ("sand", "Sand to 80", 7, 1), ("clean", "Degrease", 1.5, 1), ("coat", "Coat 1", 3, 1),
        ("coat", "Coat 2", 3, 1), ("coat", "Coat 3", 3, 1),
    )),
    ("Barrier coats", 1, (
        ("sand", "Sand to 80", 7, 2), ("coat", "Coat 1", 3, 2), ("coat", "Coat 2", 3, 2),
    )),
    ("Chainplate knees", 2, (
        ("open_up", "Take the panels off", 4, 0), ("dry_out", "Dry out", 6, 3),
        ("grind", "Grind back", 5, 3), ("laminate", "Six plies", 8, 3), ("fair", "Fair", 4, 3),
    )),
    ("Seacocks", 0, (
        ("fit", "Draw the old ones", 3, 0), ("bed", "Bed the new ones", 4, 0),
        ("inspect", "Look at all of them", 0.5, 0),
    )),
    ("Cockpit lockers", 3, (("mask", "Mask", 2, 2), ("fillet", "Fillets", 5, 2))),
    ("Rudder bearing", 2, (
        ("survey", "Measure the play", 1, 0), ("trip", "Fetch the bearing", 4, 0), ("fit", "Fit", 6, 3),
    )),
)  # fmt: skip
_ZONES = ("Port hull, below the waterline", "Starboard hull", "Deck", "Cockpit")
_PEOPLE = ("Ana", "Ben", "Maximiliana")


@dataclass(frozen=True)
class Yard:
    """The ids of what is on the board."""

    owner: Phone
    launch_at: datetime
    zone_ids: tuple[str, ...]
    member_ids: tuple[str, ...]
    job_ids: tuple[str, ...]
    steps: tuple[tuple[str, str, float, int, int], ...]
    """Of each step its id, kind, hours, person and job."""

    def step(self, job: int, n: int) -> str:
        """Give the id of the step of a job."""
        return [one[0] for one in self.steps if one[4] == job][n]


def launch_in(days: int) -> datetime:
    """Give ten in the morning of a day ahead, in the yard."""
    on = datetime.now(ZONE).date() + timedelta(days=days)
    return datetime.combine(on, time(10), ZONE).astimezone(UTC)


def lay_out_yard(owner: Phone, launch_at: datetime, times: int = 1) -> Yard:
    """Put zones, people and jobs with their steps on the board; the jobs so many times over."""
    owner.sync()
    zone_ids = tuple(
        owner.create("zone", {"name": name, "rank": n}) for n, name in enumerate(_ZONES)
    )
    members = [owner.member_id]
    for name in _PEOPLE:
        answer = owner.call("POST", "/invites", body={"role": "hand", "name": name})
        assert answer.status == 201, answer.content
        members.append(str(answer.json["member_id"]))
    jobs: list[str] = []
    steps: list[tuple[str, str, float, int, int]] = []
    for turn in range(times):
        for title, zone, parts in _JOBS:
            afloat = title == "Cockpit lockers"
            fields = {"title": title, "zone_id": zone_ids[(zone + turn) % 4], "rank": len(jobs)}
            jobs.append(owner.create("job", {**fields, **({"afloat_ok": True} if afloat else {})}))
            for rank, (kind, name, hours, person) in enumerate(parts):
                step_id = owner.create(
                    "step", {"job_id": jobs[-1], "kind": kind, "title": name, "rank": rank}
                )
                steps.append((step_id, kind, hours, (person + turn) % 4, len(jobs) - 1))
    owner.sync()
    return Yard(owner, launch_at, zone_ids, tuple(members), tuple(jobs), tuple(steps))


# --- answers -------------------------------------------------------------------------------------------------------


def _works(day: date) -> bool:
    return day.isoweekday() <= 5


def _open(day: date) -> datetime:
    return datetime.combine(day, OPENS, ZONE)


def _laid(start: datetime, hours: float) -> tuple[list[tuple[datetime, datetime]], datetime]:
    """Lay hours of work into working days from an instant on; gives the stretches and the end."""
    left = timedelta(hours=hours)
    here = start
    pieces: list[tuple[datetime, datetime]] = []
    while left > timedelta(0):
        day = here.date()
        closes = datetime.combine(day, CLOSES, ZONE)
        if not _works(day) or here >= closes:
            here = _open(day + timedelta(days=1))
            continue
        here = max(here, _open(day))
        end = min(closes, here + left)
        pieces.append((here, end))
        left -= end - here
        here = end
    return pieces, here


def steps_of(yard: Yard, first: date, missed: Sequence[str] = ()) -> list[dict[str, Any]]:
    """Lay all steps one after another, each person's and each job's in order."""
    free = dict.fromkeys(range(len(yard.member_ids)), _open(first))
    ready: dict[int, datetime] = {}
    last_id: dict[int, str] = {}
    laid: list[dict[str, Any]] = []
    for step_id, kind, hours, person, job in yard.steps:
        start = max(free[person], ready.get(job, free[person]))
        pieces, end = _laid(start, hours)
        wet = kind in ("coat", "laminate", "bed")
        after = last_id.get(job)
        opens = ready.get(job) if kind == "coat" and after else None
        laid.append(
            {
                "step_id": step_id,
                "start_at": written(pieces[0][0]),
                "end_at": written(end),
                "member_ids": [yard.member_ids[person]],
                "pieces": [
                    {"start_at": written(a), "end_at": written(b), "member_ids": [yard.member_ids[person]]}
                    for a, b in pieces
                ],
                "why": _why(yard, person, after, free[person], ready.get(job), kind),
                "cure_until_at": written(end + CURE) if wet else None,
                "opens_at": written(opens) if opens else None,
                "closes_at": written(opens + WINDOW) if opens else None,
                "missed": step_id in missed,
            }
        )  # fmt: skip
        free[person] = end
        ready[job] = end + CURE if wet else end
        last_id[job] = step_id
    return laid


def _why(
    yard: Yard, person: int, after: str | None, free: datetime, ready: datetime | None, kind: str
) -> dict[str, Any]:
    if after is None:
        return {"code": "free", "params": {}}
    if ready is not None and ready > free:
        if kind == "coat":
            return {"code": "cure", "params": {"step_id": after, "until_at": written(ready)}}
        return {"code": "after", "params": {"step_id": after}}
    busy = {"member_id": yard.member_ids[person], "until_at": written(free)}
    return {"code": "person", "params": busy}


def changes_of(
    yard: Yard, steps: Sequence[dict[str, Any]], n: int, by_h: float
) -> list[dict[str, Any]]:
    """Say of the first steps that they were told earlier by so many hours, and of the third that to somebody else."""
    changes = []
    for count, step in enumerate(steps[:n]):
        before = datetime.fromisoformat(step["start_at"]) - timedelta(hours=by_h)
        other = [yard.member_ids[-1]] if count == 2 else step["member_ids"]
        changes.append(
            {
                "step_id": step["step_id"],
                "member_ids_before": other,
                "member_ids_after": step["member_ids"],
                "start_at_before": None if count == 0 else written(before),
                "start_at_after": step["start_at"],
            }
        )
    return changes


def forecast_of(yard: Yard, **rest: Any) -> dict[str, Any]:
    """Give a forecast with everything that one can say."""
    today = datetime.now(ZONE).date()
    launch = yard.launch_at.astimezone(ZONE).date()

    def on(days: int) -> str:
        return (launch + timedelta(days=days)).isoformat()

    done = [
        {"on": (today - timedelta(days=20 - n)).isoformat(), "labour_h": 4.5 * n} for n in range(21)
    ]
    fan = [
        {
            "on": (today + timedelta(days=n)).isoformat(),
            "p10_h": 90 + 5 * n,
            "p50_h": 90 + 6.5 * n,
            "p90_h": 90 + 8 * n,
        }
        for n in range(1, 22)
    ]
    jobs = yard.job_ids
    return {
        "p_launch": 0.72,
        "p10_on": on(-3),
        "p50_on": on(-1),
        "p90_on": on(4),
        "says": ["durations_from_prior", "found_from_prior"],
        "r": 0.35,
        "r_low": 0.1,
        "r_high": 0.9,
        "r_from": "prior",
        "never_ends": False,
        "criticality": [
            {"job_id": job_id, "p_critical": p}
            for job_id, p in zip(jobs, (0.71, 0.12, 0.44, 0.2, 0.01, 0.33), strict=False)
        ],
        "to_move": [jobs[4]],
        "p_with_move": 0.91,
        "burn_up": {"done": done, "fan": fan, "scope_h": 210},
        **rest,
    }


def head_of(state: str, plan_id: str = "plan-1", **rest: Any) -> dict[str, Any]:
    """Give what a list of plans says of one."""
    now = datetime.now(UTC)
    done = state in ("ready", "published")
    return {
        "plan_id": plan_id,
        "state": state,
        "asked_at": written(now - timedelta(minutes=12)),
        "asked_by": None,
        "why": ["found_job"],
        "progress": None,
        "based_on_version": 10,
        "published_id": "fresh" if state == "published" else None,
        "published_at": written(now - timedelta(minutes=8)) if state == "published" else None,
        "done_at": written(now - timedelta(minutes=10)) if done else None,
        "problem": None,
        **rest,
    }


def plan_of(yard: Yard, state: str = "ready", **rest: Any) -> dict[str, Any]:
    """Give a whole plan with three proposals, of which the middle one is late and misses a window."""
    first = datetime.now(ZONE).date()
    fresh = steps_of(yard, first)
    third_coat = yard.step(0, 4)
    keeps = steps_of(yard, first + timedelta(days=1), missed=(third_coat,))

    def proposal(id_: str, steps: list[dict[str, Any]], n: int, late_s: int) -> dict[str, Any]:
        missed = sum(one["missed"] for one in steps)
        return {
            "id": id_,
            "score": {
                "late_s": late_s,
                "missed_work_s": 7200 * missed,
                "moved": n,
                "idle_and_walks_s": 5400,
                "uneven_s": 3600,
            },
            "launch_made": late_s == 0,
            "late_bound_s": None,
            "steps": steps,
            "changes": changes_of(yard, steps, n, 24),
        }

    cannot = [
        {"step_ids": [yard.step(2, 3)], "code": "late_people", "params": {}, "buys_on": None},
        {
            "step_ids": [yard.step(2, 3)],
            "code": "person",
            "params": {"n": 1, "on": first.isoformat()},
            "buys_on": (first + timedelta(days=9)).isoformat(),
        },
        {
            "step_ids": [yard.step(5, 1), yard.step(5, 2)],
            "code": "part",
            "params": {"expected_at": written(yard.launch_at)},
            "buys_on": None,
        },
    ]
    return {
        **head_of(state),
        "proposals": [
            proposal("fresh", fresh, 6, 0),
            proposal("keeps_times", keeps, 1, 2 * 86_400 + 10_800),
            proposal("keeps_order", fresh, 4, 0),
        ],
        "cannot": cannot,
        "forecast": forecast_of(yard),
        "notes": [{"step_id": yard.step(5, 0), "code": "no_estimate"}],
        **rest,
    }


@dataclass
class PlanAnswers:
    """Answers a device's questions on plans in the place of the server, and keeps what it was asked."""

    heads: list[dict[str, Any]] = field(default_factory=list)
    plans: dict[str, dict[str, Any]] = field(default_factory=dict)
    asked: list[tuple[str, str, Any]] = field(default_factory=list)
    unchanged: int = 0
    reachable: bool = True
    against: str = ""
    """The name of the problem with which the server answers whoever does something."""

    def show(self, plan: dict[str, Any]) -> None:
        """Let a plan be the only one."""
        whole = ("proposals", "cannot", "forecast", "notes")
        self.heads = [{name: value for name, value in plan.items() if name not in whole}]
        self.plans = {plan["plan_id"]: plan}

    def answer_for(self, device: Device) -> None:
        device.context.route("**/api/refits/*/plans**", self._answer)

    def _answer(self, route: Route) -> None:
        request = route.request
        if not self.reachable:
            route.abort("internetdisconnected")
            return
        below = request.url.partition("/plans")[2].strip("/")
        self.asked.append((request.method, below, request.post_data_json))
        if request.method == "POST" and self.against:
            problem = {"type": f"urn:tackwatch:problem:{self.against}", "title": "", "detail": ""}
            route.fulfill(status=409, json=problem)
            return
        if request.method == "POST":
            self._act(below, request.post_data_json or {})
            route.fulfill(status=202, json={}, headers={"Location": request.url})
            return
        body = self.plans.get(below) if below else {"plans": self.heads}
        if body is None:
            route.fulfill(status=404, json={"title": "Unknown plan"})
            return
        text = json.dumps(body)
        etag = f'"{hash(text)}"'
        if request.headers.get("if-none-match") == etag:
            self.unchanged += 1
            route.fulfill(status=304, headers={"ETag": etag})
            return
        route.fulfill(status=200, body=text, content_type="application/json", headers={"ETag": etag})  # fmt: skip

    def _act(self, below: str, body: dict[str, Any]) -> None:
        if below == "":
            progress = {"p_done": 0.35, "phase": "searching", "late_s": 90_000, "missed": 1}
            self.heads.insert(0, head_of("running", "plan-2", progress=progress))
        elif below.endswith("/cancel"):
            self.heads[0] = head_of("cancelled", "plan-2")
        elif below.endswith("/publish"):
            plan_id = below.split("/")[0]
            given = {
                "state": "published",
                "published_id": body["proposal_id"],
                "published_at": written(datetime.now(UTC)),
            }
            self.plans[plan_id] |= given
            self.heads = [one | given if one["plan_id"] == plan_id else one for one in self.heads]
