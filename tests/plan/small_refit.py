"""A refit of a few steps, as facts: two people, a bow of ten square metres, twenty degrees."""

import json
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

from tackwatch.plan.build import Built
from tackwatch.plan.facts import (
    WEEKDAYS,
    Facts,
    Laid,
    Member,
    RefitLink,
    RefitStep,
    Zone,
)
from tackwatch.plan.model import Link
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.temperature import steady_track
from tackwatch.trade.types import Coat

NOW_AT = datetime(2026, 6, 1, 8, 0, tzinfo=UTC)
PRIMER, RESIN, HULL = (
    parse_profile(json.loads(Path(f"fixtures/profiles/{name}.json").read_text()))
    for name in ("epoxy_barrier_primer", "laminating_epoxy_fast", "topcoat_two_part_pu")
)
ANA = Member("ana", work_days=WEEKDAYS, skills=frozenset({"paint"}))
BEN = Member("ben", work_days=WEEKDAYS)
BOW = Zone("bow", holds=2, area_m2=10.0)
COAT = RefitStep("coat", "job", "coat", zone_id="bow", labour_h=3.0, profile=PRIMER)
NEXT = replace(COAT, id="next", labour_h=4.0)
SAND = RefitStep("sand", "job", "sand", zone_id="bow", labour_h=2.0)
WET = RefitLink("next", "coat", by_cure=True)


def hours_ago(hours: float) -> datetime:
    return NOW_AT - timedelta(hours=hours)


def facts(*steps: RefitStep, links: tuple[RefitLink, ...] = (), **rest: object) -> Facts:
    whole = Facts(
        now_at=NOW_AT,
        launch_at=NOW_AT + timedelta(days=20),
        time_zone="UTC",
        track=steady_track(20.0, hours_ago(200), measured=False),
        members=(ANA, BEN),
        steps=steps,
        links=links,
        zones=(BOW,),
    )
    return replace(whole, **rest)


def laid(step: RefitStep, start_at: datetime, end_at: datetime | None) -> RefitStep:
    assert step.profile is not None
    clocks = coat_clock(Coat("a", step.profile, start_at, end_at), facts().track, NOW_AT)
    state = "under_way" if end_at is None else "curing"
    return replace(step, state=state, laid=Laid(start_at, end_at, clocks), finished_at=end_at)


def link_of(built: Built, before: str, after: str) -> Link:
    (link,) = (one for one in built.project.links if (one.before, one.after) == (before, after))
    return link


def codes(built: Built) -> set[tuple[str, str]]:
    return {(note.step_id, note.code) for note in built.notes}
