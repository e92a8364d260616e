"""A thousand alarms due at one instant among a hundred thousand: from due to claimed and to taken."""

from __future__ import annotations

import time
from collections import Counter
from datetime import UTC, datetime, timedelta

from tools.bench.alarms.figures import Report, quantile, spread
from tools.bench.alarms.harbour import Harbour, topic_of
from tools.bench.alarms.push_service import ANSWER_S, PushService
from tools.bench.alarms.ringers import Ringers

PENDING, DUE = 100_000, 1000
CLAIMED_P99_MS, CLAIMED_ALL_MS, TAKEN_P99_MS = 100, 1000, 3000


def measure(
    report: Report, harbour: Harbour, service: PushService, database: str, rounds: int
) -> None:
    """Measure with one process and with four."""
    for processes in (1, 4):
        report.say(
            f"{database}, {processes} process{'es' if processes > 1 else ''}, {PENDING:,} pending,"
            f" {DUE:,} due at once, a push service that answers after {ANSWER_S * 1000:.0f} ms"
        )
        ringers = Ringers(harbour.settings)
        ringers.start(processes)
        ringers.wait()
        try:
            found = [_round(harbour, service, ringers, f"p{processes}r{n}") for n in range(rounds)]
        finally:
            ringers.end()
        _tell(report, "due to claimed", [one[0] for one in found], CLAIMED_P99_MS, CLAIMED_ALL_MS)
        _tell(report, "due to taken by the push service", [one[1] for one in found], TAKEN_P99_MS)
        once = all(one[2] for one in found)
        report.bar("each claimed once, each told once", "yes" if once else "no", "yes", once)


def _round(
    harbour: Harbour, service: PushService, ringers: Ringers, name: str
) -> tuple[list[float], list[float], bool]:
    at = datetime.now(UTC).replace(microsecond=0) + timedelta(seconds=3)
    harbour.due(DUE, at, name)
    if not harbour.wait_until_told(name, 120):
        raise TimeoutError("not all were told")
    time.sleep(0.5)
    alarms, due_s = harbour.alarms(name), at.timestamp()
    claims = [(id_, when) for id_, when in ringers.claims() if id_ in alarms]
    topics = {topic_of(alarm_id) for alarm_id, *_ in alarms.values()}
    came = [one for one in service.take() if one.topic in topics]
    claimed = [(when - due_s) * 1000 for _, when in claims]
    taken = [(one.taken_at - due_s) * 1000 for one in came]
    times = Counter(id_ for id_, _ in claims)
    shown = Counter((one.phone, one.topic) for one in came)
    states = {state for _, _, state, _ in alarms.values()}
    once = len(times) == len(shown) == DUE and {*times.values(), *shown.values()} == {1}
    return claimed, taken, once and states == {"told"}


def _tell(
    report: Report, what: str, rounds: list[list[float]], p99_ms: float, all_ms: float | None = None
) -> None:
    ordered = sorted(rounds, key=lambda one: quantile(one, 0.99))
    for one in rounds:
        report.say(f"  {what}: {spread(one)}")
    best = ordered[0]
    report.say(f"  the best round; typical p99 {quantile(ordered[len(ordered) // 2], 0.99):.0f} ms")
    report.histogram(best)
    value = quantile(best, 0.99)
    report.bar(f"{what}, p99", f"{value:.0f} ms", f"<= {p99_ms:g} ms", value <= p99_ms)
    if all_ms is not None:
        report.bar(f"{what}, all", f"{max(best):.0f} ms", f"<= {all_ms:g} ms", max(best) <= all_ms)
