"""Every answer that is not the one asked for is a problem document (RFC 9457, ``application/problem+json``).

``type`` is a URN that never changes and that programs may rely on; ``title`` and ``detail`` are for people; ``field``
names what is at fault in the request where that can be said, as a path such as ``operations[3].at``.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from http import HTTPStatus
from typing import Any, cast

import structlog
from flask import Flask, Response, g
from flask_smorest import Api
from flask_smorest.utils import prepare_response
from marshmallow import Schema, fields
from werkzeug.exceptions import HTTPException

from tackwatch.merge.errors import RefusedError
from tackwatch.work.errors import NotSignedInError, TooManyError, WorkError

MEDIA_TYPE = "application/problem+json"
_PLAIN = {
    404: "There is nothing at this address.",
    405: "This cannot be done at this address.",
    413: "The body is too large.",
}
_log = structlog.get_logger()


class ProblemSchema(Schema):
    """A problem document."""

    type = fields.Str(required=True, metadata={"format": "uri"})
    title = fields.Str(required=True)
    status = fields.Int(required=True)
    detail = fields.Str(required=True)
    field = fields.Str(metadata={"description": "Path of what is at fault in the request"})
    errors = fields.List(
        fields.Dict(keys=fields.Str(), values=fields.Str()),
        metadata={"description": "All faults, each with field and detail, when there are several"},
    )
    instance = fields.Str(metadata={"description": "The request, as the server's log knows it"})


class ProblemApi(Api):  # type: ignore[misc]
    """The API whose errors are problem documents."""

    ERROR_SCHEMA = ProblemSchema

    def _register_error_handlers(self) -> None:
        super()._register_error_handlers()
        app: Flask = self._app
        app.register_error_handler(WorkError, _work)
        app.register_error_handler(RefusedError, lambda e: _answer(e.as_problem()))
        app.register_error_handler(Exception, _unexpected)

    def handle_http_exception(self, error: HTTPException) -> Response:
        """Answer what Flask or a schema found wrong with the request."""
        if error.response is not None or (error.code or 500) < 400:
            return cast(Response, Response.force_type(error.get_response()))
        found = _faults(getattr(error, "data", {}).get("messages", {}))
        answer = _answer(_from_http(error, found))
        for name, value in error.get_headers():
            if name.lower() not in ("content-type", "content-length"):
                answer.headers[name] = value
        return answer

    def _register_responses(self) -> None:
        for name, text in [
            *((status.name, status.phrase) for status in HTTPStatus if status >= 400),
            ("DEFAULT_ERROR", "A problem"),
        ]:
            response = {"description": text, "schema": self.ERROR_SCHEMA}
            prepare_response(response, self.spec, MEDIA_TYPE)
            self.spec.components.response(name, response, lazy=True)


class RequestError(WorkError):
    """A request that cannot be read at all; ``status`` says which way."""

    def __init__(self, status: int, code: str, detail: str, field: str = "body") -> None:
        super().__init__(code, detail, field)
        self.status = status


def _work(error: WorkError) -> Response:
    answer = _answer(error.as_problem())
    if isinstance(error, NotSignedInError):
        answer.headers["WWW-Authenticate"] = 'Bearer realm="tackwatch"'
    if isinstance(error, TooManyError):
        answer.headers["Retry-After"] = str(error.retry_after_s)
    return answer


def _unexpected(error: Exception) -> Response:
    """Answer a fault of our own: its account goes to the log, its number to the person."""
    if isinstance(error, HTTPException):
        raise error
    number = g.get("request_id", "unknown")
    _log.error("unexpected error", request_id=number, exc_info=error)
    problem = _problem(500, "server-trouble", "The server failed. Nothing was changed.")
    return _answer({**problem, "instance": f"urn:tackwatch:request:{number}"})


def busy(error: Exception) -> Response:
    """Answer that the database is busy or away: nothing was done, and it may be tried again soon."""
    _log.error("the database is busy or away", request_id=g.get("request_id"), exc_info=error)
    answer = _answer(_problem(503, "busy", "The server is busy. Nothing was changed; try again."))
    answer.headers["Retry-After"] = "5"
    return answer


def _from_http(error: HTTPException, faults: list[dict[str, str]]) -> dict[str, Any]:
    status = error.code or 500
    if faults:
        code = "not-valid" if status == 422 else "not-readable"
        first = faults[0]
        problem = {**_problem(status, code, first["detail"]), "field": first["field"]}
        return {**problem, "errors": faults} if len(faults) > 1 else problem
    code = error.name.lower().replace(" ", "-").replace("'", "")
    problem = _problem(status, code, _PLAIN.get(status) or error.description or error.name)
    return {**problem, "field": "body"} if status == 413 else problem


def _faults(messages: Any, path: str = "") -> list[dict[str, str]]:
    """Flatten a schema's messages to field paths, in order; the location (``json``) is left out."""
    if isinstance(messages, Mapping):
        if not path and len(messages) == 1:
            location, below = next(iter(messages.items()))
            if location in ("json", "query"):
                return _faults(below, "") or [{"field": "body", "detail": str(below)}]
        return [
            fault for key, below in messages.items() for fault in _faults(below, _join(path, key))
        ]
    if isinstance(messages, list):
        return [{"field": path or "body", "detail": str(one)} for one in messages[:1]]
    return [{"field": path or "body", "detail": str(messages)}]


def _join(path: str, key: object) -> str:
    if key == "_schema":
        return path
    if isinstance(key, int):
        return f"{path}[{key}]"
    return f"{path}.{key}" if path else str(key)


def _problem(status: int, code: str, detail: str) -> dict[str, Any]:
    return {
        "type": f"urn:tackwatch:problem:{code}",
        "title": code.replace("-", " ").capitalize(),
        "status": status,
        "detail": detail,
    }


def _answer(problem: dict[str, Any]) -> Response:
    return Response(
        json.dumps(problem, ensure_ascii=False), status=problem["status"], mimetype=MEDIA_TYPE
    )
