"""From a device's key to the caller: who asks, in which refit, with which role.

Rules
-----
- A key is 256 random bits; only its SHA-256 is kept, and a key is found by that hash, so nothing secret is ever
  compared sign by sign.
- A key opens one refit. With another refit's id in the path the answer is the same as for a refit that does not exist.
- The role is the member's own now, not what it was when the key was given out.
"""

from __future__ import annotations

import hashlib
from datetime import datetime

from tackwatch.store import people
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError, NotSignedInError


def hash_of(secret: str) -> str:
    """Give the form in which a key, token or code is kept."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def sign_in(refit_id: str, key: str, now: datetime) -> Caller:
    """Find out who holds a key, and note that the device was seen.

    Raises
    ------
    NotSignedInError
        With code ``key-unknown`` or ``key-withdrawn``.
    NotFoundError
        When the key is for another refit.
    """
    device = people.device_by_key(hash_of(key))
    if device is None:
        raise NotSignedInError("key-unknown", "This key is not known here.")
    if device.revoked_at is not None:
        raise NotSignedInError("key-withdrawn", "This device's key was withdrawn.")
    if device.refit_id != refit_id:
        raise NotFoundError("unknown-refit", "There is no such refit.")
    member = people.member(refit_id, device.member_id)
    if member is None or member.gone:
        raise NotSignedInError("key-withdrawn", "This person is no longer in the crew.")
    caller = Caller(refit_id, device.id, device.member_id, str(member.fields["role"]))
    if people.needs_touch(device, now):
        people.touch(caller.device_id, now)
    return caller
