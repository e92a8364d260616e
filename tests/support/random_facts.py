"""Random refits as the planner is told of them, by seed: real products, days, skills, work in all its states.

Rules
-----
* The products are the typical profiles of the project; the temperature is a fitted curve through readings.
* Now is any instant of the days around a changed clock in spring or in autumn, or of any other day.
* Everybody's skills are such that each step has enough people whose hours overlap by day.
"""

import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from random import Random

from tackwatch.plan.facts import (
    DaysOff,
    Facts,
    Laid,
    Member,
    RefitLink,
    RefitStep,
    ToldPiece,
    Zone,
)
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Coat, DailyCurve, Reading, Track

PROFILES = {
    path.stem: parse_profile(json.loads(path.read_text()))
    for path in sorted(Path("fixtures/profiles").glob("*.json"))
}
SKILLS = ("paint", "glass", "wood")
SKILL_OF = {"coat": "paint", "laminate": "glass", "fair": "glass", "fillet": "glass", "fit": "wood"}
LAID = ("coat", "laminate", "fair", "fillet", "bed")
CHAINS = (
    ("survey", "sand", "clean", "coat:epoxy_polyamide_primer", "coat:epoxy_polyamide_primer",
     "sand", "clean", "coat:topcoat_two_part_pu", "coat:topcoat_two_part_pu"),
    ("grind", "clean", "laminate:laminating_epoxy_slow", "laminate:laminating_epoxy_slow",
     "laminate:laminating_epoxy_slow", "fair:epoxy_fillet", "sand", "coat:epoxy_barrier_primer",
     "coat:epoxy_barrier_primer"),
    ("open_up", "dry_out", "grind", "laminate:laminating_epoxy_fast", "laminate:laminating_epoxy_fast", "sand", "fit"),
    ("sand", "mask", "coat:antifouling_self_polishing", "coat:antifouling_self_polishing", "wait"),
    ("trip", "bed:sealant", "fit", "inspect"),
    ("fillet:epoxy_fillet", "sand", "coat:topcoat_one_part", "coat:topcoat_one_part"),
)  # fmt: skip
INSTANTS = (
    ("Europe/Lisbon", datetime(2026, 3, 27, 9, 7, tzinfo=UTC)),
    ("America/New_York", datetime(2026, 10, 30, 17, 30, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2026, 4, 3, 2, 0, tzinfo=UTC)),
    ("Asia/Kathmandu", datetime(2028, 2, 27, 5, 44, tzinfo=UTC)),
)


@dataclass(frozen=True)
class Yard:
    """What the steps of a refit share."""

    chance: Random
    now_at: datetime
    track: Track
    zones: tuple[Zone, ...]


