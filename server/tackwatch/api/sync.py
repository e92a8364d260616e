"""Sync: the one round trip in which a phone hands over and takes; see docs/sync.md."""

from __future__ import annotations

from functools import partial
from typing import Any

from flask import Response, current_app, request
from flask.ctx import AppContext

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, Blueprint, door
from tackwatch.api.schemas.sync import SyncAnswerSchema, SyncPlaceSchema, SyncRequestSchema
from tackwatch.merge.catalogue import SCHEMA
from tackwatch.work.caller import Caller
from tackwatch.work.snapshot import make_ready, page_of
from tackwatch.work.sync import PROTOCOL, SyncRequest, anything_new, sync

blueprint = Blueprint("sync", __name__)


@door(
    blueprint, "POST", "/api/refits/<refit_id>/sync",
    who=ANYONE, takes=SyncRequestSchema, gives=SyncAnswerSchema, problems=(409,),
)  # fmt: skip
def post_sync(caller: Caller, asked: SyncRequest) -> Response:
    """Hand over what was done on this device and take what the others did."""
    return _with_silence(_answer(caller, asked))


@door(
    blueprint, "GET", "/api/refits/<refit_id>/sync",
    who=ANYONE, asks=SyncPlaceSchema, gives=SyncAnswerSchema, also=204,
)  # fmt: skip
def get_sync(caller: Caller, place: dict[str, Any]) -> Response:
    """Take what the others did, with nothing to hand over, by one who takes snapshots and parts; 204: nothing new."""
    if not anything_new(caller, **place):
        return _with_silence(_bare(204))
    device_id = caller.device_id
    asked = SyncRequest(
        PROTOCOL, SCHEMA, device=device_id, operations=(), snapshot=True, parts=True, **place
    )
    return _with_silence(_answer(caller, asked))


@door(
    blueprint, "GET", "/api/refits/<refit_id>/snapshot/<version>/<number>",
    who=ANYONE, media=("application/json",), also=304,
)  # fmt: skip
def get_snapshot(caller: Caller, version: str, number: str) -> Response:
    """Give a page of a prepared snapshot; it never changes, and is always packed with gzip."""
    answer = Response(page_of(caller, version, number), mimetype="application/json")
    answer.headers["Content-Encoding"] = "gzip"
    answer.set_etag(f"{version}-{number}")
    answer.make_conditional(request)
    return answer


def _answer(caller: Caller, asked: SyncRequest) -> Response:
    made = sync(caller, asked, house().ports)
    answer = Response(made.as_json(), mimetype="application/json")
    if made.aged:
        answer.call_on_close(partial(_prepare, current_app.app_context(), caller.refit_id))
    return answer


def _with_silence(answer: Response) -> Response:
    """Let an answer say that nobody rings the alarms; while somebody does it says nothing."""
    here = house()
    if here.watch.is_silent(here.ports.clock.now()):
        answer.headers["Tackwatch-Bell"] = "silent"
    return answer


def _prepare(app: AppContext, refit_id: str) -> None:
    """Make a snapshot when the answer is out; if that fails, the next who needs it makes it."""
    with app:
        make_ready(refit_id, house().ports.clock.now(), needed=False)


def _bare(status: int) -> Response:
    answer = Response(status=status)
    del answer.headers["Content-Type"]
    return answer
