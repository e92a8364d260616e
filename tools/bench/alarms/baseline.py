"""What a job for each alarm comes to: APScheduler with its default settings, as many pending and as many due."""

from __future__ import annotations

import logging
import time
from datetime import UTC, datetime, timedelta

from apscheduler.events import EVENT_JOB_MISSED
from apscheduler.schedulers.background import BackgroundScheduler
from tools.bench.alarms.figures import Report, spread
from tools.bench.alarms.push_service import ANSWER_S


def measure(report: Report, pending: int, due: int) -> None:
    """Run it with jobs that only look at the clock, and with jobs that wait for a push service."""
    logging.getLogger("apscheduler").setLevel(logging.ERROR)  # it names each job that it drops
    for what, answer_s in (("look at the clock", 0.0), ("wait for the push service", ANSWER_S)):
        report.say(
            f"baseline: one APScheduler date job an alarm, {pending:,} pending, {due:,} due at once,"
            f" which {what}"
        )
        _run(report, pending, due, answer_s)


def _run(report: Report, pending: int, due: int, answer_s: float) -> None:
    scheduler = BackgroundScheduler(timezone="UTC")
    late_ms: list[float] = []
    lost: list[str] = []
    scheduler.add_listener(lambda event: lost.append(event.job_id), EVENT_JOB_MISSED)
    scheduler.start(paused=True)
    later = datetime.now(UTC) + timedelta(hours=6)
    for number in range(pending):
        scheduler.add_job(time.sleep, "date", (0.0,), run_date=later + timedelta(seconds=number))
    at = datetime.now(UTC) + timedelta(seconds=3)

    def ring() -> None:
        time.sleep(answer_s)
        late_ms.append((datetime.now(UTC) - at).total_seconds() * 1000)

    for _ in range(due):
        scheduler.add_job(ring, "date", run_date=at)
    scheduler.resume()
    end = time.monotonic() + 90
    while len(late_ms) + len(lost) < due and time.monotonic() < end:
        time.sleep(0.2)
    scheduler.shutdown(wait=False)
    told = f"those that ran were late: {spread(late_ms)}"
    report.say(f"    ran {len(late_ms)} of {due}, dropped {len(lost)}; {told}")
