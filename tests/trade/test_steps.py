from datetime import timedelta
from itertools import permutations

import pytest

from tackwatch.trade.steps import (
    STANDINGS,
    LinkFacts,
    Mark,
    StepFacts,
    standing_of,
    step_state,
)
from tests.trade.samples import START_AT as NOW_AT
from tests.trade.samples import hours

DONE_AT = NOW_AT - hours(5)
STARTED = Mark("started", NOW_AT - hours(3))
FINISHED = Mark("finished", NOW_AT - hours(2))
SIGNED_OFF = Mark("signed_off", NOW_AT - hours(1))
REOPENED = Mark("reopened", NOW_AT - timedelta(minutes=30))


def state(**facts):
    return step_state(StepFacts("s1", NOW_AT, **facts))


def codes(answer):
    return [why.code for why in answer.why]


def link(**facts):
    return LinkFacts("s0", **{"state": "finished", "finished_at": DONE_AT, **facts})


def test_a_step_with_nothing_before_it_is_ready():
    assert state().state == "ready"
    assert state().why == ()


@pytest.mark.parametrize(
    ("facts", "expected"),
    [
        ({"marks": (STARTED,)}, "under_way"),
        ({"marks": (STARTED, FINISHED)}, "finished"),
        ({"marks": (FINISHED,)}, "finished"),
        ({"marks": (STARTED, FINISHED, SIGNED_OFF)}, "signed_off"),
        ({"marks": (STARTED, FINISHED, SIGNED_OFF, REOPENED)}, "ready"),
        ({"held_reason": "parts"}, "held"),
        ({"held_reason": "parts", "marks": (STARTED,)}, "held"),
        ({"held_reason": "parts", "has_open_application": True}, "under_way"),
        ({"held_reason": "parts", "marks": (FINISHED,)}, "finished"),
        ({"cures_until_at": NOW_AT + hours(1)}, "curing"),
        ({"cures_until_at": NOW_AT + hours(1), "held_reason": "help"}, "held"),
        ({"cures_until_at": NOW_AT + hours(1), "marks": (STARTED,)}, "curing"),
        ({"cures_until_at": NOW_AT + hours(1), "marks": (FINISHED,)}, "curing"),
        ({"cures_until_at": NOW_AT + hours(1), "marks": (SIGNED_OFF,)}, "signed_off"),
        ({"cures_until_at": NOW_AT + hours(1), "has_open_application": True}, "under_way"),
        ({"cures_until_at": NOW_AT, "marks": (FINISHED,)}, "finished"),
        ({"cures_until_at": NOW_AT, "marks": (STARTED,)}, "under_way"),
        ({"cures_until_at": NOW_AT - hours(1)}, "ready"),
    ],
)
def test_the_first_line_of_the_table_that_holds_gives_the_state(facts, expected):
    assert state(**facts).state == expected


def test_waiting_yields_to_what_is_physically_true():
    before = (link(state="ready", finished_at=None),)
    assert state(before=before).state == "waiting"
    started = state(before=before, marks=(STARTED,))
    assert (started.state, codes(started)) == ("under_way", ["started", "before_not_finished"])
    assert state(before=before, marks=(FINISHED,)).state == "finished"
    assert state(before=before, has_open_application=True).state == "under_way"
    assert state(before=before, held_reason="weather").state == "held"
    assert state(before=before, cures_until_at=NOW_AT + hours(1)).state == "curing"


def test_the_reason_of_a_hold_is_told_and_what_cures_meanwhile():
    answer = state(held_reason="weather", cures_until_at=NOW_AT + hours(1))
    assert codes(answer) == ["held", "curing"]
    assert answer.why[0].params == {"reason": "weather"}


def test_curing_says_until_when():
    answer = state(cures_until_at=NOW_AT + hours(1))
    assert answer.until_at == NOW_AT + hours(1)
    assert answer.why[0].params == {"until_at": "2026-04-10T13:00:00.000Z"}


@pytest.mark.parametrize("before", ["waiting", "ready", "under_way", "held"])
def test_a_step_waits_for_one_that_is_not_finished(before):
    answer = state(before=(link(state=before, finished_at=None),))
    assert (answer.state, answer.until_at) == ("waiting", None)
    assert answer.why[0].params == {"step_id": "s0", "state": before}


