"""Telling one person: every phone that is not done with yet, those never tried before first.

Rules
-----
- A phone is done with when it accepted, was dropped, or refused; it is not sent the same alarm again.
- While a phone is not done with, the alarm is tried again, until it is of no use. Then it is *told* if any phone
  accepted it, else *missed*.
- A person without a phone that takes pushes is told by the open pages alone.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime, timedelta

import structlog

from tackwatch.alarms.claim import has_time
from tackwatch.alarms.deliver import stream
from tackwatch.alarms.deliver.push import PushSender
from tackwatch.alarms.deliver.verdicts import ACCEPTED, DROPPED, FINAL, LATER, Verdict, pause
from tackwatch.alarms.message import message_of
from tackwatch.work import ring
from tackwatch.work.ring import AlarmRow, Phone, Ringing, Settled

_JUST_AFTER = timedelta(milliseconds=1)

_log = structlog.get_logger()


def is_useless(alarm: AlarmRow, now: datetime) -> bool:
    """Say whether it is too late for an alarm to be of use."""
    return now > alarm.useless_after


def too_late(alarm: AlarmRow) -> Settled:
    """Settle an alarm that is of no use any more."""
    channels = alarm.outcome.get("channels", {})
    reached = any(how["result"] == ACCEPTED for how in channels.values())
    _log.warning("alarm too late", alarm_id=alarm.alarm_id, kind=alarm.kind, reached=reached)
    return Settled(alarm, "told" if reached else "missed", channels)


def tell(ringing: Ringing, sender: PushSender, now: Callable[[], datetime]) -> Settled:
    """Push an alarm that was shown on the stream to its person's phones."""
    alarm = ringing.alarm
    channels = {**ringing.channels, stream.CHANNEL: {"result": stream.SHOWN}}
    again: list[datetime] = []
    for phone in _open_phones(ringing):
        waits_until = _not_before(channels.get(phone.device_id, {}))
        if waits_until is not None and waits_until > now():
            again.append(waits_until)
            continue
        verdict = _push(ringing, phone, sender, now)
        channels[phone.device_id] = verdict.as_dict()
        if verdict.not_before is not None:
            again.append(verdict.not_before)
    _log.info("alarm told", alarm_id=alarm.alarm_id, kind=alarm.kind, channels=channels)
    if not again:
        return Settled(alarm, "told", channels)
    return Settled(alarm, "claimed", channels, min(*again, alarm.useless_after + _JUST_AFTER))


def _push(
    ringing: Ringing, phone: Phone, sender: PushSender, now: Callable[[], datetime]
) -> Verdict:
    alarm = ringing.alarm
    verdict = Verdict(LATER, "no time left")
    if has_time(alarm, now(), sender.waits.longest):
        verdict = sender.send(phone, message_of(ringing, now()), now())
    if verdict.result == DROPPED:
        ring.drop_phone(phone)
    if verdict.result == LATER and verdict.not_before is None:
        verdict = replace(verdict, not_before=now() + pause(alarm.attempts, alarm.alarm_id))
    return verdict


def _open_phones(ringing: Ringing) -> list[Phone]:
    """Give the phones that are not done with, those never tried first."""
    before = {phone: ringing.channels.get(phone.device_id, {}) for phone in ringing.phones}
    rest = [phone for phone, how in before.items() if how.get("result") not in FINAL]
    return sorted(rest, key=lambda phone: bool(before[phone]))


def _not_before(how: Mapping[str, str]) -> datetime | None:
    text = how.get("not_before")
    return None if text is None else datetime.fromisoformat(text)
