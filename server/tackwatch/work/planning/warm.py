"""An invented refit of a few steps that takes every way of the search once, so that all of it is compiled before a
person asks for a plan.

Rules
-----
- It has people and places, paint with a window that may be missed, dust, wet days, work that waits for a part, times
  that were told and one of them too early, a launch that is not made, and a record to forecast from. Waits alone take a
  way of their own.
- What it comes to is thrown away; that it comes to nothing is an error.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Final

from tackwatch.plan.facts import Facts, Member, RefitLink, RefitStep, ToldPiece, Zone
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.temperature import steady_track
from tackwatch.work.planning.past import Past
from tackwatch.work.planning.task import Failed, Progress, Task
from tackwatch.work.planning.working import work_out
from tackwatch.work.profiles import bundled

NOW_AT: Final = datetime(2026, 6, 1, 8, tzinfo=UTC)
_PAINT: Final = "epoxy_barrier_primer"
_LONGEST_S: Final = 900.0


class NotWarmError(RuntimeError):
    """The invented refit came to nothing."""


def warm_up(clock: Callable[[], float]) -> None:
    """Take every way of the search once.

    Parameters
    ----------
    clock
        Seconds that go by.

    Raises
    ------
    NotWarmError
        When no plan came of it.
    """
    done = work_out(_task(), _nobody, clock)
    if isinstance(done, Failed):
        raise NotWarmError(f"{done.code}: {done.detail}")
    if done.trouble:
        raise NotWarmError(done.trouble)


def _nobody(_: Progress) -> None:
    """Tell nobody."""


def _task() -> Task:
    past = Past(
        took=(("prime", 4.0, 5.0),),
        found_while=(("prime", 1, 0.5),),
        found_labour_h=(3.0,),
        done_h=((NOW_AT.date() - timedelta(days=1), 5.0),),
        afloat=frozenset({"winch"}),
    )
    return Task(_refit(), past, _LONGEST_S, workers=1, samples=200, rounds=2)


def _refit() -> Facts:
    paint = parse_profile(next(one for one in bundled() if one["id"] == _PAINT))
    told = ToldPiece(NOW_AT, NOW_AT + timedelta(hours=4), ("ana",))
    sand = RefitStep(
        "sand", "prime", "sand", zone_id="bow", labour_h=4.0, assignees=("ana",), told=(told,)
    )
    coat = replace(sand, id="coat", kind="coat", profile=paint, assignees=())  # told for too early
    then = replace(coat, id="then", labour_h=30.0, weather_open=True, told=())
    fit = RefitStep(
        "fit", "winch", "fit", labour_h=8.0, crew_size=2, afloat_ok=True,
        held=True, expected_at=NOW_AT + timedelta(days=1),
    )  # fmt: skip
    return Facts(
        now_at=NOW_AT,
        launch_at=NOW_AT + timedelta(days=2),
        time_zone="UTC",
        track=steady_track(20.0, NOW_AT - timedelta(days=1), measured=False),
        members=(Member("ana"), Member("ben")),
        steps=(sand, coat, then, fit),
        links=(
            RefitLink("coat", "sand"),
            RefitLink("then", "coat", max_gap_s=86400.0, by_cure=True),
        ),
        zones=(Zone("bow", holds=2, area_m2=10.0),),
    )
