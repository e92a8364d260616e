"""The windows of the plan are those of the cure clock, for whichever coat somebody will ask."""

import json
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from pathlib import Path
from random import Random

import numpy as np
import pytest
from scipy.integrate import quad

from tackwatch.plan.build.dose_curve import DoseCurve
from tackwatch.plan.build.grid import SLOT_S, SlotClock, clock_from
from tackwatch.plan.build.hot_hours import closes_by_hot_hours
from tackwatch.plan.build.stages import window_stages
from tackwatch.plan.build.windows import CureTables, _running_max, bump
from tackwatch.plan.model import NEVER
from tackwatch.trade.arrhenius import Law, law_of
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.dose import reach
from tackwatch.trade.forecast import temp_at
from tackwatch.trade.hottest_hour import closes_by_table
from tackwatch.trade.profiles import parse_profile
from tackwatch.trade.temperature import steady_track, track_of
from tackwatch.trade.types import Band, Clock, Coat, DailyCurve, Profile, Reading, Stage, Track
from tackwatch.work.reckoning import step_states

PROFILES = {
    path.stem: parse_profile(json.loads(path.read_text()))
    for path in sorted(Path("fixtures/profiles").glob("*.json"))
}
NOW_AT = datetime(2026, 3, 27, 15, 3, tzinfo=UTC)
SLOTS = 30 * 96
BACK = 60


def track_by(chance: Random) -> Track:
    curve = DailyCurve(
        chance.uniform(4, 14), chance.uniform(14, 34), chance.uniform(12, 17), 3600.0
    )
    readings = [
        Reading(NOW_AT - timedelta(hours=chance.uniform(0, 40)), air_c=chance.uniform(8, 30))
        for _ in range(chance.randint(0, 9))
    ]
    return track_of(readings, curve, NOW_AT - timedelta(days=1))


def coat_of(profile: Profile, clock: SlotClock, end: int, path: int) -> Coat:
    return Coat("coat", profile, clock.at(end - path), clock.at(end))


def clocks_of(coat: Coat, track: Track, band: Band) -> dict[Stage, Clock]:
    return {one.stage: one for one in coat_clock(coat, track, NOW_AT, band)}


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_what_opens_is_within_a_slot_of_the_cure_clock_and_never_before_it(name: str) -> None:
    chance = Random(name)
    profile, band, clock = PROFILES[name], Band(), clock_from(NOW_AT)
    for _ in range(4):
        track = track_by(chance)
        tables = CureTables(track, band, clock, SLOTS, BACK)
        for _ in range(6):
            end, path = chance.randint(0, SLOTS), chance.choice((0, 1, 3, 11, 24, 36))
            clocks = clocks_of(coat_of(profile, clock, end, path), track, band)
            for stage, one in clocks.items():
                if one.kind != "opens":
                    continue
                ready = int(tables.tables[tables.opens(profile, stage, path)][end])
                assert one.governing_at is not None
                after_s = (clock.at(ready) - one.governing_at).total_seconds()
                assert -0.01 <= after_s < SLOT_S + 30.0, (stage, end, path)


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_what_closes_is_within_a_slot_of_the_cure_clock_and_never_after_it(name: str) -> None:
    chance = Random(name)
    profile, band, clock = PROFILES[name], Band(), clock_from(NOW_AT)
    for _ in range(4):
        track = track_by(chance)
        tables = CureTables(track, band, clock, SLOTS, BACK)
        for _ in range(6):
            end, path = chance.randint(0, SLOTS), chance.choice((0, 1, 3, 11, 24, 36))
            clocks = clocks_of(coat_of(profile, clock, end, path), track, band)
            for stage in ("recoat_closes", "immerse_closes"):
                if stage not in clocks:
                    continue
                last = int(tables.tables[tables.closes(profile, stage, path)][end])
                at = clocks[stage].last_start_at
                assert at is not None
                before_s = (at - clock.at(last)).total_seconds()
                assert -0.01 <= before_s < SLOT_S + 30.0, (stage, end, path)


