"""An exchange: rounds with the server until nothing is left to say or to hear, and when to try again."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any

from tackwatch.merge.catalogue import SCHEMA
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.hlc import parse
from tackwatch.remote.absorb import absorb
from tackwatch.remote.copy import Copy, Filed
from tackwatch.remote.errors import LaterError, TooLargeError
from tackwatch.remote.file import packed
from tackwatch.remote.meta import Meta
from tackwatch.remote.wire import ProblemError, Server

PROTOCOL = 1
MOST_OPERATIONS = 2_000
_MOST_CHARACTERS = 3_000_000
_MOST_ROUNDS = 10_000
_FIRST_WAIT_S = 2.0
_LONGEST_WAIT_S = 300.0
_SHAPE: Mapping[str, type | tuple[type, ...]] = {
    "epoch": str, "server_time": str, "clock": str, "acknowledged_n": int, "refused": list,
    "changes": list, "differences": list, "cursor": int, "more": bool, "reset": bool,
}  # fmt: skip


def exchange(copy: Copy) -> None:
    """Hand over what waits and take what is new, until both sides have all.

    Raises
    ------
    LaterError
        When there was no verdict; what waits stays.
    KeyRefusedError, VersionsError
        When trying again will not help; what waits stays too.
    """
    meta = copy.meta()
    server = Server(meta.server, meta.key)
    try:
        most = MOST_OPERATIONS
        for _ in range(_MOST_ROUNDS):
            try:
                if not _round(copy, server, most):
                    return
            except TooLargeError:
                if most == 1:
                    raise LaterError("The server takes not even one entry at a time.") from None
                most = (most + 1) // 2
    finally:
        server.close()


def _round(copy: Copy, server: Server, most: int) -> bool:
    """Do one round trip; true when another is due at once."""
    meta, sent, first_n = copy.meta(), _offer(copy, most), copy.first_n()
    from_ms = copy.now_ms()
    try:
        answer = _post(server, meta, sent, first_n)
    except ProblemError as error:
        raise LaterError(error.detail) from error
    finally:
        if server.address != meta.server:
            copy.change(server=server.address)
    _check(answer)
    off_ms = _clock_off_ms(answer["server_time"], from_ms, copy.now_ms(), meta.clock_off_ms)
    return absorb(copy, answer, meta, off_ms)


def _post(server: Server, meta: Meta, sent: Sequence[Filed], first_n: int | None) -> dict[str, Any]:
    place = meta.aside or meta
    request = {
        "protocol": PROTOCOL,
        "schema": SCHEMA,
        "epoch": place.epoch,
        "device": meta.device_id,
        "cursor": place.cursor,
        "operations": [one.sent() for one in sent],
        "loading": meta.aside is not None or meta.epoch is None,
        "first_n": first_n,
    }
    return server.post(f"/api/refits/{meta.refit_id}/sync", request)


def _offer(copy: Copy, most: int) -> list[Filed]:
    """Give the oldest operations that wait, as many as one request should carry."""
    offered: list[Filed] = []
    room = _MOST_CHARACTERS
    for one in copy.operations("waiting", most):
        room -= len(packed(one.actions))
        if room < 0 and offered:
            break
        offered.append(one)
    return offered


def _check(answer: Mapping[str, Any]) -> None:
    """Take only what has the shape of an answer: a page of a paid network is none."""
    fits = all(isinstance(answer.get(name), kind) for name, kind in _SHAPE.items())
    if fits:
        try:
            parse(answer["clock"])
        except RefusedError:
            fits = False
    if not fits:
        raise LaterError("Something other than the server answered.")


def _clock_off_ms(server_time: str, from_ms: int, to_ms: int, known_ms: int) -> int:
    """Measure how far this clock is off: the server answered half way through the round trip.

    What is within the round trip's own length is left as it was known, since it cannot be told apart.
    """
    try:
        server_ms = datetime.fromisoformat(server_time).timestamp() * 1000
    except ValueError:
        return known_ms
    half_ms = (to_ms - from_ms) / 2
    off_ms = round(server_ms - (from_ms + half_ms))
    return known_ms if half_ms < 0 or abs(off_ms - known_ms) <= half_ms else off_ms


def backoff_s(failures: int, chance: float, wait_s: float = 0.0) -> float:
    """Give how long to wait after so many failures in a row.

    Doubling from two seconds to five minutes, half of it left to ``chance`` (0 to 1) so that devices that failed
    together do not come back together; at least ``wait_s``, which the server asked for.
    """
    full_s = min(_LONGEST_WAIT_S, _FIRST_WAIT_S * 2.0 ** min(failures - 1, 20))
    return max(wait_s, full_s / 2 + chance * full_s / 2)
