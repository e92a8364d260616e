"""One line in the log for each request: which door, how it ended, how long. Never a key, a token or a path's ids."""

from __future__ import annotations

import re
import time

import structlog
from flask import Flask, Response, g, request

from tackwatch.api.current import house

_log = structlog.get_logger()
_NOTHING_TO_SAY = 204  # nobody asks after such an answer, and phones get thousands of them
_NUMBER = re.compile(r"[0-9A-Za-z-]{8,64}")


def install(app: Flask) -> None:
    """Let an application write its log."""
    app.before_request(_begin)
    app.after_request(_end)


def _begin() -> None:
    """Number the request; a number that a proxy in front has given is kept."""
    given = request.headers.get("X-Request-Id", "")
    g.request_id = given if _NUMBER.fullmatch(given) else house().ports.chance.new_id()
    g.began_at = time.perf_counter()


def _end(answer: Response) -> Response:
    if "request_id" not in g:
        return answer
    _log.info(
        "request",
        request_id=g.request_id,
        method=request.method,
        route=str(request.url_rule) if request.url_rule is not None else None,
        status=answer.status_code,
        ms=round((time.perf_counter() - g.began_at) * 1000, 1),
        device_id=g.get("device_id"),
    )
    if answer.status_code != _NOTHING_TO_SAY:
        answer.headers["X-Request-Id"] = g.request_id
    return answer