def test_the_curve_gives_the_instants_of_the_dose_sum() -> None:
    chance = Random("curve")
    for name, profile in PROFILES.items():
        track, band = track_by(chance), Band(1.0, chance.uniform(0, 5))
        for stage, points in profile.stages.items():
            edge = chance.choice((-1.0, 1.0))
            from_s = track.knots[0].at_s + chance.uniform(-20_000, 90_000)
            laid_s = np.sort(
                from_s + np.array([0.0, *(chance.uniform(0, 40 * 86_400) for _ in range(6))])
            )
            got = DoseCurve(law_of(points), track, from_s, edge, band).reached(laid_s)
            for start_s, at_s in zip(laid_s, got, strict=True):
                exact = reach(points, track, float(start_s), edge, band)
                assert exact is not None
                assert at_s == pytest.approx(exact.at_s, abs=0.01), (name, stage)


def quad_dose(law: Law, track: Track, from_s: float, to_s: float) -> float:
    corners = [from_s + (to_s - from_s) * i / 40 for i in range(41)]
    return sum(
        quad(lambda t: law.rate(temp_at(track, t)), left, right, limit=200)[0]
        for left, right in pairwise(corners)
    )


def test_the_curve_is_the_integral_of_the_rate_by_scipy_quad() -> None:
    chance = Random("quad")
    for name in ("laminating_epoxy_slow", "epoxy_barrier_primer"):
        law = law_of(PROFILES[name].stages["recoat_opens"])
        track = track_by(chance)
        from_s = track.knots[0].at_s
        curve = DoseCurve(law, track, from_s, 0.0, Band())
        laid_s = from_s + np.array([3_000.0, 90_000.0, 500_000.0])
        for start_s, at_s in zip(laid_s, curve.reached(laid_s), strict=True):
            assert quad_dose(law, track, start_s, at_s) == pytest.approx(1.0, abs=1e-4)


@pytest.mark.parametrize("temp_c", [10.0, 20.0, 30.0])
def test_at_a_steady_temperature_a_table_says_what_the_data_sheet_says(temp_c: float) -> None:
    """The sheet itself is the source: 300 minutes at 20 degC are 20 slots."""
    tables = CureTables(steady_track(temp_c, NOW_AT), Band(0.0, 0.0), clock_from(NOW_AT), 96, 9)
    profile = PROFILES["epoxy_barrier_primer"]
    for stage in ("recoat_opens", "sandable", "immerse_opens"):
        (minutes,) = (one.minutes for one in profile.stages[stage] if one.temp_c == temp_c)
        table = tables.tables[tables.opens(profile, stage, 0)]
        assert (table - np.arange(97) == np.ceil(minutes / 15.0)).all()


def test_a_coat_that_nobody_ended_for_weeks_costs_no_more_than_others() -> None:
    values = np.array([Random(n).uniform(-5, 5) for n in range(300)])
    for path in (0, 1, 2, 3, 7, 8, 100, 299):
        plain = [max(values[i : i + path + 1]) for i in range(300 - path)]
        assert (_running_max(values, path) == plain).all()


def test_the_hot_hours_are_those_of_the_table_for_every_coat() -> None:
    chance = Random("hot hours")
    rows = PROFILES["topcoat_two_part_pu"].closes_by_hottest_hour
    assert len(rows) > 2
    for _ in range(20):
        track, band = track_by(chance), Band(1.0, chance.uniform(0, 6))
        from_s = track.knots[0].at_s
        laid_s = np.sort(from_s + np.array([chance.uniform(0, 5 * 86_400) for _ in range(40)]))
        got = closes_by_hot_hours(rows, track, laid_s, 1.0, band)
        for start_s, at_s in zip(laid_s, got, strict=True):
            exact = closes_by_table(rows, track, float(start_s), 1.0, band).at_s
            assert at_s == pytest.approx(exact, abs=0.01)


