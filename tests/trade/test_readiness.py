"""May I coat now: each rule by itself, the answer of all, and until when."""

from dataclasses import replace
from datetime import timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tackwatch.trade.forecast import lowest_c, temp_at
from tackwatch.trade.laminating_air import laminating_air
from tackwatch.trade.readiness import Below, CoatFacts, Owed, may_coat_now, state_of
from tackwatch.trade.readiness_air import AirFacts, latest_air
from tackwatch.trade.temperature import steady_track, track_of
from tackwatch.trade.types import DailyCurve, Knot, Limits, Reading, Track
from tests.trade.samples import START_AT, START_S, hours, outside, points, profiles

WARM = steady_track(18.0, START_AT)
DRY = AirFacts(18.0, 18.0, 50.0, START_AT)
LIMITS = Limits(10.0, 30.0, 85.0, 3.0)
TOUCH_DRY = points((10.0, 480.0), (20.0, 240.0))
OPEN = Below("epoxy_paint", opens_at=START_AT - hours(1), closes_at=START_AT + hours(30))
FACTS = CoatFacts(START_AT, "epoxy_paint", LIMITS, TOUCH_DRY, DRY, OPEN)


def ask(track=WARM, **change):
    return may_coat_now(replace(FACTS, **change), track)


def outcome(readiness, rule):
    return next((one.outcome, one.code) for one in readiness.rules if one.rule == rule)


def air(**change):
    return replace(DRY, **change)


def test_all_rules_that_hold_give_yes_until_the_window_closes():
    found = ask()
    assert (found.answer, found.until_at) == ("yes", START_AT + hours(30))
    assert {one.outcome for one in found.rules} == {"ok"}
    assert all(one.source for one in found.rules)
    assert len(found.rules) == 9


def test_a_surface_less_than_three_kelvin_above_the_dew_point_waits_iso_8502_4_from_memory():
    check = outside()["air.rule.3K"]
    surface_c, dew_c = check["inputs"]["surface_C"], check["inputs"]["Td_C"]
    near = AirFacts(surface_c, surface_c, 82.8, START_AT)  # its dew point is 13.3 degC
    sheetless = replace(LIMITS, dew_margin_min_c=None)
    found = ask(steady_track(surface_c, START_AT), air=near, limits=sheetless)
    rule = next(one for one in found.rules if one.rule == "dew_now")
    assert rule.params["dew_c"] == pytest.approx(dew_c, abs=0.05)
    assert (rule.outcome == "ok") is check["expected"]["ok_3K"]
    assert "8502-4" in rule.source
    us_rule = replace(LIMITS, dew_margin_min_c=5 / 1.8)
    found = ask(steady_track(surface_c, START_AT), air=near, limits=us_rule)
    assert (outcome(found, "dew_now")[0] == "ok") is check["expected"]["ok_5F"]


CLOSED = Below("epoxy_paint", opens_at=START_AT - hours(9), closes_at=START_AT - hours(1))


def test_a_tack_coat_of_epoxy_stands_for_the_sanding_of_a_missed_window_by_tb_43_0144():
    assert ask(below=CLOSED).answer == "no"
    found = ask(below=CLOSED, tack=True)
    assert (found.answer, found.until_at) == ("yes", None)
    assert outcome(found, "window") == ("ok", "tack_coat")
    assert outcome(found, "compatibility") == ("ok", "tack_coat")
    rule = next(one for one in found.rules if one.rule == "window")
    assert "TB 43-0144" in rule.source


@pytest.mark.parametrize(
    ("over", "below"),
    [
        ("epoxy_paint", replace(CLOSED, material="epoxy_resin")),  # its blush is washed off first
        ("epoxy_paint", replace(CLOSED, material="one_part")),
        ("gelcoat", CLOSED),
        ("polyurethane", CLOSED),
        ("epoxy_paint", replace(CLOSED, state="contaminated")),
    ],
)
def test_a_tack_coat_stands_for_nothing_else_common_practice(over, below):
    assert ask(over=over, below=below, tack=True).answer == "no"


