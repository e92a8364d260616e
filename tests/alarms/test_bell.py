"""The bell, from a due row to a phone: real database, real HTTP, a clock that tests move."""

from __future__ import annotations

import threading
from dataclasses import replace
from datetime import timedelta

import pytest

from tackwatch.alarms.bell import Bell
from tackwatch.alarms.deliver.push import Waits
from tackwatch.store.models import Alarm
from tackwatch.trade.warnings import iso_of
from tests.alarms.yard import Yard, minutes, wanted
from tests.support.push_receiver import Answer, PushReceiver
from tests.support.world import StandingClock


class Shore:
    """One refit, one member with phones, one due alarm, and the bell."""

    def __init__(self, yard: Yard, bell: Bell, receiver: PushReceiver, hand: StandingClock) -> None:
        self.yard, self.bell, self.receiver, self.hand = yard, bell, receiver, hand
        self.member = yard.member(language="en", devices=0)

    def phone(self, name: str, *answers: Answer, member: str = "") -> str:
        push = self.receiver.subscribe(name, answers or (Answer(),))
        return self.yard.device(member or self.member, push)

    def want(self, due_in: timedelta = timedelta(0), **rest: object) -> None:
        one = wanted(self.member, self.hand.at + due_in, **rest)  # type: ignore[arg-type]
        self.yard.keep(one, now=self.hand.at)

    def ring(self) -> Alarm:
        """Let the bell look once, and wait until it has delivered."""
        self.bell.look()
        self.bell._room.wait_until_all_free()
        return self.yard.one()

    def result(self, device: str) -> str:
        return str(self.yard.one().outcome["channels"][device]["result"])


@pytest.fixture
def shore(yard: Yard, bell: Bell, receiver: PushReceiver, hand: StandingClock) -> Shore:
    return Shore(yard, bell, receiver, hand)


def test_a_due_alarm_reaches_the_phone_and_is_told(shore: Shore) -> None:
    device = shore.phone("a")
    shore.want()
    alarm = shore.ring()
    (push,) = shore.receiver.wait_for(1)
    assert push.payload["alarm_id"] == "coat.recoat_closing"
    assert push.payload["kind"] == "recoat_closing"
    assert push.payload["due_at"] == iso_of(shore.hand.at)
    assert push.payload["lang"] == "en"
    assert push.payload["url"] == "/#/now"
    assert "Epoxy primer, generic, Port hull" in push.payload["body"]
    assert push.headers["Urgency"] == "high"
    assert int(push.headers["TTL"]) == 3600, "until it is of no use any more"
    assert (alarm.state, alarm.told_at, shore.result(device)) == (
        "told",
        shore.hand.at,
        "accepted",
    )


def test_nothing_is_told_before_it_is_due(shore: Shore) -> None:
    shore.phone("a")
    shore.want(due_in=timedelta(seconds=1))
    assert shore.ring().state == "due"
    assert shore.receiver.pushes == []


def test_told_is_not_told_again(shore: Shore) -> None:
    shore.phone("a")
    shore.want()
    shore.ring()
    shore.hand.forward(minutes=30)
    shore.ring()
    assert len(shore.receiver.pushes) == 1


def test_what_only_opens_does_not_wake_a_sleeping_phone(shore: Shore) -> None:
    shore.phone("a")
    shore.want(kind="recoat_open")
    shore.ring()
    assert shore.receiver.wait_for(1)[0].headers["Urgency"] == "normal"


def test_words_are_in_the_members_language_and_the_refits_zone(
    shore: Shore, hand: StandingClock
) -> None:
    shore.member = shore.yard.member(language="es-MX", devices=0)
    shore.phone("a")
    shore.want()
    shore.ring()
    (push,) = shore.receiver.wait_for(1)
    assert push.payload["lang"] == "es"
    assert push.payload["title"].startswith("Da la mano siguiente")


def test_every_phone_of_the_person_is_told_and_nobody_elses(shore: Shore) -> None:
    other = shore.yard.member(devices=0)
    shore.phone("a")
    shore.phone("b")
    shore.phone("c", member=other)
    shore.want()
    shore.ring()
    assert sorted(push.name for push in shore.receiver.pushes) == ["a", "b"]


def test_without_a_phone_that_takes_pushes_the_open_pages_tell(shore: Shore) -> None:
    shore.yard.device(shore.member)
    shore.want()
    alarm = shore.ring()
    assert (alarm.state, alarm.told_at) == ("told", shore.hand.at)
    assert shore.result("stream") == "shown"


