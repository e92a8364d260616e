"""Prints how well alarms ring, each figure beside its bar. Words: which parts to run."""

from __future__ import annotations

import argparse
import signal
import sys
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from tests.support.postgres import Cluster
from tools.bench.alarms import baseline, handing, idle, kills, lateness
from tools.bench.alarms.figures import Report
from tools.bench.alarms.harbour import Harbour
from tools.bench.alarms.push_service import PushService, push_service

PARTS = ("baseline", "lateness", "idle", "handing", "kills")
KILLS = 500
DATABASES = ("sqlite", "postgresql")


def main() -> int:
    """Run the parts that are named, or all."""
    parser = argparse.ArgumentParser(prog="make bench-alarms")
    parser.add_argument("parts", nargs="*", choices=[*PARTS, []], default=[])
    parser.add_argument("--database", choices=DATABASES, action="append")
    parser.add_argument("--rounds", type=int, default=3, help="how often lateness is measured")
    parser.add_argument(
        "--kills", type=int, help="kill so many processes in all, and do nothing else"
    )
    parser.add_argument("--idle", type=float, default=idle.IDLE_S, help="seconds with nothing due")
    given = parser.parse_args()
    parts, report = given.parts or (("kills",) if given.kills else PARTS), Report()
    if "baseline" in parts:
        baseline.measure(report, lateness.PENDING, lateness.DUE)
    databases, kills_n = given.database or DATABASES, given.kills or KILLS
    for database in databases:
        with _harbour(database) as (harbour, service):
            if "lateness" in parts:
                harbour.pend(lateness.PENDING)
                lateness.measure(report, harbour, service, database, given.rounds)
            if "idle" in parts:
                idle.measure(report, harbour, database, given.idle)
            if "handing" in parts:
                handing.measure(report, harbour, database)
            if "kills" in parts:
                kills.measure(report, harbour, service, database, kills_n // len(databases))
    if "kills" in parts:
        report.bar("kills altogether", str(kills_n), f">= {KILLS}", kills_n >= KILLS)
    report.say(f"missed: {', '.join(report.missed)}" if report.missed else "every bar is met")
    return 1 if report.missed else 0


@contextmanager
def _harbour(database: str) -> Iterator[tuple[Harbour, PushService]]:
    with tempfile.TemporaryDirectory() as folder, push_service() as service:
        if database == "sqlite":
            harbour = Harbour(f"sqlite:///{folder}/tackwatch.sqlite3", Path(folder), service.origin)
            yield harbour, service
            harbour.close()
            return
        safe = {"fsync": "on", "synchronous_commit": "on", "full_page_writes": "on"}
        with Cluster(**safe) as cluster:
            harbour = Harbour(cluster.create("alarms"), Path(folder), service.origin)
            yield harbour, service
            harbour.close()


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that what was started is stopped
    sys.exit(main())