def test_a_ground_has_no_window_and_is_judged_by_the_table_alone():
    for state, answer in (("glossy", "no"), ("washed", "no"), ("keyed", "yes")):
        found = ask(below=Below("bare_laminate", state))
        assert found.answer == answer, state
        assert outcome(found, "window")[0] == "ok"
    assert outcome(ask(below=Below("bare_laminate", "glossy")), "window")[1] == "no_window"


def test_without_limits_most_paints_want_7_2_to_32_2_degc_by_mil_hdbk_1110_7_4_1():
    expected = outside()["air.rule.range"]["expected"]
    for temp_c, good in (
        (expected["min_C"] - 0.1, False),
        (expected["min_C"] + 0.1, True),
        (expected["max_C"] - 0.1, True),
        (expected["max_C"] + 0.1, False),
    ):
        measured = AirFacts(temp_c, temp_c, 40.0, START_AT)
        found = ask(steady_track(temp_c, START_AT), air=measured, limits=Limits())
        assert (outcome(found, "temperature_now")[0] == "ok") is good, temp_c


def test_a_night_below_4_4_degc_before_it_is_dry_waits_by_mil_hdbk_1110_7_4_1():
    limit_c = outside()["air.rule.range"]["expected"]["not_if_falls_below_C"]
    for night_c, good in ((limit_c - 0.2, False), (limit_c + 0.2, True)):
        knots = [(0.0, 15.0), (2.0, night_c), (24.0, 15.0)]
        cold = Track(tuple(Knot(START_S + h * 3600, c, False) for h, c in knots), 0, None)
        measured = AirFacts(15.0, 15.0, 20.0, START_AT)
        found = ask(cold, air=measured)
        assert (outcome(found, "temperature_drying")[0] == "ok") is good


def test_the_margin_is_asked_until_touch_dry_and_not_only_now():
    evening = [(0.0, 18.0), (3.0, 9.0), (24.0, 18.0)]
    cooling = Track(tuple(Knot(START_S + h * 3600, c, False) for h, c in evening), 0, None)
    found = ask(cooling, air=air(rh_pct=65.0), limits=replace(LIMITS, temp_min_c=5.0))
    assert outcome(found, "dew_now") == ("ok", "dew_margin_kept")
    assert outcome(found, "dew_drying") == ("wait", "dew_before_dry")
    assert found.answer == "not_yet"
    assert found.until_at is not None
    quick = ask(cooling, air=air(rh_pct=65.0), touch_dry=points((5.0, 12.0)), limits=LIMITS)
    assert outcome(quick, "dew_drying")[0] == "ok"


def test_a_longer_coat_dries_later_and_may_meet_the_dew():
    evening = [(0.0, 18.0), (6.0, 17.0), (8.0, 9.0), (24.0, 18.0)]
    cooling = Track(tuple(Knot(START_S + h * 3600, c, False) for h, c in evening), 0, None)
    wet = {"air": air(rh_pct=65.0), "touch_dry": points((10.0, 240.0), (20.0, 239.0))}
    assert outcome(ask(cooling, **wet), "dew_drying")[0] == "ok"
    assert outcome(ask(cooling, **wet, coat_s=3 * 3600.0), "dew_drying")[0] == "wait"


def test_a_cold_morning_waits_until_it_is_warm_enough():
    curve = DailyCurve(4.0, 20.0, 15.0, 0.0)
    morning = START_AT.replace(hour=7)
    reading = Reading(morning, air_c=8.0, surface_c=8.0, rh_pct=50.0)
    track = track_of([reading], curve, morning)
    below = replace(OPEN, opens_at=None, closes_at=morning + hours(40))
    facts = replace(FACTS, now_at=morning, air=latest_air([reading]), below=below)
    facts = replace(facts, touch_dry=points((10.0, 20.0), (20.0, 10.0)))
    found = may_coat_now(facts, track)
    assert found.answer == "not_yet"
    assert outcome(found, "temperature_now") == ("wait", "too_cold")
    assert found.until_at is not None
    assert morning + hours(1) <= found.until_at <= morning + hours(5)
    assert temp_at(track, found.until_at.timestamp()) >= 10.0
    assert temp_at(track, (found.until_at - timedelta(minutes=30)).timestamp()) < 10.0