def test_no_table_opens_before_the_paint_that_was_laid_between_two_slots() -> None:
    """Every end of three days is asked, with the path looked at each minute."""
    chance = Random("minutes")
    profile, days = PROFILES["gelcoat"], 3 * 96
    clock = clock_from(NOW_AT)
    for path in (4, 24) * 30:
        minutes_s = clock.origin_s + 60.0 * np.arange(-15 * path, 15 * days + 1)
        track = track_by(chance)
        tables = CureTables(track, Band(), clock, days, path)
        table = tables.tables[tables.opens(profile, "recoat_opens", path)]
        law = law_of(profile.stages["recoat_opens"])
        curve = DoseCurve(law, track, float(minutes_s[0]), -1.0, Band())
        after_s = curve.reached(minutes_s) - minutes_s
        opens_s = _running_max(after_s, 15 * path)[::15] + minutes_s[: 15 * days + 1 : 15]
        assert (table * SLOT_S + clock.origin_s >= opens_s - 0.01).all()


def test_a_coat_at_midnight_has_another_window_than_one_at_noon() -> None:
    track = track_of([], DailyCurve(8.0, 26.0, 15.0, 0.0), NOW_AT)
    clock = clock_from(NOW_AT)
    tables = CureTables(track, Band(), clock, SLOTS, BACK)
    profile = PROFILES["laminating_epoxy_fast"]
    ready = tables.tables[tables.opens(profile, "recoat_opens", 4)]
    last = tables.tables[tables.closes(profile, "recoat_closes", 4)]
    noon, midnight = (clock.up(datetime(2026, 3, 29, hour, tzinfo=UTC)) for hour in (12, 0))
    assert ready[midnight] - midnight > ready[noon] - noon
    assert last[midnight] - midnight > last[noon] - noon


def test_a_window_never_closes_because_the_grid_ends() -> None:
    track = steady_track(20.0, NOW_AT)
    clock = clock_from(NOW_AT)
    short, long = (CureTables(track, Band(), clock, slots, BACK) for slots in (96, 96 * 20))
    profile = PROFILES["epoxy_barrier_primer"]
    for tables in (short, long):
        tables.closes(profile, "recoat_closes", 8)
        tables.opens(profile, "immerse_opens", 8)
    for id_, table in short.tables.items():
        assert (table == long.tables[id_][:97]).all()
        assert table[96] > 96


def test_a_cure_that_never_comes_is_never_ready() -> None:
    cold = steady_track(-30.0, NOW_AT)
    tables = CureTables(cold, Band(), clock_from(NOW_AT), 96, 8)
    table = tables.tables[tables.opens(PROFILES["epoxy_barrier_primer"], "immerse_opens", 0)]
    assert (table == NEVER).all()


def test_the_next_coat_begins_so_much_earlier_as_it_takes_longer() -> None:
    tables = CureTables(steady_track(20.0, NOW_AT), Band(), clock_from(NOW_AT), 96, 8)
    profile = PROFILES["epoxy_barrier_primer"]
    even, longer = (tables.tables[tables.closes(profile, "recoat_closes", 8, n)] for n in (0, 5))
    assert (even - longer == 5).all()


@pytest.mark.parametrize(
    "kind", ["sand", "grind", "wait", "coat", "laminate", "fit", "clean", "bed"]
)
def test_steps_wait_for_the_stages_for_which_phones_have_them_wait(kind: str) -> None:
    assert window_stages(kind) == step_states.window_stages(kind)


def test_no_paint_between_two_slots_opens_later_than_the_table_allows_for() -> None:
    chance = Random("between")
    higher = 0
    for profile in PROFILES.values():
        if "recoat_opens" not in profile.stages:
            continue
        law = law_of(profile.stages["recoat_opens"])
        for _ in range(8):
            track = track_by(chance)
            from_s = clock_from(NOW_AT).origin_s
            minutes_s = from_s + 60.0 * np.arange(3 * 1440 + 1)
            after_s = DoseCurve(law, track, from_s, -1.0, Band()).reached(minutes_s) - minutes_s
            slots_s = after_s[::15]
            between_s = np.array([part.max() for part in np.split(after_s[:-1], 3 * 96)])
            plain_s = np.maximum(slots_s[:-1], slots_s[1:])
            allowed_s = np.maximum((slots_s + bump(slots_s))[:-1], (slots_s + bump(slots_s))[1:])
            assert (between_s <= allowed_s + 0.02).all()
            higher += int((between_s > plain_s).sum())
    assert higher > 5
