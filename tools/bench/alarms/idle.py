"""Nothing due: how often the process wakes, and how soon it notices what is entered meanwhile."""

from __future__ import annotations

import time
from datetime import UTC, datetime, timedelta

from tools.bench.alarms.figures import Report, spread
from tools.bench.alarms.harbour import Harbour
from tools.bench.alarms.ringers import Ringers

IDLE_S, ENTERED = 60.0, 20
NOTICED_MS = 1000.0


def measure(report: Report, harbour: Harbour, database: str, idle_s: float = IDLE_S) -> None:
    """Sleep a while, then enter alarms one by one."""
    ringers = Ringers(harbour.settings)
    ringers.start()
    ringers.wait()
    try:
        time.sleep(3)  # it finds its line, and looks once more
        before = ringers.rounds()
        time.sleep(idle_s)
        woke = ringers.rounds() - before
        late_ms = []
        for number in range(ENTERED):
            time.sleep(0.2)
            entered_at = time.time()
            name = f"entered{number}"
            harbour.due(1, datetime.now(UTC) - timedelta(milliseconds=1), name)
            harbour.wait_until_told(name, 60)
            (id_,) = harbour.alarms(name)
            late_ms += [(at - entered_at) * 1000 for one, at in ringers.claims() if one == id_]
    finally:
        ringers.end()
    report.say(
        f"{database}, nothing due for {idle_s:.0f} s, then {ENTERED} alarms entered by another process"
    )
    report.bar("woke, in that time", str(woke), f"<= {idle_s / 60:.0f}", woke <= idle_s / 60)
    report.say(f"  entered to claimed: {spread(late_ms)}")
    worst = max(late_ms)
    report.bar(
        "entered to claimed, latest",
        f"{worst:.0f} ms",
        f"<= {NOTICED_MS:g} ms",
        worst <= NOTICED_MS,
    )