@pytest.mark.parametrize(
    ("change", "rule", "expected"),
    [
        ({"air": air(rh_pct=None)}, "reading", ("unknown", "no_reading")),
        ({"air": air(surface_c=None)}, "reading", ("unknown", "no_reading")),
        ({"air": air(rh_pct=0.0)}, "reading", ("unknown", "no_reading")),
        ({"air": AirFacts()}, "reading", ("unknown", "no_reading")),
        ({"air": air(measured_at=START_AT - hours(2.1))}, "reading", ("unknown", "stale_reading")),
        ({"air": air(rh_pct=86.0, air_c=14.0)}, "humidity", ("wait", "too_humid")),
        ({"air": air(air_c=9.0)}, "temperature_now", ("wait", "too_cold")),
        ({"air": air(surface_c=31.0)}, "temperature_now", ("wait", "too_hot")),
        ({"below": replace(OPEN, ended=False)}, "window", ("unknown", "coat_not_ended")),
        (
            {"below": replace(OPEN, opens_at=START_AT + hours(2))},
            "window",
            ("wait", "window_not_open"),
        ),
        (
            {"owed": (Owed("x", "wait", START_AT + hours(9)),)},
            "steps_before",
            ("wait", "before_curing"),
        ),
    ],
)
def test_what_only_waiting_or_a_reading_lacks_is_not_yet(change, rule, expected):
    found = ask(**change)
    assert outcome(found, rule) == expected
    assert found.answer == "not_yet"
    assert found.do_first == ()


@pytest.mark.parametrize(
    ("change", "rule", "code"),
    [
        ({"held_reason": "parts"}, "held", "held"),
        ({"owed": (Owed("x", "sand"),)}, "steps_before", "preparation_owed"),
        ({"owed": (Owed("x", "coat"),)}, "steps_before", "step_owed"),
        ({"below": replace(OPEN, closes_at=START_AT)}, "window", "window_missed"),
        ({"over": "polyester"}, "compatibility", "polyester_on_epoxy"),
        ({"below": Below("silicone", "keyed")}, "compatibility", "silicone_below"),
        ({"below": Below("epoxy_paint", "contaminated")}, "compatibility", "contaminated"),
    ],
)
def test_what_must_be_done_first_is_no_whatever_the_air(change, rule, code):
    for measured in (DRY, AirFacts()):
        found = ask(**{"air": measured, **change})
        assert outcome(found, rule) == ("no", code)
        assert (found.answer, found.until_at) == ("no", None)


def test_a_missed_window_says_what_to_do_first_with_its_labour():
    missed = replace(OPEN, closes_at=START_AT - hours(1), sand_minutes_per_m2=6.0)
    found = ask(below=missed, area_m2=10.0)
    assert [(one.kind, one.labour_h) for one in found.do_first] == [
        ("sand", pytest.approx(1.0)),
        ("clean", pytest.approx(1 / 3)),
    ]
    assert [one.title_key for one in found.or_else] == ["mend.tack_coat"]
    sanded = ask(below=replace(missed, state="keyed"))
    assert sanded.answer == "yes"
    assert outcome(sanded, "window") == ("ok", "prepared")
    washed = ask(below=replace(missed, state="washed"))
    assert (washed.answer, [one.kind for one in washed.do_first]) == ("no", ["sand"])


def test_not_yet_ends_when_the_window_opens_and_says_nothing_when_it_closes_before():
    below = replace(OPEN, opens_at=START_AT + hours(2.2))
    found = ask(below=below)
    assert (found.answer, found.until_at) == ("not_yet", START_AT + hours(2.2))
    assert outcome(found, "compatibility")[0] == "ok"
    curve = DailyCurve(4.0, 20.0, 15.0, 0.0)
    morning = START_AT.replace(hour=7)
    cold = AirFacts(8.0, 8.0, 50.0, morning)
    track = track_of([Reading(morning, surface_c=8.0)], curve, morning)
    closing = replace(OPEN, opens_at=None, closes_at=morning + hours(1))
    facts = replace(FACTS, now_at=morning, air=cold, below=closing)
    assert may_coat_now(facts, track).until_at is None


