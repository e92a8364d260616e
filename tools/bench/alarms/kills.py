"""Alarm processes killed with SIGKILL at random while alarms fall due all the time: nothing lost, nothing shown twice.

A phone shows an alarm once, by its id: it is counted here as the phone does, after opening each message. The lease is
short, so that the whole ends in minutes.
"""

from __future__ import annotations

import json
import random
import time
from collections import Counter
from datetime import UTC, datetime, timedelta

from tools.bench.alarms.figures import Report, spread
from tools.bench.alarms.harbour import Harbour
from tools.bench.alarms.push_service import Came, PushService
from tools.bench.alarms.ringers import Ringers

from tackwatch.alarms.deliver.push import Waits

PROCESSES = 6
LEASE_S, WAITS = 10.0, Waits(connect_s=0.5, answer_s=1.5)
EVERY_S = 0.2  # an alarm falls due so often, which makes some for each kill
SEED = 3
Claims = list[tuple[int, float]]  # id of the alarm, and when it was claimed


def measure(
    report: Report, harbour: Harbour, service: PushService, database: str, kills: int
) -> None:
    """Kill, and count what the phones show."""
    chance = random.Random(SEED)
    ringers = Ringers(harbour.settings, timedelta(seconds=LEASE_S), WAITS)
    began_s, name, made = time.monotonic(), "killed", 0
    try:
        ringers.start(PROCESSES)
        ringers.wait()
        for _ in range(kills):
            time.sleep(chance.uniform(0.0, 0.3))
            made += _fall_due(harbour, name, made, began_s)
            while not (ready := ringers.ready()):
                time.sleep(0.02)
            ringers.kill(chance.choice(ready))
            ringers.start()
        all_told = harbour.wait_until_told(name, 120)
        claims = ringers.claims()
    finally:
        ringers.end()
    took_s = time.monotonic() - began_s
    report.say(
        f"{database}, {kills} kills of {PROCESSES} processes in {took_s:.0f} s, {made} alarms,"
        f" lease {LEASE_S:g} s, {len(claims)} claims"
    )
    _judge(report, harbour, service.take(), claims, name, all_told)


def _fall_due(harbour: Harbour, name: str, made: int, began_s: float) -> int:
    """Let as many fall due within the next second as the time that went by asks for."""
    count = int((time.monotonic() - began_s) / EVERY_S) - made
    now = datetime.now(UTC)
    harbour.due(count, now, name, apart=timedelta(seconds=1) / max(count, 1), start=made)
    return count


def _judge(
    report: Report, harbour: Harbour, came: list[Came], claims: Claims, name: str, all_told: bool
) -> None:
    alarms = harbour.alarms(name)
    by_id = {alarm_id: (due_at, phone) for alarm_id, due_at, _, phone in alarms.values()}
    shown: dict[tuple[str, str], float] = {}
    topics: dict[tuple[str, str], set[str]] = {}
    for one in came:
        key = (one.phone, str(json.loads(harbour.opened(one))["alarm_id"]))
        topics.setdefault(key, set()).add(one.topic)
        if one.taken_at:
            shown[key] = min(shown.get(key, one.taken_at), one.taken_at)
    wanted = {(phone, alarm_id) for alarm_id, (_, phone) in by_id.items()}
    report.say(f"  {len(came) - len(topics)} messages came again, and took the first one's place")
    lost = len(wanted - set(shown))
    report.bar("alarms lost", str(lost), "0", lost == 0 and all_told)
    odd = sum(len(found) > 1 for found in topics.values()) + len(set(shown) - wanted)
    report.bar("shown twice, or on a wrong phone", str(odd), "0", odd == 0)
    late_s = {alarm_id: at - by_id[alarm_id][0].timestamp() for (_, alarm_id), at in shown.items()}
    late_ms = [1000 * one for one in late_s.values()]
    claimed = Counter(id_ for id_, _ in claims)
    again = sum(count > 1 for id_, count in claimed.items() if id_ in alarms)
    report.say(f"  due to shown: {spread(late_ms)}; {again} alarms were claimed more than once")
    report.histogram(late_ms)
    latest_s, bar_s = max(late_s.values()), LEASE_S + 5.0
    report.bar("latest, due to shown", f"{latest_s:.1f} s", f"<= {bar_s:g} s", latest_s <= bar_s)
