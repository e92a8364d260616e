"""Run a planning process with a short lease: ``python -m tests.support.planning_process LEASE_S``."""

from __future__ import annotations

import sys
from datetime import timedelta
from pathlib import Path

from tackwatch.app import create_app
from tackwatch.work.planning import process
from tackwatch.work.ports import system_ports


def main() -> None:
    lease = timedelta(seconds=float(sys.argv[1]))
    process.run(create_app().app_context, system_ports(), Path("compiled"), lease, warm=False)


if __name__ == "__main__":
    main()
