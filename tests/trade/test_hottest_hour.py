import pytest

from tackwatch.trade.hottest_hour import closes_by_table
from tackwatch.trade.temperature import steady_track, track_of
from tackwatch.trade.types import Band, HottestHourRow, Knot, Track
from tests.trade.samples import CURVE, START_AT, START_S, outside, profiles

BAND = Band()
ROWS = (HottestHourRow(16, 21, 2880), HottestHourRow(22, 27, 1440), HottestHourRow(28, 32, 720))


def closes_h(track, rows=ROWS, edge=0.0, start_s=START_S):
    return (closes_by_table(rows, track, start_s, edge, BAND).at_s - start_s) / 3600


def spike(at_h, length_h, peak_c, base_c=20.0):
    """Give a steady track with one square spike."""
    at_s, end_s = START_S + at_h * 3600, START_S + (at_h + length_h) * 3600
    knots = [
        Knot(START_S, base_c, True),
        Knot(at_s, base_c, True),
        Knot(at_s + 1e-3, peak_c, True),
        Knot(end_s, peak_c, True),
        Knot(end_s + 1e-3, base_c, True),
        Knot(end_s + 86400, base_c, True),
    ]
    return Track(tuple(knots), 4, end_s)


def test_the_profile_carries_the_window_table_of_ufgs_09971_3_7_1_4():
    check = outside()["clock.recoat.pu"]
    rows = profiles()["topcoat_two_part_pu"].closes_by_hottest_hour
    assert [[row.from_c, row.to_c] for row in rows] == check["inputs"]["bands_C"]
    closes_h = [row.closes_minutes / 60 for row in rows]
    assert closes_h == [window[1] for window in check["expected"]["window_h"]]


@pytest.mark.parametrize("row", range(6))
def test_a_steady_surface_closes_by_its_band_ufgs_09971_3_7_1_4(row):
    check = outside()["clock.recoat.pu"]
    low_c, high_c = check["inputs"]["bands_C"][row]
    rows = profiles()["topcoat_two_part_pu"].closes_by_hottest_hour
    expected_h = check["expected"]["window_h"][row][1]
    for temp_c in (low_c, (low_c + high_c) / 2, high_c):
        assert closes_h(steady_track(temp_c, START_AT), rows) == pytest.approx(expected_h)


def test_one_hot_hour_shortens_the_window_for_good():
    assert closes_h(spike(at_h=3, length_h=1.1, peak_c=30)) == pytest.approx(12)
    assert closes_h(spike(at_h=3, length_h=1.1, peak_c=25)) == pytest.approx(24)


def test_fifty_minutes_of_heat_do_not_count():
    assert closes_h(spike(at_h=3, length_h=50 / 60, peak_c=30)) == pytest.approx(48)


def test_a_hot_hour_after_the_shorter_time_closes_the_window_at_once():
    assert closes_h(spike(at_h=30, length_h=2, peak_c=30)) == pytest.approx(31, abs=0.001)


def test_heat_before_the_coat_does_not_count():
    track = spike(at_h=3, length_h=2, peak_c=30)
    assert closes_h(track, start_s=START_S + 5.1 * 3600) == pytest.approx(48)
    assert closes_h(track, start_s=START_S + 4.5 * 3600) == pytest.approx(48)


def test_two_short_hot_spells_are_not_one_hour():
    knots = [Knot(START_S, 20.0, True)]
    for at_h in (2, 3):
        at_s = START_S + at_h * 3600
        knots += [Knot(at_s, 20.0, True), Knot(at_s + 1, 30.0, True)]
        knots += [Knot(at_s + 2400, 30.0, True), Knot(at_s + 2401, 20.0, True)]
    knots.append(Knot(START_S + 86400 * 2, 20.0, True))
    assert closes_h(Track(tuple(knots), 8, START_S)) == pytest.approx(48)


def test_a_repeated_noon_counts_even_when_it_is_tomorrow_s():
    warm = CURVE.__class__(min_c=12.0, max_c=24.0, hour_of_max=11.0, utc_offset_s=0.0)
    assert closes_h(track_of([], warm, START_AT)) == pytest.approx(24, abs=3)
    assert closes_h(track_of([], warm, START_AT)) < 28


def test_between_two_rows_the_hotter_counts_and_outside_the_table_it_says_so():
    assert closes_h(steady_track(21.5, START_AT)) == pytest.approx(24)
    cold = closes_by_table(ROWS, steady_track(10.0, START_AT), START_S, 0.0, BAND)
    assert (cold.below_table, cold.above_table) == (True, False)
    assert cold.at_s == START_S + 48 * 3600
    hot = closes_by_table(ROWS, steady_track(40.0, START_AT), START_S, 0.0, BAND)
    assert (hot.below_table, hot.above_table) == (False, True)
    assert hot.at_s == START_S + 12 * 3600
    inside = closes_by_table(ROWS, steady_track(20.0, START_AT), START_S, 0.0, BAND)
    assert (inside.below_table, inside.above_table) == (False, False)


def test_the_fast_edge_reads_the_table_warmer():
    assert closes_h(steady_track(20.5, START_AT), edge=1.0) == pytest.approx(24)
    assert closes_h(steady_track(20.5, START_AT), edge=-1.0) == pytest.approx(48)
