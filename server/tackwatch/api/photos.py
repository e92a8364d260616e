"""Photos: their bytes in and out, named by their hash."""

from __future__ import annotations

from typing import Any

from flask import Response, request, send_file

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, CREW, Blueprint, door
from tackwatch.api.reading import unpacked
from tackwatch.api.schemas.photos import PhotoAsked
from tackwatch.work.caller import Caller
from tackwatch.work.photos import Photo, give_out, give_out_small, take_in
from tackwatch.work.pictures import MEDIA_TYPES, THUMBNAIL_TYPE

MOST_WHOLE_BYTES = 4 * 1024 * 1024
blueprint = Blueprint("photos", __name__)

_BYTES: dict[str, Any] = {media_type: {"schema": {}} for media_type in MEDIA_TYPES}


@door(
    blueprint, "PUT", "/api/refits/<refit_id>/photos/<sha256>",
    who=CREW, asks=PhotoAsked, status=201, also=204, problems=(400, 413, 415, 422),
    doc={"requestBody": {"required": True, "content": _BYTES}},
)  # fmt: skip
def put_photo(caller: Caller, asked: dict[str, bool], sha256: str) -> Response:
    """Keep a photo that is sent in one go; 204 when it is here already."""
    here = house()
    content = unpacked(request, MOST_WHOLE_BYTES)
    keep_metadata = asked["keep_metadata"]
    new = take_in(caller, sha256, content, here.settings, here.ports, keep_metadata=keep_metadata)
    return Response(status=201 if new else 204)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/photos/<sha256>",
    who=ANYONE, media=MEDIA_TYPES, problems=(422,),
)  # fmt: skip
def get_photo(caller: Caller, sha256: str) -> Response:
    """Give a photo's bytes."""
    return _answer(give_out(caller, sha256, house().settings.data_dir))


@door(
    blueprint, "GET", "/api/refits/<refit_id>/photos/<sha256>/thumbnail",
    who=ANYONE, media=(THUMBNAIL_TYPE,), problems=(422,),
)  # fmt: skip
def get_thumbnail(caller: Caller, sha256: str) -> Response:
    """Give a photo drawn small, for lists."""
    return _answer(give_out_small(caller, sha256, house().settings.data_dir))


def _answer(photo: Photo) -> Response:
    """Give a file that never changes, and that no browser shall take for a page."""
    answer = send_file(photo.place, mimetype=photo.media_type, etag=photo.tag, conditional=True)
    answer.headers["Content-Disposition"] = "inline"
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
