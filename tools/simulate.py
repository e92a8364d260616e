"""Plays many histories of phones, a network and a server, each from its own seed; see docs/simulation.md.

``python -m tools.simulate --n 10000 --jobs 2`` plays fresh seeds and prints what they came to; ``--seed 7`` plays one
and tells it line by line. Ends with 1 where anything was lost.
"""

from __future__ import annotations

import argparse
import json
import os
import subprocess
import sys
import time
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import asdict
from pathlib import Path
from random import SystemRandom
from typing import Any

from tests.simulation.run import ONE_IN, Stage, Summary, Told, run, stage
from tests.support.postgres import Cluster

ROOT = Path(__file__).parents[1]
SHOWN = 3  # failures that are told in full
CHUNK = 25  # histories between two lines of a worker
TOLD_EVERY = 500


def main(words: list[str] | None = None) -> int:
    given = _given(words)
    if os.environ.get("PYTHONHASHSEED") != "0":
        # the order of sets is part of a history: the same seed must be the same everywhere
        os.environ["PYTHONHASHSEED"] = "0"
        os.execv(sys.executable, [sys.executable, "-m", "tools.simulate", *(words or sys.argv[1:])])
    if given.seed is not None:
        return _one(given)
    return _work(given) if given.worker else _many(given)


def _given(words: list[str] | None) -> argparse.Namespace:
    parser = argparse.ArgumentParser(
        description="Play histories and see whether sync loses anything."
    )
    parser.add_argument("--seed", type=int, help="play this one and tell it")
    parser.add_argument("--n", type=int, default=100, help="how many fresh histories")
    parser.add_argument("--start", type=int, help="the first seed; drawn by chance unless given")
    parser.add_argument("--jobs", type=int, default=1, help="processes that share the work")
    parser.add_argument(
        "--one-in", type=int, default=ONE_IN, help="one in so many is on PostgreSQL; 0: none"
    )
    parser.add_argument("--stop", action="store_true", help="stop at the first that fails")
    parser.add_argument("--worker", default="", help=argparse.SUPPRESS)
    return parser.parse_args(words)


@contextmanager
def _cluster(needed: bool) -> Iterator[Cluster | None]:
    if not needed:
        yield None
        return
    with Cluster() as running:
        yield running


def _one(given: argparse.Namespace) -> int:
    """Play one seed and tell it."""
    with _cluster(given.one_in > 0 and given.seed % given.one_in == 0) as running:
        url = running.create("simulation") if running else None
        with stage(url, given.one_in) as on:
            told = on.play(given.seed)
    print("\n".join(told.trace))
    counts = f"{told.devices} devices, {told.operations} operations"
    print(f"\nseed {told.seed}: {counts}, print {told.digest}")
    print(told.detail or "nothing was lost")
    return 1 if told.violation else 0


def _work(given: argparse.Namespace) -> int:
    """Play a share of the seeds, and say what came of them, a line for each chunk."""
    with stage(None if given.worker == "none" else given.worker, given.one_in) as on:
        for at in range(given.start, given.start + given.n, CHUNK):
            seeds = range(at, min(at + CHUNK, given.start + given.n))
            if _hand_over(on, seeds, given.stop) and given.stop:
                break
    return 0


def _hand_over(on: Stage, seeds: range, stop: bool) -> bool:
    """Say what came of some seeds; true where one failed."""
    summary = run(seeds, on, stop)
    failed = [{**asdict(one), "hazards": {}} for one in summary.failed]
    print(json.dumps({**vars(summary), "failed": failed}), flush=True)
    return bool(failed)


def _many(given: argparse.Namespace) -> int:
    start = SystemRandom().randrange(10**9) if given.start is None else given.start
    print(f"{given.n} histories, seeds {start} to {start + given.n - 1}", flush=True)
    began = time.perf_counter()
    with _cluster(given.one_in > 0) as running:
        total = _shared(given, start, running)
    total.seconds = time.perf_counter() - began
    _tell(total)
    return 1 if total.failed else 0


def _shared(given: argparse.Namespace, start: int, running: Cluster | None) -> Summary:
    """Share seeds among processes, each with phones and a database of its own."""
    total, share, workers = Summary(), -(-given.n // given.jobs), []
    for number in range(given.jobs):
        first = start + number * share
        count = min(share, start + given.n - first)
        url = "none" if running is None else running.create(f"simulation_{number}")
        command = [
            sys.executable, "-m", "tools.simulate", "--worker", url, "--start", str(first), "--n", str(count),
            "--one-in", str(given.one_in), *(["--stop"] if given.stop else []),
        ]  # fmt: skip
        workers.append(subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, text=True))
    with ThreadPoolExecutor(len(workers)) as readers:
        reading = [readers.submit(_read, worker, total, given) for worker in workers]
        try:
            for one in reading:
                one.result()
        except KeyboardInterrupt:
            print("interrupted; so far:", flush=True)
            for worker in workers:
                worker.terminate()
    return total


def _read(worker: subprocess.Popen[str], total: Summary, given: argparse.Namespace) -> None:
    """Take what a worker says until it ends."""
    assert worker.stdout
    with worker.stdout as lines:
        for line in lines:
            _take(total, json.loads(line), given)
            if total.histories % TOLD_EVERY < CHUNK < given.n:
                print(f"{total.histories} played, {len(total.failed)} failed", flush=True)
    if worker.wait() > 0:
        raise SystemExit("a worker broke down")


def _take(total: Summary, part: dict[str, Any], given: argparse.Namespace) -> None:
    for name in ("histories", "devices", "operations"):
        setattr(total, name, getattr(total, name) + part[name])
    total.hazards += Counter(part["hazards"])
    for failed in part["failed"]:
        told = Told(**{**failed, "hazards": Counter()})
        total.failed.append(told)
        if len(total.failed) <= SHOWN:
            print("\n".join(["", f"seed {told.seed}:", *told.trace, told.detail]))
            other = "" if given.one_in == ONE_IN else f" ARGS='--one-in {given.one_in}'"
            print(f"again: make simulate SEED={told.seed}{other}\n", flush=True)


def _tell(total: Summary) -> None:
    print(f"histories   {total.histories:9d}")
    print(f"devices     {total.devices:9d}")
    print(f"operations  {total.operations:9d}")
    for hazard, count in sorted(total.hazards.items(), key=lambda entry: -entry[1]):
        print(f"  {count:9d}  {hazard}")
    print(f"violations  {len(total.failed):9d}")
    for kind, count in Counter(told.violation for told in total.failed).most_common():
        seeds = [told.seed for told in total.failed if told.violation == kind]
        print(f"  {count:9d}  {kind}: seeds {' '.join(map(str, seeds[:8]))}")
    print(f"{total.seconds:.0f} s, {total.histories / total.seconds:.1f} histories a second")


if __name__ == "__main__":
    sys.exit(main())
