"""What a job for each alarm comes to: APScheduler with its default settings, as many pending and as many due."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from apscheduler.events import EVENT_JOB_MISSED
from apscheduler.schedulers.background import BackgroundScheduler
from tools.bench.alarms.figures import Report, spread


def measure(report: Report, pending: int, due: int) -> None:
    """Run it once and print how many ran, and how late."""
    report.say(
        f"baseline: one APScheduler date job an alarm, {pending:,} pending, {due:,} due at once"
    )
    scheduler = BackgroundScheduler(timezone="UTC")
    late_ms: list[float] = []
    lost: list[str] = []
    scheduler.add_listener(lambda event: lost.append(event.job_id), EVENT_JOB_MISSED)
    scheduler.start(paused=True)
    later = datetime.now(UTC) + timedelta(hours=6)
    for number in range(pending):
        scheduler.add_job(
            late_ms.append, "date", (0.0,), run_date=later + timedelta(seconds=number)
        )
    at = datetime.now(UTC) + timedelta(seconds=3)

    def ran() -> None:
        late_ms.append((datetime.now(UTC) - at).total_seconds() * 1000)

    for _ in range(due):
        scheduler.add_job(ran, "date", run_date=at)
    scheduler.resume()
    end = time.monotonic() + 90
    while len(late_ms) + len(lost) < due and time.monotonic() < end:
        time.sleep(0.2)
    scheduler.shutdown(wait=False)
    report.say(
        f"    ran {len(late_ms)} of {due}, dropped {len(lost)}; those that ran were late: {spread(late_ms)}"
    )
