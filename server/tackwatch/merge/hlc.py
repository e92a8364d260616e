"""The hybrid logical clock: stamps that order what several devices did.

Theory
------
A stamp joins a wall time in milliseconds, a counter and the device's id. A clock never goes back: each new stamp
is later than every stamp that the clock has made or seen, whatever the wall clock says, and stays as near to the
wall time as it can. Two stamps are never equal because the device's id is part of them, so the order is total.

Rules
-----
- Text form ``MMMMMMMMMMMMCCCC-device``: twelve hex digits of milliseconds since 1970 UTC, four of counter. Text
  order is stamp order.
- ``tick``: the wall time if it is later than the last stamp, else the last stamp with its counter one higher.
- ``clamped``: a stamp from further ahead than the allowance is set back to now; the caller keeps what was sent.

Source
------
Kulkarni, Demirbas, Madappa, Avva, Leone: *Logical Physical Clocks* (2014), there named HLC.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

from tackwatch.merge.errors import RefusedError

MAX_COUNTER = 0xFFFF
MAX_MS = 0xFFFFFFFFFFFF
ALLOWANCE_MS = 5 * 60 * 1000
SERVER_DEVICE = "server000000"

_TEXT = re.compile(r"([0-9a-f]{12})([0-9a-f]{4})-([0-9a-z]{12})")


@dataclass(frozen=True, slots=True, order=True)
class Stamp:
    """One reading of a hybrid clock: wall milliseconds, counter, device."""

    ms: int
    counter: int
    device: str

    def __str__(self) -> str:
        return f"{self.ms:012x}{self.counter:04x}-{self.device}"


def parse(text: object, field: str = "at") -> Stamp:
    """Read a stamp from its text form.

    Raises
    ------
    RefusedError
        When the text is not a stamp; ``field`` says where it stood.
    """
    match = _TEXT.fullmatch(text) if isinstance(text, str) else None
    if match is None:
        raise RefusedError("not-a-stamp", "This is not a clock stamp.", field)
    return Stamp(int(match[1], 16), int(match[2], 16), match[3])


def device_of(stamp: str) -> str:
    """Give the device's id in a stamp's text."""
    return stamp[17:]


def tick(last: Stamp | None, now_ms: int, device: str) -> Stamp:
    """Make the next stamp of a device: later than ``last``, at ``now_ms`` if that is later still."""
    if last is None or now_ms > last.ms:
        return Stamp(now_ms, 0, device)
    return after(last, device)


def after(stamp: Stamp, device: str) -> Stamp:
    """Give the least stamp of ``device`` that is later than ``stamp`` by time or counter."""
    if stamp.counter < MAX_COUNTER:
        return Stamp(stamp.ms, stamp.counter + 1, device)
    return Stamp(stamp.ms + 1, 0, device)


def clamped(sent: Stamp, last: Stamp | None, now_ms: int) -> Stamp:
    """Give the stamp under which the server files an operation.

    Parameters
    ----------
    sent
        What the device said.
    last
        The device's latest filed stamp; the result is always later.
    now_ms
        The server's wall time in milliseconds.

    Returns
    -------
    Stamp
        ``sent`` where it is credible, else the nearest credible stamp.
    """
    stamp = sent
    if sent.ms > now_ms + ALLOWANCE_MS:
        stamp = Stamp(now_ms, 0, sent.device)
    if last is not None and (stamp.ms, stamp.counter) <= (last.ms, last.counter):
        return after(last, sent.device)
    return stamp
