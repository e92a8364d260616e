"""Prints how fast it is: each figure beside one that was measured in the same run. ``make bench`` runs all of it.

A figure in seconds says more about the machine than about the program; the ratio travels. Words: which parts to run,
``alone``, ``disk`` and ``exchange``; all without one.
"""

from __future__ import annotations

import signal
import sys

from tools.bench import alone, disk, exchange


def main(parts: list[str]) -> int:
    """Run the parts that are named, or all."""
    if not parts or "alone" in parts:
        alone.main()
    if not parts or "disk" in parts:
        disk.main()
    missed = exchange.measure() if not parts or "exchange" in parts else []
    return 1 if missed else 0


if __name__ == "__main__":
    signal.signal(signal.SIGTERM, lambda *_: sys.exit(1))  # so that what was started is stopped
    sys.exit(main(sys.argv[1:]))
