from dataclasses import replace
from datetime import timedelta

from tackwatch.trade.cure import coat_clock, pot_clock
from tackwatch.trade.temperature import steady_track
from tackwatch.trade.types import Coat, Pot
from tackwatch.trade.warnings import WARNING_KINDS, Leads, iso_of, warnings_of, what_moved
from tests.trade.samples import START_AT, hours, profiles

TRACK = steady_track(20.0, START_AT)


def coat_clocks(name, length_h=2.0, end=True):
    end_at = START_AT + hours(length_h) if end else None
    return coat_clock(Coat("c1", profiles()[name], START_AT, end_at), TRACK, START_AT)


def by_kind(clocks, leads=None):
    return {warning.kind: warning for warning in warnings_of(clocks, leads)}


def stage(clocks, name):
    return next(clock for clock in clocks if clock.stage == name)


def test_a_pot_warns_five_minutes_before_its_fast_edge_and_again_when_it_is_over():
    clocks = pot_clock(
        Pot("p1", profiles()["laminating_epoxy_slow"], START_AT, 20.0), TRACK, START_AT
    )
    found = by_kind(clocks)
    over_at = stage(clocks, "pot_life").fast_at
    assert set(found) == {"pot_life_ending", "pot_life_over", "gel"}
    assert found["gel"].due_at == stage(clocks, "gel").fast_at
    assert found["pot_life_ending"].due_at == over_at - timedelta(minutes=5)
    assert found["pot_life_ending"].useless_after == over_at
    assert found["pot_life_over"].due_at == over_at
    assert found["pot_life_over"].useless_after == over_at + hours(1)


def test_closing_is_warned_before_the_last_start_so_that_the_coat_still_fits():
    clocks = coat_clocks("epoxy_barrier_primer", length_h=3.0)
    found = by_kind(clocks)
    closes = stage(clocks, "recoat_closes")
    assert found["recoat_closing"].due_at == closes.last_start_at - hours(1)
    assert closes.governing_at - closes.last_start_at > hours(2.9)
    assert found["recoat_closing"].useless_after == closes.governing_at
    assert found["recoat_missed"].due_at == closes.governing_at
    assert found["recoat_missed"].useless_after is None


def test_a_next_coat_that_takes_longer_must_start_by_as_much_earlier():
    clocks = coat_clocks("epoxy_barrier_primer", length_h=1.0)
    usual, longer = by_kind(clocks), by_kind(clocks, Leads(next_longer_s=7200.0))
    for kind, name in (("recoat_closing", "due_at"), ("recoat_open", "useless_after")):
        assert getattr(usual[kind], name) - getattr(longer[kind], name) == hours(2)
    assert usual["recoat_missed"] == longer["recoat_missed"] or (
        usual["recoat_missed"].due_at == longer["recoat_missed"].due_at
    )


def test_opening_is_told_on_the_slow_edge_and_helps_until_the_last_start():
    clocks = coat_clocks("epoxy_barrier_primer")
    found = by_kind(clocks)
    assert found["recoat_open"].due_at == stage(clocks, "recoat_opens").slow_at
    assert found["recoat_open"].useless_after == stage(clocks, "recoat_closes").last_start_at
    assert found["sandable"].due_at == stage(clocks, "sandable").slow_at
    assert found["immerse_open"].due_at == stage(clocks, "immerse_opens").slow_at


def test_the_latest_immersion_is_warned_a_week_ahead():
    clocks = coat_clocks("antifouling_self_polishing")
    found = by_kind(clocks)
    latest_at = stage(clocks, "immerse_closes").last_start_at
    assert found["immerse_closing"].due_at == latest_at - timedelta(days=7)
    assert found["immerse_closing"].useless_after == latest_at
    assert found["immerse_open"].useless_after == latest_at


