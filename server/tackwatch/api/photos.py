"""Photos: their bytes in and out, named by their hash."""

from __future__ import annotations

from typing import Any

from flask import Response, request, send_file

from tackwatch.api.current import house
from tackwatch.api.doors import ANYONE, CREW, Blueprint, door
from tackwatch.api.reading import unpacked
from tackwatch.work.caller import Caller
from tackwatch.work.photos import MEDIA_TYPES, MOST_BYTES, give_out, take_in

blueprint = Blueprint("photos", __name__)

_BYTES: dict[str, Any] = {media_type: {"schema": {}} for media_type in MEDIA_TYPES}


@door(
    blueprint, "PUT", "/api/refits/<refit_id>/photos/<sha256>",
    who=CREW, status=201, also=204, problems=(400, 413, 415, 422),
    doc={"requestBody": {"required": True, "content": _BYTES}},
)  # fmt: skip
def put_photo(caller: Caller, sha256: str) -> Response:
    """Keep a photo's bytes; 204 when they are here already."""
    here = house()
    new = take_in(caller, sha256, unpacked(request, MOST_BYTES), here.settings.data_dir, here.ports)
    return Response(status=201 if new else 204)


@door(
    blueprint, "GET", "/api/refits/<refit_id>/photos/<sha256>",
    who=ANYONE, media=MEDIA_TYPES, problems=(422,),
)  # fmt: skip
def get_photo(caller: Caller, sha256: str) -> Response:
    """Give a photo's bytes."""
    photo = give_out(caller, sha256, house().settings.data_dir)
    answer = send_file(photo.place, mimetype=photo.media_type, etag=sha256, conditional=True)
    answer.headers["Content-Disposition"] = "inline"
    answer.headers["Content-Security-Policy"] = "default-src 'none'; sandbox"
    answer.headers["Cache-Control"] = "private, max-age=31536000, immutable"
    return answer
