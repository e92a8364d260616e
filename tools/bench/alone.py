"""Prints how fast it is: each figure beside a baseline that was measured in the same run, and their ratio.

``make bench`` runs it. A figure in seconds says more about the machine than about the program; the ratio travels. Each
is the best of several rounds, since whatever else the machine does only ever adds to it.
"""

from __future__ import annotations

import json
import logging
import math
import sqlite3
import tempfile
import time
from bisect import bisect_right
from collections.abc import Callable
from datetime import timedelta
from pathlib import Path

import structlog
from tests.support.phone import Phone, new_id
from tests.support.wires import ClientWire
from tests.support.world import StandingClock, ports_with
from tests.trade.samples import CURVE, START_AT, START_S, profiles

from tackwatch.app import create_app
from tackwatch.settings import Settings
from tackwatch.store import schema
from tackwatch.trade.arrhenius import Law, law_of
from tackwatch.trade.cure import coat_clock
from tackwatch.trade.dose import DoseLine
from tackwatch.trade.temperature import track_of
from tackwatch.trade.types import Band, Coat, Reading, Track
from tackwatch.trade.units import S_PER_DAY

ROWS = 200
ROUNDS = 5
STARTS = 10_000
ALONE = 100
TURN_S = 300.0


def main() -> None:
    """Measure and print."""
    print(f"{'what':<60}{'ms':>9}{'baseline':>10}{'ratio':>8}  baseline is")
    with tempfile.TemporaryDirectory() as folder:
        sync(Path(folder))
    clocks()


def sync(folder: Path) -> None:
    """Measure the exchange, on SQLite, without the network."""
    settings = Settings(folder, f"sqlite:///{folder / 'tackwatch.sqlite3'}")
    clock = StandingClock()
    app = create_app(settings, ports_with(clock))
    structlog.configure(wrapper_class=structlog.make_filtering_bound_logger(logging.ERROR))
    phone = Phone.found(ClientWire(app.test_client()), lambda: clock.ms)
    bare = sqlite3.connect(folder / "bare.sqlite3", isolation_level=None)
    bare.execute("PRAGMA journal_mode=WAL")
    bare.execute("PRAGMA synchronous=FULL")
    bare.execute("CREATE TABLE bare (id TEXT PRIMARY KEY, body TEXT)")

    def hand_in(count: int) -> None:
        for _ in range(count):
            phone.create("zone", {"name": "Keel", "area_m2": 5.3})
        phone.sync()

    def write(count: int) -> None:
        body = json.dumps({"name": "Keel", "area_m2": 5.3})
        bare.execute("BEGIN IMMEDIATE")
        for _ in range(count):
            bare.execute("INSERT INTO bare VALUES (?, ?)", (new_id(), body))
        bare.execute("COMMIT")

    said = "the same rows written and committed, nothing else"
    tell("sync of one operation", best(lambda: hand_in(1)), best(lambda: write(1)), said)
    many = best(lambda: hand_in(ROWS)), best(lambda: write(ROWS))
    tell(f"sync of {ROWS} operations in one request", *many, said)
    reader = Phone(
        phone.wire, phone.refit_id, phone.member_id, phone.device_id, phone.key, lambda: clock.ms
    )
    whole = reader.exchange().json

    def first() -> None:
        reader.cursor, reader.epoch = 0, None
        reader.exchange()

    rows = len(whole["changes"])
    tell(
        f"first sync of {rows} rows",
        best(first),
        best(lambda: json.dumps(whole)),
        "its answer as JSON text",
    )
    with app.app_context():
        schema.let_go()
    bare.close()


def clocks() -> None:
    """Measure all clocks of one coat over a fortnight of hourly readings."""
    readings = [
        Reading(START_AT + timedelta(hours=hour), 15 + 5 * math.sin(hour * math.pi / 12), None, 60)
        for hour in range(14 * 24)
    ]
    end_at = START_AT + timedelta(hours=1)
    coat = Coat("coat", profiles()["epoxy_barrier_primer"], START_AT, end_at)

    def all_stages() -> None:
        coat_clock(coat, track_of(readings, CURVE, START_AT), readings[-1].at)

    def sum_once() -> None:
        math.fsum(
            math.exp(-5000 / (288 + reading.air_c))
            for reading in readings
            if reading.air_c is not None
        )

    tell(
        "all clocks of a coat, a fortnight of hourly readings",
        best(all_stages),
        best(sum_once),
        "one exp a reading",
    )
    many_starts(track_of(readings, CURVE, START_AT))


def many_starts(track: Track) -> None:
    """Ask one track at ten thousand starts within its fortnight when a stage is reached."""
    stage = profiles()["epoxy_barrier_primer"].stages["recoat_opens"]
    law = law_of(stage)
    starts_s = [START_S + 14 * S_PER_DAY * n / STARTS for n in range(STARTS)]

    def shared() -> None:
        line = DoseLine(law, track, START_S, 0.0, Band())
        for start_s in starts_s:
            line.reached(start_s)

    def each_alone() -> None:
        for start_s in starts_s[:: STARTS // ALONE]:
            plain_loop(law, track, start_s)

    tell(
        f"a stage from {STARTS} starts on one fortnight",
        best(shared),
        best(each_alone) * STARTS / ALONE,
        f"a plain loop from each start, five minutes a turn ({ALONE} measured)",
    )


def plain_loop(law: Law, track: Track, start_s: float) -> float:
    """Add up five minutes after five minutes until the stage is reached."""
    at_s = [knot.at_s for knot in track.knots]
    temp_c = [knot.temp_c for knot in track.knots]
    now_s, dose = start_s, 0.0
    while dose < 1.0 and now_s < at_s[-1]:
        i = min(max(bisect_right(at_s, now_s), 1), len(at_s) - 1)
        share = (now_s - at_s[i - 1]) / (at_s[i] - at_s[i - 1])
        dose += TURN_S * law.rate(temp_c[i - 1] + share * (temp_c[i] - temp_c[i - 1]))
        now_s += TURN_S
    return now_s


def best(what: Callable[[], object]) -> float:
    """Give the shortest of several rounds in milliseconds."""
    took = []
    for _ in range(ROUNDS):
        began = time.perf_counter()
        what()
        took.append((time.perf_counter() - began) * 1000)
    return min(took)


def tell(what: str, took_ms: float, baseline_ms: float, of: str) -> None:
    """Print one line."""
    print(f"{what:<60}{took_ms:>9.2f}{baseline_ms:>10.3f}{took_ms / baseline_ms:>8.1f}  {of}")


if __name__ == "__main__":
    main()
