"""The live stream: an open page hears at once that something changed or that an alarm of its person rings."""

from __future__ import annotations

import json
from collections.abc import Iterator

from flask import Response

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, Blueprint, door
from tackwatch.work.caller import Caller
from tackwatch.work.live import Event, Hub, Stream

blueprint = Blueprint("live", __name__)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/live",
    who=ANYONE, media=("text/event-stream",), problems=(429,),
)  # fmt: skip
def get_live(caller: Caller) -> Response:
    """Listen: events ``changed`` with the refit's counter, ``plans``, ``alarm``, and ``quiet`` each 15 seconds."""
    hub = house().hub
    stream = hub.open(caller)
    answer = Response(_text(hub, stream), mimetype="text/event-stream")
    answer.call_on_close(lambda: hub.close(stream))
    answer.headers["Cache-Control"] = "no-store"
    answer.headers["X-Accel-Buffering"] = "no"
    return answer


def _text(hub: Hub, stream: Stream) -> Iterator[str]:
    for event in hub.events(stream):
        yield _frame(event)


def _frame(event: Event) -> str:
    return f"event: {event.name}\ndata: {json.dumps(event.data, ensure_ascii=False)}\n\n"
