"""Photos in pieces: the tus protocol, version 1.0.0, core with the extensions *creation* and *expiration*.

Beyond the protocol, and within it: the address of an upload ends in the photo's SHA-256, so that beginning it again
finds it; the answer to that says how far it came, in ``Upload-Offset``. What the protocol calls the upload's metadata
says the hash, and whether what the camera wrote is kept on purpose.

Source: https://tus.io/protocols/resumable-upload, version 1.0.0.
"""

from __future__ import annotations

import base64
import binascii
import re
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any

from flask import Response, request, url_for
from werkzeug.exceptions import ClientDisconnected
from werkzeug.http import http_date

from tackwatch.api.current import house
from tackwatch.api.doors import CREW, Blueprint, door
from tackwatch.api.problems import RequestError
from tackwatch.work.caller import Caller
from tackwatch.work.errors import WorkError
from tackwatch.work.photo_uploads import Standing, Yard, begin, receive, standing
from tackwatch.work.photos import MOST_BYTES

VERSION = "1.0.0"
MEDIA_TYPE = "application/offset+octet-stream"
PIECE_B = 16 * 1024
HEARD_OUT_B = 1024 * 1024
SILENCE_S = 30.0
_WHOLE = re.compile(r"[0-9]{1,15}")

blueprint = Blueprint("photo_uploads", __name__)


def _header(name: str, about: str, *, required: bool = True) -> dict[str, Any]:
    schema = {"type": "string"}
    return {
        "in": "header",
        "name": name,
        "required": required,
        "schema": schema,
        "description": about,
    }


_TUS = _header("Tus-Resumable", "The protocol's version, 1.0.0")
_BODY = {"required": True, "content": {MEDIA_TYPE: {"schema": {}}}}


@door(
    blueprint, "POST", "/api/refits/<refit_id>/uploads",
    who=CREW, status=201, problems=(400, 412, 413, 422),
    doc={"parameters": [
        _TUS,
        _header("Upload-Length", "How many bytes the photo has"),
        _header("Upload-Metadata", "sha256 (of all bytes, in hex), keep_metadata (true or false), each in base64"),
    ]},
)  # fmt: skip
def begin_upload(caller: Caller) -> Response:
    """Begin to send a photo in pieces, or find out how far it came."""
    _check_version()
    size_b = _whole("Upload-Length")
    said = _metadata(request.headers.get("Upload-Metadata", ""))
    sha256, keep_metadata = said.get("sha256", ""), _yes(said.get("keep_metadata", "false"))
    now = begin(caller, sha256, size_b, _yard(), keep_metadata=keep_metadata)
    answer = _answer(now, 201)
    answer.headers["Location"] = url_for(
        "photo_uploads.go_on", refit_id=caller.refit_id, sha256=sha256
    )
    return answer


@door(
    blueprint, "HEAD", "/api/refits/<refit_id>/uploads/<sha256>",
    who=CREW, problems=(410, 412, 422), doc={"parameters": [_TUS]},
)  # fmt: skip
def ask_upload(caller: Caller, sha256: str) -> Response:
    """Say how far an upload came."""
    _check_version()
    return _answer(standing(caller, sha256, _yard()), 200)


@door(
    blueprint, "PATCH", "/api/refits/<refit_id>/uploads/<sha256>",
    who=CREW, status=204, problems=(400, 409, 410, 411, 412, 413, 415, 422),
    doc={"parameters": [_TUS, _header("Upload-Offset", "Where the body goes on")], "requestBody": _BODY},
)  # fmt: skip
def go_on(caller: Caller, sha256: str) -> Response:
    """Take the next bytes of a photo; with the last ones it is checked and kept."""
    _check_version()
    if request.mimetype != MEDIA_TYPE or request.headers.get("Content-Encoding"):
        raise RequestError(415, "not-bytes", f"A plain {MEDIA_TYPE} is needed.", "content-type")
    if "Transfer-Encoding" in request.headers:
        raise RequestError(411, "no-length", "Content-Length is needed.", "content-length")
    request.max_content_length = MOST_BYTES
    with _not_for_ever(), _heard_out():
        now = receive(caller, sha256, _whole("Upload-Offset"), _pieces(), _yard())
    return _answer(now, 204)


@blueprint.after_request  # type: ignore[untyped-decorator]
def _name_protocol(answer: Response) -> Response:
    answer.headers["Tus-Resumable"] = VERSION
    if request.method == "OPTIONS":
        answer.headers["Tus-Extension"] = "creation,expiration"
        answer.headers["Tus-Max-Size"] = str(MOST_BYTES)
    if request.method == "OPTIONS" or answer.status_code == 412:
        answer.headers["Tus-Version"] = VERSION
    return answer


def _answer(now: Standing, status: int) -> Response:
    answer = Response(status=status)
    answer.headers["Upload-Offset"] = str(now.at_b)
    answer.headers["Upload-Length"] = str(now.size_b)
    if now.expires_at is not None:
        answer.headers["Upload-Expires"] = http_date(now.expires_at)
    return answer


def _yard() -> Yard:
    here = house()
    return Yard(here.settings, here.ports)


def _check_version() -> None:
    if request.headers.get("Tus-Resumable") != VERSION:
        raise RequestError(
            412, "unknown-version", f"This server speaks tus {VERSION}.", "tus-resumable"
        )


def _whole(name: str) -> int:
    text = request.headers.get(name, "")
    if not _WHOLE.fullmatch(text):
        raise RequestError(
            422, "value-not-valid", "A whole number, 0 or more, is needed here.", name.lower()
        )
    return int(text)


def _metadata(text: str) -> dict[str, str]:
    """Read ``key base64, key base64``; a key may stand without a value."""
    said = {}
    for pair in filter(None, (one.strip() for one in text.split(","))):
        key, _, value = pair.partition(" ")
        try:
            said[key] = base64.b64decode(value, validate=True).decode("utf-8")
        except (binascii.Error, ValueError):
            raise RequestError(
                422, "value-not-valid", "Each value is needed in base64.", "upload-metadata"
            ) from None
    return said


def _yes(text: str) -> bool:
    if text not in ("true", "false"):
        raise RequestError(422, "value-not-valid", "Say true or false.", "keep_metadata")
    return text == "true"


def _pieces() -> Iterator[bytes]:
    """Give the body as it comes. After a break ever smaller pieces fetch what had come before it."""
    size_b = PIECE_B
    while True:
        try:
            piece = request.stream.read(size_b)
        except ClientDisconnected:
            if size_b == 1:
                raise
            size_b //= 2
            continue
        if not piece:
            return
        yield piece


@contextmanager
def _heard_out() -> Iterator[None]:
    """Let a sender finish before it is told no: one that is cut off in the middle of its body does not hear why."""
    try:
        yield
    except WorkError:
        left_b = HEARD_OUT_B
        with suppress(ClientDisconnected):
            while left_b > 0 and (piece := request.stream.read(PIECE_B)):
                left_b -= len(piece)
        raise


@contextmanager
def _not_for_ever() -> Iterator[None]:
    """End a request whose sender has fallen silent: a phone out of reach does not say that it is gone."""
    line = request.environ.get("gunicorn.socket")
    before = line.gettimeout() if line is not None else None
    if line is not None:
        line.settimeout(SILENCE_S)
    try:
        yield
    finally:
        if line is not None:
            line.settimeout(before)
