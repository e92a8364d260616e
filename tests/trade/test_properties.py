from dataclasses import replace
from datetime import timedelta

from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.trade.cure import clocks_of_group, coat_clock, pot_clock
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Band, Coat, DailyCurve, Pot, Reading
from tests.trade.samples import START_AT, profiles

SLACK = timedelta(milliseconds=20)
PATH_SLACK = timedelta(minutes=3)  # between two instants that are looked at on a path

temps = st.floats(-5.0, 42.0)
names = st.sampled_from(sorted(profiles()))
curves = st.builds(
    lambda low, span, hour: DailyCurve(low, low + span, hour, 7200.0),
    st.floats(0.0, 20.0),
    st.floats(0.0, 18.0),
    st.floats(0.0, 23.9),
)
readings = st.lists(
    st.builds(
        lambda minutes, c: Reading(START_AT + timedelta(minutes=minutes), surface_c=c),
        st.integers(-600, 4000),
        temps,
    ),
    max_size=12,
)
lengths = st.floats(0.0, 9.0).map(lambda h: timedelta(hours=h))
bands = st.builds(Band, st.floats(0.0, 3.0), st.floats(0.0, 6.0))


def clocks(name, measured, curve, length, band):
    track = track_of(measured, curve, START_AT)
    coat = Coat("c1", profiles()[name], START_AT, START_AT + length)
    pot = Pot("c1", profiles()[name], START_AT, temp_c=None)
    found = [*coat_clock(coat, track, START_AT, band), *pot_clock(pot, track, START_AT, band)]
    return {clock.stage: clock for clock in found}


def no_later(one, other, slack=SLACK):
    """Say whether one instant is not later than the other; None is never."""
    return other is None or (one is not None and one <= other + slack)


@settings(deadline=None)
@given(names, readings, curves, lengths, bands, st.floats(0.1, 8.0))
def test_hotter_is_never_slower(name, measured, curve, length, band, warmer_k):
    hot_readings = [replace(r, surface_c=r.surface_c + warmer_k) for r in measured]
    hot_curve = replace(curve, min_c=curve.min_c + warmer_k, max_c=curve.max_c + warmer_k)
    cold = clocks(name, measured, curve, length, band)
    hot = clocks(name, hot_readings, hot_curve, length, band)
    for stage, clock in hot.items():
        for field in ("at", "fast_at", "slow_at", "governing_at"):
            assert no_later(getattr(clock, field), getattr(cold[stage], field)), (stage, field)
        if clock.kind == "closes" and clock.last_start_at is not None:
            assert no_later(clock.last_start_at, cold[stage].last_start_at)


@settings(deadline=None)
@given(names, readings, curves, lengths, bands, st.floats(0.0, 3.0), st.floats(0.0, 3.0))
def test_a_wider_band_opens_no_earlier_and_closes_no_later(
    name, measured, curve, length, band, more_measured_k, more_forecast_k
):
    wider = Band(band.measured_k + more_measured_k, band.forecast_k + more_forecast_k)
    narrow = clocks(name, measured, curve, length, band)
    for stage, clock in clocks(name, measured, curve, length, wider).items():
        if clock.kind == "opens":
            assert no_later(narrow[stage].governing_at, clock.governing_at), stage
        else:
            assert no_later(clock.governing_at, narrow[stage].governing_at), stage
            assert no_later(clock.last_start_at, narrow[stage].last_start_at), stage


@settings(deadline=None)
@given(names, readings, curves, lengths, bands)
def test_the_edges_stand_in_order_and_the_careful_one_governs(name, measured, curve, length, band):
    for clock in clocks(name, measured, curve, length, band).values():
        assert no_later(clock.fast_at, clock.at)
        assert no_later(clock.at, clock.slow_at)
        careful = clock.fast_at if clock.kind == "closes" else clock.slow_at
        assert clock.governing_at == careful
        if clock.last_start_at is not None:
            assert no_later(clock.last_start_at, clock.governing_at)


@settings(deadline=None)
@given(names, readings, curves, lengths, lengths, bands)
def test_a_longer_coat_never_opens_earlier_nor_leaves_more_time(
    name, measured, curve, length, more, band
):
    dab = clocks(name, measured, curve, timedelta(0), band)
    short = clocks(name, measured, curve, length, band)
    for stage, clock in clocks(name, measured, curve, length + more, band).items():
        if clock.kind == "opens":
            assert no_later(dab[stage].governing_at, clock.governing_at), stage
            assert no_later(short[stage].governing_at, clock.governing_at, PATH_SLACK), stage
        else:
            assert no_later(clock.last_start_at, dab[stage].last_start_at), stage
            assert no_later(clock.last_start_at, short[stage].last_start_at, PATH_SLACK), stage


@settings(deadline=None)
@given(names, readings, curves, lengths, lengths, bands)
def test_a_group_never_shortens_the_cure_of_a_member(name, measured, curve, one, other, band):
    members = [
        list(clocks(name, measured, curve, length, band).values()) for length in (one, other)
    ]
    whole = {clock.stage: clock for clock in clocks_of_group("g", members)}
    for clock in (clock for member in members for clock in member):
        merged = whole[clock.stage]
        if clock.kind == "opens":
            assert no_later(clock.governing_at, merged.governing_at, timedelta(0))
        else:
            assert no_later(merged.governing_at, clock.governing_at, timedelta(0))
            assert no_later(merged.last_start_at, clock.last_start_at, timedelta(0))


@settings(deadline=None)
@given(names, readings, curves, st.randoms(use_true_random=False))
def test_the_order_of_readings_changes_nothing(name, measured, curve, random):
    shuffled = list(measured)
    random.shuffle(shuffled)
    length, band = timedelta(hours=2), Band()
    assert clocks(name, shuffled, curve, length, band) == clocks(
        name, measured, curve, length, band
    )