def random_facts(seed: int, steps_n: int = 60, people_n: int = 4) -> Facts:
    """Make a refit of so many steps, some of which are done, begun, being laid or held."""
    chance = Random(f"facts {seed}")
    time_zone, now_at = INSTANTS[seed % len(INSTANTS)]
    now_at += timedelta(minutes=chance.randint(0, 3 * 1440))
    zones = tuple(
        Zone(f"zone{i}", chance.choice((None, 1, 2, 3)), chance.choice((None, 4.0, 18.0)))
        for i in range(max(3, steps_n // 10))
    )
    yard = Yard(chance, now_at, _track(chance, now_at), zones)
    members = tuple(_members(chance, people_n, now_at.date()))
    steps, links = _steps(yard, steps_n)
    return Facts(
        now_at=now_at,
        launch_at=now_at + timedelta(days=steps_n / people_n * chance.uniform(0.3, 1.5)),
        time_zone=time_zone,
        track=yard.track,
        members=members,
        steps=tuple(_in_hand(yard, members, steps, links)),
        links=tuple(links),
        zones=zones,
        closed=(DaysOff(now_at.date() + timedelta(days=9), now_at.date() + timedelta(days=10)),),
    )


def _track(chance: Random, now_at: datetime) -> Track:
    low_c = chance.uniform(6.0, 12.0)
    curve = DailyCurve(low_c, low_c + chance.uniform(5.0, 14.0), 15.0, 3600.0)
    readings = [
        Reading(now_at - timedelta(hours=chance.uniform(0.0, 30.0)), air_c=low_c + 5.0)
        for _ in range(chance.randint(0, 5))
    ]
    return track_of(readings, curve, now_at - timedelta(days=4))


def _members(chance: Random, people_n: int, today: date) -> Iterator[Member]:
    for i in range(people_n):
        skills = {SKILLS[i % 3], SKILLS[(i + 1) % 3], chance.choice(SKILLS)}
        first = today + timedelta(days=chance.randint(1, 8))
        yield Member(
            f"member{i}",
            day_starts=time(chance.choice((7, 8, 8, 9))),
            day_ends=time(chance.choice((16, 17, 17, 18)), chance.choice((0, 30))),
            work_days=frozenset(range(1, chance.choice((6, 6, 7, 8)))),
            skills=frozenset(skills) if people_n > 3 or i < 2 else frozenset(SKILLS),
            away=(DaysOff(first, first + timedelta(days=2)),) if i == people_n - 1 else (),
        )


def _steps(yard: Yard, steps_n: int) -> tuple[list[RefitStep], list[RefitLink]]:
    chance = yard.chance
    steps: list[RefitStep] = []
    links: list[RefitLink] = []
    job = 0
    while len(steps) < steps_n:
        chain = chance.choice(CHAINS)
        zone = chance.choice(yard.zones)
        crews = [chance.choice((1, 1, 2)) for _ in chain]
        for i, kind in enumerate(chain[: steps_n - len(steps)]):
            step = _step(chance, f"job{job}.{i}", f"job{job}", kind, zone, crews[i])
            if i:
                links.append(_link(chance, steps[-1], step))
            steps.append(step)
        job += 1
    return steps, links


def _step(
    chance: Random, id_: str, job_id: str, kind: str, zone: Zone, crew_size: int
) -> RefitStep:
    verb, _, product = kind.partition(":")
    labour_h = chance.choice((None, 1.0, 2.0, 3.5, 5.0, 9.0)) if verb != "sand" else 14.0
    if verb in ("wait", "dry_out"):
        labour_h = chance.choice((24.0, 60.0, 120.0))
    return RefitStep(
        id=id_,
        job_id=job_id,
        kind=verb,
        zone_id=None if verb == "trip" else zone.id,
        labour_h=labour_h,
        crew_size=crew_size,
        skills=frozenset({SKILL_OF[verb]} if verb in SKILL_OF else ()),
        profile=PROFILES[product] if product else None,
        afloat_ok=verb in ("fit", "trip") and chance.random() < 0.5,
        weather_open=verb == "coat" and chance.random() < 0.5,
    )


def _link(chance: Random, before: RefitStep, after: RefitStep) -> RefitLink:
    if before.kind in LAID:
        return RefitLink(after.id, before.id, by_cure=chance.random() < 0.9)
    gap_s = chance.choice((0.0, 0.0, 5_400.0))
    most_s = 4 * 86_400.0 if before.kind == "clean" and chance.random() < 0.3 else None
    return RefitLink(after.id, before.id, min_gap_s=gap_s, max_gap_s=most_s)


def _in_hand(
    yard: Yard, members: tuple[Member, ...], steps: list[RefitStep], links: list[RefitLink]
) -> Iterator[RefitStep]:
    """Take each chain to where it stands: some steps done, the next one begun, being laid or held."""
    chance = yard.chance
    after = {link.after_id for link in links}
    busy: set[str] = set()
    jobs: dict[str, int] = {}
    for step in steps:
        if step.job_id not in jobs:
            jobs[step.job_id] = chance.choice((0, 0, 1, 3, 4))
        i = int(step.id.partition(".")[2])
        if i < jobs[step.job_id] and step.id in after:
            yield _done(yard, step)
        elif i == jobs[step.job_id]:
            yield _next(yard, members, step, busy)
        elif chance.random() < 0.3:
            yield replace(step, told=_told(yard, members, step))
        else:
            yield step


def _done(yard: Yard, step: RefitStep) -> RefitStep:
    end_at = yard.now_at - timedelta(hours=yard.chance.uniform(0.2, 60.0))
    if step.kind not in LAID:
        return replace(step, state="finished", finished_at=end_at)
    laid = _laid(yard, step, end_at - timedelta(hours=yard.chance.uniform(0.5, 5.0)), end_at)
    return replace(step, state="curing", laid=laid, finished_at=end_at)


def _laid(yard: Yard, step: RefitStep, start_at: datetime, end_at: datetime | None) -> Laid:
    assert step.profile is not None
    coat = Coat(step.id, step.profile, start_at, end_at)
    return Laid(start_at, end_at, coat_clock(coat, yard.track, yard.now_at))


def _next(yard: Yard, members: tuple[Member, ...], step: RefitStep, busy: set[str]) -> RefitStep:
    chance, now_at = yard.chance, yard.now_at
    what = chance.choice(("ahead", "begun", "laying", "partly", "held", "expected", "named"))
    start_at = now_at - timedelta(hours=chance.uniform(0.1, 3.0))
    free = [one.id for one in members if one.id not in busy and step.skills <= one.skills]
    hands = tuple(free[: step.crew_size])
    if what == "laying" and step.kind in LAID and len(hands) == step.crew_size:
        busy.update(hands)
        laid = _laid(yard, step, start_at, None)
        return replace(step, state="under_way", laid=laid, at_it=hands)
    if what == "partly" and step.kind in LAID:
        laid = _laid(yard, step, start_at - timedelta(hours=20), start_at - timedelta(hours=19.5))
        return replace(step, state="under_way", laid=laid, labour_h=30.0, finished_at=laid.end_at)
    if what == "begun":
        return replace(step, state="under_way", worked_h=1.3, assignees=hands)
    if what == "held":
        return replace(step, state="held", held=True)
    if what == "expected":
        expected_at = now_at + timedelta(hours=chance.uniform(-10.0, 90.0))
        return replace(step, state="held", held=True, expected_at=expected_at)
    if what == "named":
        named = tuple(one.id for one in members[: step.crew_size])
        return replace(step, state="ready", assignees=named)
    return replace(step, state="ready")


def _told(yard: Yard, members: tuple[Member, ...], step: RefitStep) -> tuple[ToldPiece, ...]:
    start_at = yard.now_at + timedelta(hours=yard.chance.uniform(-5.0, 200.0))
    people = tuple(one.id for one in members[: step.crew_size])
    return (ToldPiece(start_at, start_at + timedelta(hours=2), people),)
