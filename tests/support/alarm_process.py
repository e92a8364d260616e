"""Run an alarm process with short waits: ``python -m tests.support.alarm_process LEASE_S LOOK_EVERY_S ANSWER_S``."""

from __future__ import annotations

import sys
from datetime import timedelta

from tackwatch.alarms import process
from tackwatch.alarms.deliver.push import Waits
from tackwatch.app import create_app


def main() -> None:
    lease_s, look_every_s, answer_s = (float(text) for text in sys.argv[1:])
    process.run(
        create_app(),
        look_every=timedelta(seconds=look_every_s),
        lease=timedelta(seconds=lease_s),
        waits=Waits(connect_s=0.25, answer_s=answer_s),
    )


if __name__ == "__main__":
    main()
