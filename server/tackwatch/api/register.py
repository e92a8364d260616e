"""Hanging the doors into an application, and the OpenAPI document that describes them."""

from __future__ import annotations

from importlib.metadata import version

from flask import Flask

from tackwatch.api import (
    addresses,
    alarms,
    calendar,
    devices,
    headers,
    health,
    invites,
    live,
    log,
    metrics,
    photo_uploads,
    photos,
    plans,
    readiness,
    reference,
    refits,
    sync,
    trade,
    web,
)
from tackwatch.api.problems import ProblemApi
from tackwatch.api.reading import MOST_BYTES

_ABOUT = (
    "Runs a haul-out refit: jobs, cure clocks, alarms, and a sync that loses nothing. "
    "Errors are problem documents (RFC 9457)."
)


def register(app: Flask) -> None:
    """Give an application its doors."""
    app.config.update(
        API_TITLE="Tackwatch",
        API_VERSION=version("tackwatch"),
        OPENAPI_VERSION="3.1.0",
        OPENAPI_URL_PREFIX="/api",
        OPENAPI_JSON_PATH="openapi.json",
        API_SPEC_OPTIONS={"info": {"description": _ABOUT}},
        MAX_CONTENT_LENGTH=MOST_BYTES + 1,
    )
    log.install(app)
    headers.install(app)
    api = ProblemApi(app)
    api.spec.components.security_scheme(
        "device_key",
        {"type": "http", "scheme": "bearer", "description": "The key of one device of one refit"},
    )
    for noun in (reference, refits, invites, devices, sync, alarms, photos, live, trade, readiness):
        api.register_blueprint(noun.blueprint)
    for noun in (photo_uploads, addresses, calendar, health, plans):
        api.register_blueprint(noun.blueprint)
    trade.describe_in(api.spec)
    app.url_map.converters["client_file"] = web.ClientFile
    app.register_blueprint(metrics.blueprint)
    app.register_blueprint(web.blueprint)
