"""A door: one line that says who may come in, what they bring, and what they are given.

``@door(blueprint, "POST", "/api/refits/<refit_id>/invites", who=OWNER, takes=..., gives=..., status=201)`` reads as the
contract of an endpoint and writes it into the OpenAPI document. The view is called with the caller (if any), then what
was brought, then the parts of the path.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import wraps
from http import HTTPStatus
from typing import Any

from flask import g, request
from flask_smorest import Blueprint as SmorestBlueprint
from marshmallow import Schema

from tackwatch.api.current import house
from tackwatch.api.reading import StrictParser
from tackwatch.work.caller import Caller
from tackwatch.work.errors import NotAllowedError, NotSignedInError
from tackwatch.work.sign_in import sign_in

Roles = tuple[str, ...]
OWNER: Roles = ("owner",)
CREW: Roles = ("owner", "hand")
ANYONE: Roles = ("owner", "hand", "viewer")
NOBODY: None = None  # the door is open to those without a key

View = Callable[..., Any]


class Blueprint(SmorestBlueprint):  # type: ignore[misc]
    """A blueprint whose doors read bodies strictly."""

    ARGUMENTS_PARSER = StrictParser()


def door(
    blueprint: Any,
    method: str,
    rule: str,
    *,
    who: Roles | None,
    takes: type[Schema] | None = None,
    asks: type[Schema] | None = None,
    gives: type[Schema] | None = None,
    status: int = 200,
    media: tuple[str, ...] = (),
    also: int | None = None,
    problems: tuple[int, ...] = (),
    doc: dict[str, Any] | None = None,
) -> Callable[[View], View]:
    """Open a door.

    Parameters
    ----------
    who
        The roles that may come in; ``NOBODY`` for those without a key.
    takes
        The schema of the JSON body.
    asks
        The schema of the query.
    gives, status
        The schema and the status of the answer.
    media
        The media types of an answer that is not JSON.
    also
        Another status of success, without a body.
    problems
        Statuses of problems that are peculiar to this door.
    doc
        Whatever else belongs into the OpenAPI document.
    """

    def decorate(view: View) -> View:
        inner: View = view
        if takes is not None:
            inner = blueprint.arguments(takes)(inner)
        if asks is not None:
            inner = blueprint.arguments(asks, location="query")(inner)
        outer: View = _signed_in(inner, who) if who is not None else inner
        if gives is not None:
            outer = blueprint.response(status, gives)(outer)
        elif media:
            for one in media:
                outer = blueprint.alt_response(status, schema={}, content_type=one, success=True)(
                    outer
                )
        else:
            outer = blueprint.alt_response(status, success=True)(outer)
        if also is not None:
            outer = blueprint.alt_response(also, success=True)(outer)
        for code in sorted({*problems, *_usual_problems(who, takes)}):
            outer = blueprint.alt_response(code, response=HTTPStatus(code).name)(outer)
        security: list[dict[str, list[str]]] = [{"device_key": []}] if who is not None else []
        outer = blueprint.doc(security=security, **(doc or {}))(outer)
        blueprint.route(rule, methods=[method])(outer)
        return outer

    return decorate


def _usual_problems(who: Roles | None, takes: type[Schema] | None) -> set[int]:
    usual = {401, 404} if who is not None else set()
    if who is not None and who != ANYONE:
        usual.add(403)
    return usual | ({400, 413, 415, 422} if takes is not None else set())


def _signed_in(view: View, who: Roles) -> View:
    @wraps(view)
    def checked(*args: Any, refit_id: str, **path: Any) -> Any:
        caller = sign_in(refit_id, _key(), house().ports.clock.now())
        g.device_id = caller.device_id
        _check_role(caller, who)
        return view(caller, *args, **path)

    return checked


def _check_role(caller: Caller, who: Roles) -> None:
    if caller.role not in who:
        raise NotAllowedError(
            "not-allowed", f"A person with the role {caller.role} may not do this."
        )


def _key() -> str:
    scheme, _, key = request.headers.get("Authorization", "").partition(" ")
    if scheme.lower() != "bearer" or not key.strip():
        raise NotSignedInError("key-missing", "A device's key is needed to come in.")
    return key.strip()