@pytest.mark.parametrize("before", ["finished", "signed_off"])
def test_a_step_is_ready_after_one_that_is_done(before):
    assert state(before=(link(state=before),)).state == "ready"


def test_a_curing_step_lets_on_once_it_has_opened():
    opens_at = NOW_AT + hours(2)
    shut = state(before=(link(state="curing", opens_at=opens_at),))
    assert (shut.state, shut.until_at, codes(shut)) == ("waiting", opens_at, ["before_curing"])
    assert state(before=(link(state="curing", opens_at=NOW_AT),)).state == "ready"
    assert state(before=(link(state="curing", opens_at=None),)).state == "waiting"


def test_a_finished_step_still_keeps_its_opening():
    assert state(before=(link(opens_at=NOW_AT + hours(1)),)).state == "waiting"


def test_the_least_gap_counts_from_the_finish():
    waits = state(before=(link(min_gap_s=6 * 3600.0),))
    assert (waits.state, waits.until_at, codes(waits)) == (
        "waiting",
        NOW_AT + hours(1),
        ["min_gap"],
    )
    assert state(before=(link(min_gap_s=5 * 3600.0),)).state == "ready"
    unknown = state(before=(link(min_gap_s=1.0, finished_at=None),))
    assert codes(unknown) == ["before_not_finished"]


def test_the_later_of_gap_and_opening_counts_and_the_last_link_of_all():
    first = link(min_gap_s=6 * 3600.0, opens_at=NOW_AT + hours(3))
    second = LinkFacts("s9", "finished", DONE_AT, min_gap_s=9 * 3600.0)
    answer = state(before=(first, second))
    assert codes(answer) == ["before_curing", "min_gap"]
    assert answer.until_at == NOW_AT + hours(4)
    open_ended = state(before=(first, LinkFacts("s8", "ready")))
    assert (open_ended.state, open_ended.until_at) == ("waiting", None)


def test_a_ready_step_says_when_its_first_window_closes():
    answer = state(
        before=(
            link(closes_at=NOW_AT + hours(4)),
            LinkFacts("s9", "finished", DONE_AT, max_gap_s=7 * 3600.0),
        )
    )
    assert (answer.state, answer.until_at) == ("ready", NOW_AT + hours(2))
    assert codes(answer) == ["window_closes", "window_closes"]


def test_a_missed_window_is_told_and_does_not_hide_the_state():
    missed = state(before=(link(max_gap_s=3600.0, closes_at=NOW_AT + hours(9)),))
    assert (missed.state, codes(missed), missed.until_at) == ("ready", ["window_missed"], None)
    assert codes(state(before=(link(closes_at=NOW_AT),))) == ["window_missed"]
    waiting = state(before=(link(closes_at=NOW_AT), LinkFacts("s9", "ready")))
    assert codes(waiting) == ["before_not_finished", "window_missed"]


def test_marks_count_in_the_order_of_their_instants_not_of_their_arrival():
    marks = (STARTED, FINISHED, SIGNED_OFF, REOPENED)
    for n in range(len(marks) + 1):
        expected = standing_of(marks[:n])
        assert {standing_of(order) for order in permutations(marks[:n])} == {expected}


def test_marks_of_one_instant_count_in_a_fixed_order():
    marks = [Mark(kind, NOW_AT) for kind in ("reopened", "signed_off", "finished", "started")]
    assert standing_of(marks) == "none"
    assert standing_of(marks[1:]) == "signed_off"
    assert standing_of(marks[2:]) == "finished"


def test_a_late_tick_undoes_nothing():
    late = Mark("finished", NOW_AT)
    assert standing_of([STARTED, FINISHED, SIGNED_OFF, late]) == "signed_off"
    assert standing_of([FINISHED, Mark("started", NOW_AT)]) == "finished"


def test_every_standing_answers_every_mark_and_only_reopening_goes_back():
    assert len(STANDINGS) == 16
    rank = ("none", "started", "finished", "signed_off").index
    for (standing, mark), after in STANDINGS.items():
        assert (after == "none") if mark == "reopened" else rank(after) >= rank(standing)