def test_yes_ends_when_the_air_is_expected_to_fail():
    curve = DailyCurve(0.0, 20.0, 13.0, 0.0)
    track = track_of([Reading(START_AT, surface_c=18.0)], curve, START_AT)
    found = ask(track, touch_dry=())
    assert found.answer == "yes"
    assert found.until_at is not None
    assert START_AT + hours(1) < found.until_at < START_AT + hours(12)
    assert temp_at(track, found.until_at.timestamp()) >= 10.0
    assert outcome(found, "dew_drying") == ("not_checked", "touch_dry_not_given")


def test_paint_on_what_nobody_knows_is_told_and_not_judged():
    found = ask(below=None)
    assert outcome(found, "compatibility") == ("not_checked", "material_unknown")
    assert outcome(found, "window") == ("ok", "nothing_below")
    assert (found.answer, found.until_at) == ("yes", None)


def test_antifouling_meets_the_epoxy_tacky_only_until_it_is_dry_by_navfac_mo_124():
    first_h, last_h = outside()["clock.antifoul.tacky"]["expected"]["after_h"]
    laid_at = START_AT - hours(first_h)
    epoxy = Below(
        "epoxy_paint",
        touch_dry_at=laid_at + hours(last_h),
        opens_at=laid_at + hours(first_h),
        closes_at=laid_at + hours(96),
    )
    assert state_of(epoxy, START_AT) == "tacky"
    assert ask(below=epoxy, over="antifouling_soft").answer == "yes"
    late = replace(FACTS, now_at=START_AT + hours(3), below=epoxy, over="antifouling_soft")
    found = may_coat_now(replace(late, air=air(measured_at=late.now_at)), WARM)
    assert found.answer == "no"
    assert [one.title_key for one in found.do_first] == ["mend.tack_coat"]


def test_the_newest_of_each_value_counts_and_the_oldest_of_them_dates_them():
    readings = [
        Reading(START_AT, air_c=15.0, rh_pct=70.0),
        Reading(START_AT + hours(1), air_c=17.0),
        Reading(START_AT + hours(2), surface_c=14.0),
        Reading(START_AT + hours(2), surface_c=13.0),
    ]
    for order in (readings, readings[::-1]):
        assert latest_air(order) == AirFacts(17.0, 13.0, 70.0, START_AT)
    assert latest_air(readings[:2]).measured_at is None


airs = st.builds(
    lambda c, d, rh: AirFacts(c, c + d, rh, START_AT),
    st.floats(-5.0, 45.0),
    st.floats(-6.0, 10.0),
    st.floats(1.0, 100.0),
)


@settings(deadline=None)
@given(airs, st.floats(0.0, 20.0), st.sampled_from(sorted(profiles())))
def test_damper_air_never_turns_an_answer_to_yes(measured, more_pct, name):
    profile = profiles()[name]
    damp = replace(measured, rh_pct=min(100.0, measured.rh_pct + more_pct))
    track = steady_track(measured.surface_c, START_AT)
    facts = replace(FACTS, limits=profile.limits, touch_dry=profile.stages.get("touch_dry", ()))
    dry, wet = (may_coat_now(replace(facts, air=one), track) for one in (measured, damp))
    assert not (wet.answer == "yes" and dry.answer != "yes")


@settings(deadline=None)
@given(st.floats(0.0, 90.0), st.floats(0.0, 60.0), st.floats(-5.0, 30.0))
def test_the_lowest_of_a_span_is_that_of_many_looks(from_h, length_h, low_c):
    curve = DailyCurve(low_c, low_c + 9.0, 14.0, 3600.0)
    track = track_of([Reading(START_AT, surface_c=low_c + 3.0)], curve, START_AT)
    from_s, to_s = START_S + from_h * 3600, START_S + (from_h + length_h) * 3600
    looks = [temp_at(track, from_s + (to_s - from_s) * i / 500) for i in range(501)]
    assert lowest_c(track, from_s, to_s) <= min(looks) + 1e-9
    assert lowest_c(track, from_s, to_s) >= min(looks) - 0.35