def test_who_has_left_is_not_told(shore: Shore) -> None:
    shore.member = shore.yard.member(gone=True, devices=0)
    shore.phone("a")
    shore.want()
    alarm = shore.ring()
    assert (alarm.state, alarm.told_at) == ("missed", None)
    assert shore.receiver.pushes == []


def test_a_revoked_device_is_not_told(shore: Shore) -> None:
    lost, kept = shore.phone("lost"), shore.phone("kept")
    shore.yard.revoke(lost)
    shore.want()
    shore.ring()
    assert [push.name for push in shore.receiver.wait_for(1)] == ["kept"]
    shore.yard.revoke(kept)
    shore.want(due_in=minutes(10))
    shore.hand.forward(minutes=10)
    assert shore.ring().state == "missed"
    assert len(shore.receiver.pushes) == 1


@pytest.mark.parametrize("status", [404, 410])
def test_a_subscription_that_is_gone_is_dropped_and_the_pages_remain(
    shore: Shore, status: int
) -> None:
    device = shore.phone("a", Answer(status))
    shore.want()
    alarm = shore.ring()
    assert (alarm.state, shore.result(device)) == ("told", "dropped")
    assert shore.yard.subscriptions() == []


@pytest.mark.parametrize("status", [400, 403])
def test_what_is_ours_to_put_right_keeps_the_subscription(shore: Shore, status: int) -> None:
    device = shore.phone("a", Answer(status))
    shore.want()
    alarm = shore.ring()
    assert (alarm.state, shore.result(device)) == ("told", "refused")
    assert shore.yard.subscriptions() == [device]


def test_too_large_reaches_the_phone_with_its_id_alone(shore: Shore) -> None:
    shore.phone("a", Answer(413), Answer(201))
    shore.want()
    assert shore.ring().state == "told"
    assert shore.receiver.pushes[1].payload == {"alarm_id": "coat.recoat_closing"}


@pytest.mark.parametrize("status", [429, 503])
def test_a_busy_service_is_tried_again_when_it_said_and_not_before(
    shore: Shore, status: int
) -> None:
    device = shore.phone("a", Answer(status, {"Retry-After": "90"}), Answer(201))
    shore.want()
    assert shore.ring().state == "claimed"
    assert shore.bell.next_look_in() == timedelta(seconds=90)
    shore.hand.forward(seconds=89)
    shore.ring()
    assert len(shore.receiver.pushes) == 1
    shore.hand.forward(seconds=1)
    assert shore.ring().state == "told"
    assert shore.result(device) == "accepted"
    assert len(shore.receiver.pushes) == 2


def test_while_one_phone_waits_the_others_are_tried_and_none_twice(shore: Shore) -> None:
    shore.phone("good")
    shore.phone("busy", Answer(429, {"Retry-After": "600"}), Answer(201))
    shore.phone("shaky", Answer(500), Answer(201))
    shore.want()
    shore.ring()
    shore.hand.forward(seconds=10)
    assert shore.ring().state == "claimed"
    assert sorted(push.name for push in shore.receiver.pushes) == [
        "busy",
        "good",
        "shaky",
        "shaky",
    ]
    shore.hand.forward(seconds=600)
    assert shore.ring().state == "told"
    assert sorted(push.name for push in shore.receiver.pushes).count("good") == 1


def test_a_service_that_cannot_be_reached_is_tried_until_it_is_of_no_use_then_missed(
    shore: Shore,
) -> None:
    shore.phone("a", Answer(503))
    shore.want(useless_after=shore.hand.at + minutes(3))
    tries = 0
    while shore.ring().state == "claimed":
        tries += 1
        pause = shore.bell.next_look_in()
        assert pause is not None
        shore.hand.at += max(pause, timedelta(milliseconds=1))
    assert shore.yard.one().state == "missed"
    assert 4 <= tries <= 10, "pauses grow, and end with the alarm's use"
    assert shore.hand.at - (shore.yard.one().useless_after) < timedelta(seconds=1)


def test_a_phone_that_was_reached_counts_even_when_another_never_was(shore: Shore) -> None:
    shore.phone("good")
    shore.phone("dead", Answer(503))
    shore.want(useless_after=shore.hand.at + minutes(1))
    shore.ring()
    shore.hand.forward(minutes=2)
    assert shore.ring().state == "told"


