"""Working hours in slots, through changed clocks, leap days and days off."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

from tackwatch.plan.build.grid import DAY_SLOTS, SlotClock, clock_from
from tackwatch.plan.build.hours import open_spans
from tackwatch.plan.facts import WEEKDAYS, DaysOff, Member
from tackwatch.plan.model import Span

LISBON = ZoneInfo("Europe/Lisbon")
DAILY = Member("ana", work_days=WEEKDAYS)
NIGHTLY = Member("ben", time(22), time(6), WEEKDAYS)


def spans(
    member: Member, from_at: datetime, zone: ZoneInfo, days: int, *closed: DaysOff
) -> tuple[SlotClock, tuple[Span, ...]]:
    clock = clock_from(from_at)
    return clock, open_spans(member, closed, zone, clock, days * DAY_SLOTS)


def test_a_day_is_as_long_as_ever_when_the_clock_was_changed_at_night() -> None:
    for from_at in (datetime(2026, 3, 27, tzinfo=UTC), datetime(2026, 10, 23, tzinfo=UTC)):
        clock, open_ = spans(DAILY, from_at, LISBON, 4)
        assert [end - begin for begin, end in open_] == [36] * 4
        hours = [clock.at(begin).astimezone(LISBON).time() for begin, _ in open_]
        assert hours == [time(8)] * 4
        assert len({clock.at(begin).hour for begin, _ in open_}) == 2


def test_a_night_shift_is_an_hour_shorter_in_spring_and_longer_in_autumn() -> None:
    _, spring = spans(NIGHTLY, datetime(2026, 3, 27, 12, tzinfo=UTC), LISBON, 3)
    _, autumn = spans(NIGHTLY, datetime(2026, 10, 23, 12, tzinfo=UTC), LISBON, 3)
    assert [end - begin for begin, end in spring] == [32, 28, 32]
    assert [end - begin for begin, end in autumn] == [32, 36, 32]


def test_a_clock_that_is_changed_by_half_an_hour_moves_the_day_by_two_slots() -> None:
    island = ZoneInfo("Australia/Lord_Howe")
    _, open_ = spans(DAILY, datetime(2026, 4, 3, 13, tzinfo=UTC), island, 2)
    assert [end - begin for begin, end in open_] == [36, 36]
    assert open_[1][0] - open_[0][0] == DAY_SLOTS + 2
    _, night = spans(NIGHTLY, datetime(2026, 4, 4, 2, tzinfo=UTC), island, 1)
    assert [end - begin for begin, end in night] == [34]


def test_an_hour_that_is_not_on_the_clock_begins_when_the_clock_goes_on() -> None:
    early = Member("eva", time(1, 30), time(9), WEEKDAYS)
    clock, open_ = spans(early, datetime(2026, 3, 28, 12, tzinfo=UTC), LISBON, 1)
    assert clock.at(open_[0][0]) == datetime(2026, 3, 29, 1, 30, tzinfo=UTC)
    assert clock.at(open_[0][1]) == datetime(2026, 3, 29, 8, tzinfo=UTC)


def test_the_leap_day_is_a_day_like_others() -> None:
    clock, open_ = spans(DAILY, datetime(2028, 2, 28, tzinfo=UTC), ZoneInfo("UTC"), 3)
    assert [clock.at(begin).date() for begin, _ in open_] == [
        date(2028, 2, 28),
        date(2028, 2, 29),
        date(2028, 3, 1),
    ]


def test_a_zone_a_quarter_of_an_hour_off_still_begins_on_a_slot() -> None:
    kathmandu = ZoneInfo("Asia/Kathmandu")
    clock, open_ = spans(DAILY, datetime(2026, 6, 1, tzinfo=UTC), kathmandu, 2)
    assert {clock.at(begin).astimezone(kathmandu).time() for begin, _ in open_[1:]} == {time(8)}


def test_hours_off_the_quarters_are_cut_to_whole_slots_inside_them() -> None:
    odd = Member("odd", time(8, 5), time(16, 58), WEEKDAYS)
    clock, open_ = spans(odd, datetime(2026, 6, 1, tzinfo=UTC), ZoneInfo("UTC"), 1)
    assert [clock.at(slot).time() for slot in open_[0]] == [time(8, 15), time(16, 45)]


def test_weekdays_days_off_and_a_closed_yard_are_days_without_work() -> None:
    week = Member("mia", away=(DaysOff(date(2026, 6, 2), date(2026, 6, 3)),))
    closed = DaysOff(date(2026, 6, 9), date(2026, 6, 9))
    clock, open_ = spans(week, datetime(2026, 6, 1, tzinfo=UTC), ZoneInfo("UTC"), 14, closed)
    days = [clock.at(begin).day for begin, _ in open_]
    assert days == [1, 4, 5, 8, 10, 11, 12]  # the first is a Monday; Sundays are the yard's


def test_what_is_left_of_today_begins_now() -> None:
    clock, open_ = spans(DAILY, datetime(2026, 6, 1, 10, 7, 20, tzinfo=UTC), ZoneInfo("UTC"), 1)
    assert clock.at(0) == datetime(2026, 6, 1, 10, 15, tzinfo=UTC)
    assert open_[0] == (0, 27)


def test_who_works_around_the_clock_has_one_span() -> None:
    always = Member("gus", time(0), time(0), WEEKDAYS)
    _, open_ = spans(always, datetime(2026, 6, 1, 3, tzinfo=UTC), LISBON, 30)
    assert open_ == ((0, 30 * DAY_SLOTS),)
