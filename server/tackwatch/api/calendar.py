"""Calendars: a person's feed behind a secret link, and one alarm to keep."""

from __future__ import annotations

from collections.abc import Sequence

from flask import Response, request

from tackwatch.api.current import house, spend_try
from tackwatch.api.doors import ANYONE, NOBODY, Blueprint, door
from tackwatch.work.calendar import calendar_behind, calendar_of_one
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotFoundError
from tackwatch.work.letters import Entry, Reader

MEDIA_TYPE = "text/calendar"
blueprint = Blueprint("calendar", __name__)


@door(
    blueprint, "GET", "/api/calendar/<token>.ics",
    who=NOBODY, media=(MEDIA_TYPE,), also=304, problems=(404, 429),
)  # fmt: skip
def get_calendar(token: str) -> Response:
    """Give the calendar that a link opens; 304 when it is as before."""
    now = house().ports.clock.now()
    try:
        reader, entries = calendar_behind(token, now)
    except NotFoundError:
        spend_try("calendar")
        raise
    return _answer(reader, entries, feed=True)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/alarms/<alarm_id>.ics",
    who=ANYONE, media=(MEDIA_TYPE,), also=304,
)  # fmt: skip
def get_alarm(caller: Caller, alarm_id: str) -> Response:
    """Give one of the caller's alarms for the phone's own calendar."""
    now = house().ports.clock.now()
    found = calendar_of_one(caller.refit_id, caller.member_id, alarm_id, now)
    answer = _answer(*found, feed=False)
    answer.headers["Content-Disposition"] = 'attachment; filename="alarm.ics"'
    return answer


def _answer(reader: Reader, entries: Sequence[Entry], *, feed: bool) -> Response:
    content = house().letters.calendar(reader, entries, feed=feed)
    answer = Response(content, mimetype=MEDIA_TYPE)
    answer.headers["Cache-Control"] = "private, no-cache"
    answer.add_etag()
    answer.make_conditional(request)
    return answer
