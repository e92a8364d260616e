"""Several phones work apart, with wrong clocks and a bad line, and lose nothing.

A state machine draws what each phone does and when it reaches the server. When all is quiet again it checks that every
phone holds what the server holds, that every record entered exists exactly once or has a verdict that the phone kept,
and that every field value that was overwritten can be found: replaced knowingly, or kept as a difference.
"""

from __future__ import annotations

from collections import Counter
from typing import Any

from flask import Flask
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, rule, run_state_machine_as_test

from tests.support.crew import Crew, UnluckyPhone
from tests.support.world import StandingClock

OFFSETS_MS = (0, -3_600_000, 3_600_000, -31_536_000_000, 31_536_000_000)
FAULTS = ("", "", "request_lost", "answer_lost", "sent_twice")
PHONES = 3
AGREED = "the same words"

numbers = st.integers(0, 10_000)


class ManyPhones(RuleBasedStateMachine):
    """What may happen among three phones and one server."""

    app: Flask
    clock: StandingClock

    @initialize(offsets=st.lists(st.sampled_from(OFFSETS_MS), min_size=PHONES, max_size=PHONES))
    def begin(self, offsets: list[int]) -> None:
        self.crew = Crew.begin(self.app, self.clock, hands=PHONES - 1)
        self.phones: list[UnluckyPhone] = self.crew.phones
        self.made = 0
        self.writes: list[tuple[UnluckyPhone, int, str, str, str, str]] = []
        for title in "AB":
            self.create_a_job(0, title)
        self.create_a_step(0, 0)
        for phone, offset in zip(self.phones, offsets, strict=True):
            phone.clock_off_ms = offset
            phone.attempt()

    def _id(self, what: str) -> str:
        self.made += 1
        return f"{what}-{self.made}-{self.crew.refit_id[:6]}"

    def _pick(self, phone: UnluckyPhone, kind: str, number: int) -> Any:
        rows = [row for row in phone.view().items.values() if row.kind == kind and not row.gone]
        return sorted(rows, key=lambda row: row.id)[number % len(rows)] if rows else None

    @rule(who=st.integers(0, PHONES - 1), title=st.sampled_from("ABC"))
    def create_a_job(self, who: int, title: str) -> None:
        action = {"do": "create", "kind": "job", "id": self._id("job"), "fields": {"title": title}}
        self.phones[who].do(action)

    @rule(who=st.integers(0, PHONES - 1), which=numbers)
    def create_a_step(self, who: int, which: int) -> None:
        job = self._pick(self.phones[who], "job", which)
        if job:
            fields = {"job_id": job.id, "kind": "coat"}
            action = {"do": "create", "kind": "step", "id": self._id("step"), "fields": fields}
            self.phones[who].do(action)

    @rule(
        who=st.integers(0, PHONES - 1),
        which=numbers,
        name=st.sampled_from(("title", "text")),
        agreed=st.sampled_from((False, False, False, True)),
    )
    def edit_a_job(self, who: int, which: int, name: str, agreed: bool) -> None:
        phone = self.phones[who]
        job = self._pick(phone, "job", which)
        if job:
            value = AGREED if agreed else self._id("value")
            fields, seen = {name: value}, {name: job.stamp(name)}
            phone.do({"do": "set", "kind": "job", "id": job.id, "fields": fields, "seen": seen})
            self.writes.append((phone, phone.next_n - 1, job.id, name, value, job.fields.get(name)))

    @rule(who=st.integers(0, PHONES - 1), which=numbers)
    def drop_a_job(self, who: int, which: int) -> None:
        """The owner may; a hand's is refused and kept."""
        phone = self.phones[who]
        job = self._pick(phone, "job", which)
        if job:
            action = {
                "do": "set",
                "kind": "job",
                "id": job.id,
                "fields": {"gone": True},
                "seen": dict(job.stamps),
            }
            phone.do(action)

    @rule(
        who=st.integers(0, PHONES - 1),
        which=numbers,
        member=st.integers(0, PHONES - 1),
        put=st.booleans(),
    )
    def hand_over(self, who: int, which: int, member: int, put: bool) -> None:
        phone = self.phones[who]
        step = self._pick(phone, "step", which)
        if step:
            member_id = self.phones[member].member_id
            action = {"kind": "step", "id": step.id, "set": "assignees", "member": member_id}
            tags = list(step.sets.get("assignees", {}).get(member_id, ()))
            phone.do(
                {**action, "do": "put_in"} if put else {**action, "do": "take_out", "tags": tags},
            )

    @rule(
        who=st.integers(0, PHONES - 1),
        air_c=st.integers(5, 30),
        which=numbers,
        correct=st.booleans(),
    )
    def take_a_reading(self, who: int, air_c: int, which: int, correct: bool) -> None:
        phone = self.phones[who]
        known = sorted(row.id for row in phone.view().records.values() if row.kind == "reading")
        body = {"taken_at": "2026-03-02T08:00:00Z", "air_c": air_c}
        replaces = known[which % len(known)] if known and correct else None
        phone.do(
            {
                "do": "record",
                "kind": "reading",
                "id": self._id("reading"),
                "body": body,
                "replaces": replaces,
            },
        )

    @rule(who=st.integers(0, PHONES - 1))
    def do_something_impossible(self, who: int) -> None:
        """One poisoned operation among the good ones is refused alone."""
        action = {"do": "set", "kind": "job", "id": "no-such-job", "fields": {"title": "\x00"}}
        self.phones[who].do(action)

    @rule(who=st.integers(0, PHONES - 1), back_ms=st.integers(1, 7_200_000))
    def step_a_clock_back(self, who: int, back_ms: int) -> None:
        self.phones[who].clock_off_ms -= back_ms

    @rule(seconds=st.integers(1, 7_200))
    def let_time_pass(self, seconds: int) -> None:
        self.crew.clock.forward(seconds=seconds)

    @rule(
        who=st.integers(0, PHONES - 1),
        fault=st.sampled_from(FAULTS),
        most=st.sampled_from((1, 3, 2_000)),
    )
    def reach_the_server(self, who: int, fault: str, most: int) -> None:
        self.phones[who].attempt(fault, most)

    def teardown(self) -> None:
        if not hasattr(self, "crew"):
            return
        for _ in range(2):
            for phone in self.phones:
                phone.attempt()
        assert not any(phone.outbox for phone in self.phones)
        self._check_all_are_alike()
        self._check_every_operation_has_a_fate()
        self._check_every_record_exists_once()
        self._check_every_overwritten_value_can_be_found()

    def _check_all_are_alike(self) -> None:
        truth = self.crew.truth()
        for phone in self.phones:
            assert dict(phone.state.items) == truth.items
            assert dict(phone.state.records) == truth.records
            assert dict(phone.state.differences) == truth.differences

    def _check_every_operation_has_a_fate(self) -> None:
        log = self.crew.log()
        for phone in self.phones:
            filed = {one["n"]: one for one in log if one["device_id"] == phone.device_id}
            assert list(filed) == [one["n"] for one in phone.everything]
            for n, one in filed.items():
                assert (one["refusal"] is not None) == (n in phone.refused)

    def _check_every_record_exists_once(self) -> None:
        truth = self.crew.truth()
        entered = Counter(
            action["id"]
            for phone in self.phones
            for operation in phone.everything
            for action in operation["actions"]
            if action["do"] == "record" and operation["n"] not in phone.refused
        )
        assert set(entered) == set(truth.records)
        assert set(entered.values()) <= {1}

    def _check_every_overwritten_value_can_be_found(self) -> None:
        """Each value that was entered stands, or was seen by who replaced it, or is kept as a difference."""
        truth = self.crew.truth()
        filed = [write for write in self.writes if write[1] not in write[0].refused]
        seen = {(item_id, name, before) for _, _, item_id, name, _, before in filed}
        kept = {(one.item_id, one.field, one.lost.value) for one in truth.differences.values()}
        for _, _, item_id, name, value, _ in filed:
            stands = truth.items[item_id].fields[name] == value
            assert stands or (item_id, name, value) in seen | kept or value == AGREED


def test_phones_that_work_apart_converge_and_lose_nothing(app: Flask, clock: StandingClock) -> None:
    machine = type("ManyPhones", (ManyPhones,), {"app": app, "clock": clock})
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=60,
            stateful_step_count=40,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        ),
    )