def test_what_came_due_while_no_bell_ran_is_missed_once_it_is_of_no_use(shore: Shore) -> None:
    shore.phone("a")
    shore.want(useless_after=shore.hand.at + minutes(5))
    shore.hand.forward(minutes=6)
    alarm = shore.ring()
    assert (alarm.state, alarm.told_at) == ("missed", None)
    (push,) = shore.receiver.wait_for(1)
    assert push.payload["kind"] == "missed_alarms", "and its person is told that it was"


def test_what_came_due_while_no_bell_ran_is_told_while_it_is_of_use(shore: Shore) -> None:
    shore.phone("a")
    shore.want(useless_after=shore.hand.at + minutes(60))
    shore.hand.forward(minutes=45)
    assert shore.ring().state == "told"
    assert int(shore.receiver.wait_for(1)[0].headers["TTL"]) == 15 * 60


def test_a_service_that_stalls_delays_nobody_else(shore: Shore) -> None:
    stall = threading.Event()
    slow = shore.yard.member(devices=0)
    shore.phone("slow", Answer(201, stall=stall), member=slow)
    shore.phone("quick")
    shore.yard.keep(
        wanted(slow, shore.hand.at - minutes(1)), wanted(shore.member, shore.hand.at),
        now=shore.hand.at,
    )  # fmt: skip
    shore.bell.look()
    assert {push.name for push in shore.receiver.wait_for(2, 5)} == {"slow", "quick"}
    stall.set()
    shore.bell._room.wait_until_all_free()


def test_open_pages_are_shown_it_before_the_push_is_answered(shore: Shore) -> None:
    stall = threading.Event()
    shore.phone("slow", Answer(201, stall=stall))
    shore.want()
    shore.bell.look()
    shore.receiver.wait_for(1)
    alarm = shore.yard.one()
    assert (alarm.state, alarm.told_at) == ("claimed", shore.hand.at)
    stall.set()
    shore.bell._room.wait_until_all_free()


def test_moved_later_while_it_was_being_delivered_rings_again_at_its_new_instant(
    shore: Shore,
) -> None:
    stall = threading.Event()
    shore.phone("a", Answer(201, stall=stall), Answer(201))
    shore.want()
    shore.bell.look()
    shore.receiver.wait_for(1)
    shore.want(due_in=minutes(20))
    stall.set()
    shore.bell._room.wait_until_all_free()
    assert shore.yard.one().state == "due"
    shore.hand.forward(minutes=20)
    assert shore.ring().state == "told"
    assert len(shore.receiver.pushes) == 2
    assert len(shore.receiver.shown()["a"]) == 1, "one notification on the phone"


def test_told_and_moved_later_is_pushed_again_at_its_new_instant(shore: Shore) -> None:
    shore.phone("a")
    shore.want()
    shore.ring()
    shore.want(due_in=minutes(20))
    shore.hand.forward(minutes=20)
    assert shore.ring().state == "told"
    assert shore.yard.one().told_at == shore.hand.at
    assert len(shore.receiver.pushes) == 2
    assert len(shore.receiver.shown()["a"]) == 1, "one notification on the phone"


def test_one_alarm_that_cannot_be_put_in_words_does_not_silence_the_rest(shore: Shore) -> None:
    shore.phone("a")
    shore.yard.keep(
        wanted(shore.member, shore.hand.at, alarm="odd", kind="no_such_kind"),
        wanted(shore.member, shore.hand.at, alarm="good"),
        now=shore.hand.at,
    )
    shore.bell.look()
    shore.bell._room.wait_until_all_free()
    assert shore.yard.states() == {"odd.no_such_kind": "claimed", "good.recoat_closing": "told"}


def test_fifty_alarms_at_once_are_each_told_once(shore: Shore) -> None:
    push = replace(shore.bell._senders.push, waits=Waits())  # a busy machine is no failed push
    shore.bell._senders = replace(shore.bell._senders, push=push)
    shore.phone("a")
    shore.yard.keep(
        *[wanted(shore.member, shore.hand.at, alarm=f"coat{one}") for one in range(50)],
        now=shore.hand.at,
    )
    shore.bell.look()
    shore.bell._room.wait_until_all_free()
    assert set(shore.yard.states().values()) == {"told"}
    assert len(shore.receiver.pushes) == len(shore.receiver.shown()["a"]) == 50
