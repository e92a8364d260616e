"""Handing on by real processes: what one person does not see reaches the next, and it is told who was when."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

from tests.support.handed_on import HandedOn
from tests.support.push_receiver import PushReceiver
from tests.support.server import Server

UNSEEN_S = 3.0


def test_what_the_painter_does_not_see_reaches_the_mate_and_then_the_owner(
    database_url: str, tmp_path: Path, receiver: PushReceiver
) -> None:
    with Server(tmp_path, database_url, TACKWATCH_PUSH_HOSTS="127.0.0.1") as server:
        crew = HandedOn(server.address, receiver.subscribe, UNSEEN_S)
        start_at = datetime.now(UTC) + timedelta(seconds=4)
        (alarm_id,) = crew.plan(1, start_at)
        pushes = receiver.wait_for(3, 60)
        trace = crew.traces()[alarm_id]
    assert [push.name for push in pushes] == ["painter", "mate", "owner"]
    assert {push.payload["alarm_id"] for push in pushes} == {alarm_id}
    assert [name for name, _ in trace] == ["painter", "mate", "owner"]
    limit = timedelta(seconds=UNSEEN_S)
    for place, (_, told_at) in enumerate(trace):
        due_at = start_at + place * limit
        assert told_at >= due_at - timedelta(milliseconds=1), "not before"
        assert pushes[place].at >= told_at, "what is told was told"
