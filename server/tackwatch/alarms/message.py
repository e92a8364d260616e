"""What is sent to a phone about one alarm: the payload, and how the push service shall treat it.

Rules
-----
- The payload is ``{alarm_id, kind, title, body, due_at, lang, url}``; where that is too large, the id alone.
- It is kept for an offline phone until the alarm is of no use any more (``TTL``). Of two for one alarm the later takes
  the place of the earlier (``Topic``), so that a repeated delivery is shown once.
- What cannot wait is urgent: it wakes a sleeping phone.
- One that calls an alarm off says ``withdrawn`` and has its id and topic: it takes the place of the first.
"""

from __future__ import annotations

import json
from base64 import urlsafe_b64encode
from dataclasses import dataclass
from datetime import datetime
from hashlib import sha256
from math import ceil
from typing import Any

from tackwatch.alarms.words import words_for
from tackwatch.trade.warning_kinds import MANNERS
from tackwatch.trade.warnings import iso_of
from tackwatch.work.notices import MISSED_ALARMS as MISSED
from tackwatch.work.notices import PLAN_CHANGED
from tackwatch.work.ring import AlarmRow, Ringing

URL = "/#/now"
_URLS = {MISSED: "/#/alarms", PLAN_CHANGED: "/#/plan"}
LONGEST_TTL_S = 28 * 86_400


@dataclass(frozen=True, slots=True)
class Message:
    """A message that is ready to be sealed for a phone."""

    payload: bytes
    small: bytes
    ttl_s: int
    urgency: str
    topic: str


def message_of(ringing: Ringing, now: datetime) -> Message:
    """Write the message about an alarm, as it reads now."""
    alarm = ringing.alarm
    reader = ringing.reader
    words = words_for(
        alarm.kind, alarm.params, reader.language, reader.time_zone, now, alarm.useless_after
    )
    payload: dict[str, Any] = {
        "alarm_id": alarm.alarm_id,
        "kind": alarm.kind,
        "title": words.title,
        "body": words.body,
        "due_at": iso_of(alarm.due_at),
        "lang": words.lang,
        "url": _URLS.get(alarm.kind, URL),
    }
    withdrawn = "withdrawn" in alarm.params
    if withdrawn:
        payload["withdrawn"] = True
    small = {"alarm_id": alarm.alarm_id, **({"withdrawn": True} if withdrawn else {})}
    left_s = ceil((alarm.useless_after - now).total_seconds())
    return Message(
        payload=_json(payload),
        small=_json(small),
        ttl_s=min(max(left_s, 1), LONGEST_TTL_S),
        urgency="high" if _is_urgent(alarm) and not withdrawn else "normal",
        topic=topic_of(alarm.alarm_id),
    )


def topic_of(alarm_id: str) -> str:
    """Give the alarm's topic: 32 characters of base64url (RFC 8030, 5.4)."""
    return urlsafe_b64encode(sha256(alarm_id.encode()).digest()[:24]).decode()


def _is_urgent(alarm: AlarmRow) -> bool:
    if alarm.kind == MISSED:
        return bool(alarm.params["urgent"])
    manner = MANNERS.get(alarm.kind)  # type: ignore[call-overload]
    return manner is not None and not manner.waits


def _json(value: dict[str, Any]) -> bytes:
    return json.dumps(value, ensure_ascii=False, separators=(",", ":")).encode()
