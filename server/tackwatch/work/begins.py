"""Where a device's numbering goes on after its server was restored from a backup older than the device's memory.

A device keeps what was acknowledged for some months only. If the backup lies before that, the numbers between have
nobody left who could send them, and waiting for them would hold back all that the device says from then on. So it names
with each call the first number that it can still offer, and the server begins there.

Rules
-----
- Only upwards, and only with the operation of that number at hand: so numbers are missing in the log just where they
  are missing in truth, in front of an operation that is there.
- Everything up to the new beginning counts as known, like what was filed: nothing is ever applied twice.
"""

from __future__ import annotations

from collections.abc import Sequence

from tackwatch.work.errors import InvalidError

MOST_MISSING = 1_000_000
"""More operations than a device makes in months; own choice, no source."""


def last_before(last_n: int, first_n: int | None, fresh: Sequence[int]) -> int:
    """Give the number behind which a device's operations go on.

    Parameters
    ----------
    last_n
        The last number that was filed.
    first_n
        The first that the device can still offer, if it said so.
    fresh
        The numbers of the call's operations that are greater than ``last_n``.

    Raises
    ------
    InvalidError
        Naming ``first_n``, when so many numbers would be missing that it must be a mistake.
    """
    if first_n is None or min(fresh) != first_n:
        return last_n
    if first_n - last_n > MOST_MISSING:
        raise InvalidError("value-not-valid", "So many numbers cannot be missing.", "first_n")
    return first_n - 1
