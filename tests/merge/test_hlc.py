"""The hybrid clock never goes back and orders what it has seen."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import ALLOWANCE_MS, MAX_COUNTER, Stamp, after, clamped, parse, tick

DEVICE = "anna00000000"
stamps = st.builds(Stamp, st.integers(0, 2**47), st.integers(0, MAX_COUNTER), st.just(DEVICE))


@given(stamps)
def test_a_stamp_reads_back_from_its_text(stamp: Stamp):
    assert parse(str(stamp)) == stamp


@given(stamps, stamps)
def test_text_order_is_stamp_order(first: Stamp, second: Stamp):
    assert (str(first) < str(second)) == (first < second)


@given(stamps, st.integers(0, 2**47))
def test_a_tick_is_always_later_than_the_last(last: Stamp, now_ms: int):
    assert tick(last, now_ms, DEVICE) > last


def test_a_tick_follows_the_wall_clock_when_it_is_ahead():
    assert tick(Stamp(5, 3, DEVICE), 9, DEVICE) == Stamp(9, 0, DEVICE)


def test_a_full_counter_moves_to_the_next_millisecond():
    assert after(Stamp(5, MAX_COUNTER, DEVICE), DEVICE) == Stamp(6, 0, DEVICE)


@given(stamps, st.none() | stamps, st.integers(0, 2**47))
def test_a_filed_stamp_is_later_than_the_last_and_not_far_ahead(sent, last, now_ms):
    filed = clamped(sent, last, now_ms)
    assert last is None or filed > last
    assert filed.ms <= max(now_ms + ALLOWANCE_MS, last.ms + 1 if last else 0)


@pytest.mark.parametrize(
    "text", ["", "x", None, 5, "0" * 16 + "-short", "G" * 16 + "-anna00000000", "0" * 17]
)
def test_what_is_no_stamp_is_refused(text):
    with pytest.raises(RefusedError):
        parse(text)


def test_causality_holds_for_the_clock_with_the_wrong_wall_time():
    """Kulkarni and others, Logical Physical Clocks (2014), theorem 1: e happened before f implies l.e,c.e < l.f,c.f."""
    fast = tick(None, 10_000_000, "fast00000000")
    slow = tick(fast, 5, "slow00000000")
    back = tick(slow, 6, "fast00000000")
    assert fast < slow < back