def a_day(*temps_c, rh_pct=60.0):
    """Give readings of the air every four hours, the last one now."""
    n = len(temps_c) - 1
    return [
        Reading(START_AT - hours(4 * (n - i)), air_c=temp_c, rh_pct=rh_pct)
        for i, temp_c in enumerate(temps_c)
    ]


STEADY = (18.0, 19.0, 20.0, 21.0, 20.0, 19.0, 18.0)


def test_laminating_wants_a_warm_steady_day_by_the_iranian_classification_society_102_2_4():
    expected = outside()["air.rule.laminate"]["expected"]
    assert expected["hours_before"] == 24
    low_c, swing_k = expected["T_min_C"], expected["swing_K_24h"]
    for temps_c, reasons in (
        ((low_c,) * 7, ()),
        ((low_c,) * 3 + (low_c - 0.1,) + (low_c,) * 3, ("laminating_too_cold",)),
        ((low_c - 0.1,) + (low_c,) * 6, ("laminating_too_cold",)),
        ((low_c,) * 6 + (low_c + swing_k,), ()),
        ((low_c,) * 6 + (low_c + swing_k + 0.1,), ("laminating_swing",)),
    ):
        assert laminating_air(a_day(*temps_c), START_AT).reasons == reasons
    before_the_day = Reading(START_AT - hours(24.1), air_c=5.0, rh_pct=99.0)
    assert laminating_air([before_the_day, *a_day(*STEADY)], START_AT).ok
    most_pct, least_pct = expected["RH_max_pct"], expected["RH_min_pct_spray"]
    for rh_pct, spray, reasons in (
        (most_pct, False, ()),
        (most_pct + 0.1, False, ("laminating_too_humid",)),
        (least_pct, True, ()),
        (least_pct - 0.1, True, ("laminating_too_dry",)),
        (least_pct - 0.1, False, ()),
    ):
        assert laminating_air(a_day(*STEADY, rh_pct=rh_pct), START_AT, spray).reasons == reasons


def test_what_the_sheet_leaves_out_for_laminating_is_advice_with_its_source_and_no_refusal():
    cold = laminating_air(a_day(*STEADY[:3], 12.0, *STEADY[4:], rh_pct=85.0), START_AT)
    bare = replace(LIMITS, temp_min_c=None, rh_max_pct=None)
    found = ask(limits=bare, laminating=cold)
    assert found.answer == "yes"
    assert outcome(found, "laminating_temperature") == ("advice", "laminating_too_cold")
    assert outcome(found, "laminating_swing") == ("advice", "laminating_swing")
    assert outcome(found, "laminating_humidity") == ("advice", "laminating_too_humid")
    told = [one for one in found.rules if one.rule.startswith("laminating")]
    assert {one.source for one in told} == {"Iranian Classification Society, FRP rules, 102.2-4"}
    assert not [one for one in ask(laminating=cold).rules if one.rule.startswith("laminating")]
    own_temp = ask(limits=replace(bare, temp_min_c=10.0), laminating=cold)
    assert [one.rule for one in own_temp.rules if one.rule.startswith("laminating")] == [
        "laminating_humidity"
    ]
    assert not [one for one in ask(limits=bare).rules if one.rule.startswith("laminating")]


def test_a_day_that_readings_do_not_cover_is_not_checked_unless_it_was_seen_to_be_cold():
    bare = replace(LIMITS, temp_min_c=None, rh_max_pct=None)
    some = [a_day(*STEADY)[i] for i in (0, 1, 5, 6)]
    found = ask(limits=bare, laminating=laminating_air(some, START_AT))
    assert outcome(found, "laminating_temperature") == ("not_checked", "laminating_not_covered")
    assert outcome(found, "laminating_swing") == ("not_checked", "laminating_not_covered")
    cold = [replace(some[0], air_c=9.0), *some[1:]]
    found = ask(limits=bare, laminating=laminating_air(cold, START_AT))
    assert outcome(found, "laminating_temperature") == ("advice", "laminating_too_cold")
    none = ask(limits=bare, laminating=laminating_air([], START_AT))
    assert outcome(none, "laminating_humidity") == ("not_checked", "laminating_no_humidity")
    assert none.answer == "yes"
