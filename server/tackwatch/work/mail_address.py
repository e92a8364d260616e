"""A person gives a mail address and shows by a code that it is theirs; before that nothing else is sent there.

Rules
-----
- The code has six digits, holds for half an hour and five tries, and is kept as a hash.
- Codes are counted in the database, so that all processes hold back together: one a minute and six a day for a person,
  six a day for an address whoever asks, thirty a day for a refit.
- A code that the mail server does not take changes nothing; the address that was there before stays.
- The address is plain ASCII without comments or quotes: what one reader takes for the address, every reader must.

Source
------
Lengths of an address: RFC 5321, 4.5.3.1. The limits on codes: common practice, no source.
"""

from __future__ import annotations

import hmac
import math
import re
from datetime import datetime, timedelta

from tackwatch.settings import Settings
from tackwatch.store import addresses, refits
from tackwatch.store.db import writing
from tackwatch.work.addresses import MAIL
from tackwatch.work.caller import Caller
from tackwatch.work.errors import ConflictError, GoneError, InvalidError, TooManyError
from tackwatch.work.letters import Letters, reader_of
from tackwatch.work.ports import Ports
from tackwatch.work.sign_in import hash_of

CODE_HOLDS = timedelta(minutes=30)
MOST_TRIES = 5
BETWEEN_CODES = timedelta(minutes=1)
PER_PERSON, PER_ADDRESS, PER_REFIT = 6, 6, 30
_DAY = timedelta(days=1)
_LONGEST, _LONGEST_LOCAL = 254, 64
_ATOM = r"[A-Za-z0-9!#$%&'*+/=?^_`{|}~-]+"
_LABEL = r"[A-Za-z0-9]([A-Za-z0-9-]{0,61}[A-Za-z0-9])?"
_ADDRESS = re.compile(rf"(?P<local>{_ATOM}(\.{_ATOM})*)@{_LABEL}(\.{_LABEL})+")


def give_mail_address(
    caller: Caller, target: str, with_calendar: bool, letters: Letters, here: tuple[Settings, Ports]
) -> None:
    """Keep the caller's mail address, and send a code to it unless it is confirmed already.

    Raises
    ------
    InvalidError
        Naming ``address`` when it is none.
    ConflictError
        When this server sends no mail.
    TooManyError
        When too many codes were sent.
    MailNotTakenError
        When the mail server did not take the letter.
    """
    settings, ports = here
    if settings.smtp is None:
        raise ConflictError("no-mail-here", "This server sends no mail.", "address")
    if not is_mail_address(target):
        raise InvalidError("not-a-mail-address", "A mail address is needed.", "address")
    before = addresses.of_member(caller.refit_id, caller.member_id).get(MAIL)
    if before is not None and before.target == target and before.confirmed_at is not None:
        with writing():
            addresses.change(before, with_calendar=with_calendar)
        return
    _send_code(caller, target, with_calendar, letters, ports)


def _send_code(
    caller: Caller, target: str, with_calendar: bool, letters: Letters, ports: Ports
) -> None:
    now, code = ports.clock.now(), _new_code(ports)
    reader = reader_of(caller.refit_id, caller.member_id)
    if reader is None:  # left the crew this very moment
        raise ConflictError("not-in-the-crew", "This person is no longer in the crew.", "address")
    with writing():
        refits.lock(caller.refit_id)
        _hold_back(caller, target.lower(), now)
        addresses.count_code(caller.refit_id, caller.member_id, target.lower(), now)
    letters.send_code(reader, target, code, now)
    with writing():
        refits.lock(caller.refit_id)
        addresses.put(
            caller.refit_id, caller.member_id, MAIL, now, target=target,
            with_calendar=with_calendar, code_hash=_hash(caller, code), code_until=now + CODE_HOLDS,
        )  # fmt: skip


def confirm_mail_address(caller: Caller, code: str, now: datetime) -> None:
    """Show by the code that the address is the caller's.

    Raises
    ------
    ConflictError
        When no address waits for a code.
    GoneError
        When the code holds no longer, or was tried too often.
    InvalidError
        When it is another code.
    """
    with writing():
        refits.lock(caller.refit_id)
        row = addresses.of_member(caller.refit_id, caller.member_id).get(MAIL)
        if row is None or row.code_hash is None or row.code_until is None:
            raise ConflictError("no-code-awaited", "No address waits for a code.", "code")
        if now > row.code_until or row.code_tries >= MOST_TRIES:
            raise GoneError("code-over", "This code holds no longer: have another sent.", "code")
        right = hmac.compare_digest(_hash(caller, code), row.code_hash)
        addresses.change(row, **(_confirmed(now) if right else {"code_tries": row.code_tries + 1}))
    if not right:
        raise InvalidError("code-wrong", "This is not the code that was sent.", "code")


def is_mail_address(text: str) -> bool:
    """Say whether a text can be a mail address."""
    found = _ADDRESS.fullmatch(text)
    return found is not None and len(text) <= _LONGEST and len(found["local"]) <= _LONGEST_LOCAL


def _confirmed(now: datetime) -> dict[str, object]:
    return {"confirmed_at": now, "code_hash": None, "code_until": None, "trouble": ""}


def _hold_back(caller: Caller, target: str, now: datetime) -> None:
    sent = addresses.codes_since(caller.refit_id, caller.member_id, target, now - _DAY)
    if sent.last_at is not None and now < sent.last_at + BETWEEN_CODES:
        raise _too_many(sent.last_at + BETWEEN_CODES - now)
    counts = (
        (sent.by_person, PER_PERSON),
        (sent.to_address, PER_ADDRESS),
        (sent.by_refit, PER_REFIT),
    )
    if any(count >= most for count, most in counts):
        raise _too_many(_DAY)


def _too_many(wait: timedelta) -> TooManyError:
    wait_s = math.ceil(wait.total_seconds())
    error = TooManyError("too-many-codes", f"Too many codes. Wait {wait_s} seconds.", wait_s)
    error.field = "address"
    return error


def _new_code(ports: Ports) -> str:
    return f"{int(hash_of(ports.chance.secret()), 16) % 1_000_000:06d}"


def _hash(caller: Caller, code: str) -> str:
    return hash_of(f"{caller.refit_id} {caller.member_id} {code}")
