"""Handing on: what one person does not see reaches the next within a minute of its limit, and it is told who was when.

It goes the whole way: a served refit, steps and a rule entered by a phone's sync, and the process that rings.
"""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from tests.support.handed_on import HandedOn
from tests.support.push_receiver import push_receiver
from tests.support.server import Server
from tools.bench.alarms.figures import Report, spread
from tools.bench.alarms.harbour import Harbour

STEPS, UNSEEN_S, BAR_S = 20, 6.0, 60.0


def measure(report: Report, harbour: Harbour, database: str) -> None:
    """Let 20 alarms go unseen, and measure from each limit to the next phone."""
    folder, url = harbour.settings.data_dir, harbour.settings.database_url
    with (
        push_receiver() as receiver,
        Server(folder, url, TACKWATCH_PUSH_HOSTS="127.0.0.1") as server,
    ):
        crew = HandedOn(server.address, receiver.subscribe, UNSEEN_S)
        due_at = datetime.now(UTC) + timedelta(seconds=5)
        alarm_ids = crew.plan(STEPS, due_at)
        receiver.wait_for(3 * STEPS, 120)
        time.sleep(1)
        traces, pushes = crew.traces(), list(receiver.pushes)
    late_ms: list[float] = []
    whole = 0
    for alarm_id in alarm_ids:
        trace = traces[alarm_id]
        whole += [name for name, _ in trace] == ["painter", "mate", "owner"]
        for place, name in ((1, "mate"), (2, "owner")):
            limit_at = due_at + timedelta(seconds=place * UNSEEN_S)
            came = (p.at for p in pushes if (p.name, p.payload["alarm_id"]) == (name, alarm_id))
            late_ms.append((min(came) - limit_at).total_seconds() * 1000)
    report.say(
        f"{database}, {STEPS} alarms unseen for {UNSEEN_S:g} s go to a mate, and then to the owner"
    )
    report.say(f"  limit to the next phone: {spread(late_ms)}")
    report.histogram(late_ms)
    worst_s = max(late_ms) / 1000
    report.bar(
        "limit to the next phone, latest", f"{worst_s:.1f} s", f"<= {BAR_S:g} s", worst_s <= BAR_S
    )
    report.bar("traces with all three, in order", f"{whole}", f"= {STEPS}", whole == STEPS)
    first = ", ".join(f"{name} {at:%H:%M:%S.%f}" for name, at in traces[alarm_ids[0]])
    report.say(f"  the first one's trace: {first}")