def test_leads_are_a_person_s_own():
    leads = Leads(pot_life_ending_s=600.0, recoat_closing_s=7200.0, immerse_closing_s=86400.0)
    clocks = coat_clocks("epoxy_barrier_primer")
    closes = stage(clocks, "recoat_closes")
    assert by_kind(clocks, leads)["recoat_closing"].due_at == closes.last_start_at - hours(2)
    anti = coat_clocks("antifouling_hard")
    latest_at = stage(anti, "immerse_closes").last_start_at
    assert by_kind(anti, leads)["immerse_closing"].due_at == latest_at - timedelta(days=1)
    pot = pot_clock(Pot("p1", profiles()["sealant"], START_AT, 20.0), TRACK, START_AT)
    over_at = stage(pot, "pot_life").governing_at
    assert by_kind(pot, leads)["pot_life_ending"].due_at == over_at - timedelta(minutes=10)


def test_a_short_window_is_not_warned_of_before_it_opens():
    clocks = coat_clocks("polyester_waxed", length_h=0.0)
    opens, closes = stage(clocks, "recoat_opens"), stage(clocks, "recoat_closes")
    early = Leads(recoat_closing_s=10 * 3600.0)
    assert by_kind(clocks, early)["recoat_closing"].due_at == opens.governing_at
    late_opening = replace(opens, governing_at=closes.last_start_at + hours(1))
    tight = by_kind([late_opening, closes], early)["recoat_closing"]
    assert tight.due_at == closes.last_start_at


def test_a_coat_that_has_not_ended_never_rings_that_it_opened():
    found = by_kind(coat_clocks("epoxy_barrier_primer", end=False))
    assert set(found) == {"recoat_closing", "recoat_missed"}


def test_what_is_past_the_horizon_gives_no_warning():
    clocks = [
        replace(clock, at=None, fast_at=None, slow_at=None, governing_at=None, last_start_at=None)
        for name in ("epoxy_barrier_primer", "antifouling_hard")
        for clock in coat_clocks(name)
    ]
    assert warnings_of(clocks) == ()


def test_ids_are_made_of_the_source_and_the_kind_and_stay_when_the_clock_moves():
    cool, warm = (
        warnings_of(
            coat_clock(
                Coat("c1", profiles()["antifouling_hard"], START_AT, START_AT),
                steady_track(temp_c, START_AT),
                START_AT,
            )
        )
        for temp_c in (15.0, 22.0)
    )
    assert [w.id for w in cool] == [w.id for w in warm]
    assert {w.id for w in cool} == {"c1.recoat_open", "c1.immerse_open", "c1.immerse_closing"}
    moved = {m.id: m for m in what_moved(cool, warm)}
    opening = next(w for w in warm if w.kind == "recoat_open")
    assert moved["c1.recoat_open"].to_at == opening.due_at
    assert moved["c1.recoat_open"].from_at > opening.due_at
    assert "c1.immerse_closing" not in moved  # its limit does not depend on temperature


def test_only_more_than_a_minute_counts_as_moved():
    before = warnings_of(coat_clocks("antifouling_hard"))
    minute = [replace(w, due_at=w.due_at + timedelta(seconds=60)) for w in before]
    more = [replace(w, due_at=w.due_at - timedelta(seconds=61)) for w in before]
    assert what_moved(before, minute) == ()
    assert [m.id for m in what_moved(before, more)] == [w.id for w in before]
    assert what_moved((), more) == what_moved(before, ()) == ()


def test_params_say_what_a_sentence_needs():
    clocks = coat_clocks("epoxy_barrier_primer")
    closes = stage(clocks, "recoat_closes")
    params = by_kind(clocks)["recoat_closing"].params
    assert params["closes_at"] == iso_of(closes.governing_at)
    assert params["last_start_at"] == iso_of(closes.last_start_at)
    assert params["opens_at"] == iso_of(stage(clocks, "recoat_opens").governing_at)
    assert (params["stage"], params["basis"], params["stale"]) == (
        "recoat_closes",
        "data_sheet",
        False,
    )
    assert iso_of(START_AT) == "2026-04-10T12:00:00.000Z"


def test_the_clocks_of_two_coats_do_not_mix():
    one = coat_clocks("epoxy_barrier_primer")
    other = [replace(clock, source_id="c2") for clock in coat_clocks("antifouling_hard")]
    found = warnings_of([*one, *other])
    assert [w.id for w in found] == [w.id for w in (*warnings_of(one), *warnings_of(other))]
    assert all(w.kind in WARNING_KINDS for w in found)
