"""Reading a request's body: unpacked within a limit, and as strict JSON.

Rules
-----
- ``Content-Encoding: gzip`` is unpacked piece by piece and stopped at the limit, however small the packed body was.
- JSON is UTF-8; ``NaN``, infinities and numbers beyond a double are refused, and so is nesting deeper than a limit.
  A key that stands twice counts as its last value.
"""

from __future__ import annotations

import json
import math
import zlib
from typing import Any, NoReturn

from flask import Request
from webargs import core
from webargs.flaskparser import FlaskParser

from tackwatch.api.problems import RequestError

MOST_BYTES = 8 * 1024 * 1024
_DEEPEST = 40
_PIECE = 64 * 1024
_GZIP = zlib.MAX_WBITS | 16


class StrictParser(FlaskParser):
    """Reads bodies with the rules of this module; unknown query parameters are refused like unknown fields."""

    DEFAULT_UNKNOWN_BY_LOCATION = {**FlaskParser.DEFAULT_UNKNOWN_BY_LOCATION, "query": "raise"}  # noqa: RUF012

    def _raw_load_json(self, req: Request) -> Any:
        if not core.is_json(req.mimetype):
            raise RequestError(
                415, "not-json", "A body of the type application/json is needed.", "content-type"
            )
        return read_json(unpacked(req, MOST_BYTES))


def unpacked(request: Request, most: int) -> bytes:
    """Give a request's body without its packing.

    Raises
    ------
    RequestError
        When it is packed in another way, badly, or too large when unpacked.
    """
    packing = request.headers.get("Content-Encoding", "").strip().lower()
    if request.content_length is not None and request.content_length > most:
        raise _too_large(most)
    if packing in ("", "identity"):
        content = request.stream.read(most + 1)
        if len(content) > most:
            raise _too_large(most)
        return content
    if packing != "gzip":
        raise RequestError(
            415, "unknown-encoding", "Only gzip can be unpacked.", "content-encoding"
        )
    return _gunzip(request, most)


def read_json(content: bytes) -> Any:
    """Read strict JSON.

    Raises
    ------
    RequestError
        When it is not that.
    """
    try:
        value = json.loads(
            content.decode("utf-8"), parse_constant=_no_constant, parse_float=_finite
        )
    except (ValueError, RecursionError) as error:
        raise RequestError(400, "not-json", f"The body is not JSON: {_why(error)}.") from None
    if not _shallow(value):
        raise RequestError(400, "too-deep", f"The body is nested deeper than {_DEEPEST} levels.")
    return value


def _gunzip(request: Request, most: int) -> bytes:
    unpacker = zlib.decompressobj(_GZIP)
    pieces: list[bytes] = []
    size = 0
    try:
        while not unpacker.eof and (packed := request.stream.read(_PIECE)):
            while packed and not unpacker.eof:
                piece = unpacker.decompress(packed, _PIECE)
                size += len(piece)
                if size > most:
                    raise _too_large(most)
                pieces.append(piece)
                packed = unpacker.unconsumed_tail
    except zlib.error:
        raise _not_gzip() from None
    if not unpacker.eof or unpacker.unused_data or request.stream.read(1):
        raise _not_gzip()
    return b"".join(pieces)


def _not_gzip() -> RequestError:
    return RequestError(400, "not-gzip", "The body is not whole gzip.")


def _too_large(most: int) -> RequestError:
    return RequestError(413, "too-large", f"At most {most} bytes, unpacked.")


def _no_constant(name: str) -> NoReturn:
    raise ValueError(f"{name} is not a number")


def _finite(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        raise ValueError("a number is too large")
    return value


def _why(error: Exception) -> str:
    if isinstance(error, json.JSONDecodeError):
        return f"{error.msg} at line {error.lineno}, column {error.colno}"
    if isinstance(error, UnicodeDecodeError):
        return "it is not UTF-8"
    return "it is nested too deeply" if isinstance(error, RecursionError) else str(error)


def _shallow(value: Any) -> bool:
    """Say whether no part lies deeper than the limit, without recursion."""
    layer = [value]
    for _ in range(_DEEPEST):
        layer = [
            part
            for one in layer
            if isinstance(one, dict | list)
            for part in (one.values() if isinstance(one, dict) else one)
        ]
        if not layer:
            return True
    return False
