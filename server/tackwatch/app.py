"""The application factory: wiring only."""

from __future__ import annotations

from collections.abc import Collection
from json import JSONEncoder

from flask import Flask
from flask_migrate import Migrate
from sqlalchemy.exc import OperationalError, TimeoutError
from werkzeug.middleware.proxy_fix import ProxyFix

from tackwatch.alarms.deliver.smtp import MailWaits
from tackwatch.alarms.letters import Writer
from tackwatch.api.problems import busy
from tackwatch.api.register import register
from tackwatch.settings import Settings, from_environment
from tackwatch.store import schema
from tackwatch.store.db import db, prepare_engine
from tackwatch.work import live
from tackwatch.work.house import House
from tackwatch.work.logs import configure
from tackwatch.work.ports import Ports, system_ports
from tackwatch.work.throttle import Throttle

MOST_STREAMS = 48


def create_app(
    settings: Settings | None = None, ports: Ports | None = None, most_streams: int = MOST_STREAMS
) -> Flask:
    """Make the application and bring its database's schema up.

    Parameters
    ----------
    settings
        From the environment unless given.
    ports
        The real world unless given.
    most_streams
        How many live streams one process holds open.
    """
    app = build(settings or from_environment(), ports or system_ports(), most_streams)
    with app.app_context():
        schema.bring_up()
    return app


def build(settings: Settings, ports: Ports, most_streams: int = MOST_STREAMS) -> Flask:
    """Make the application without looking at its database."""
    configure(as_json=settings.log_json)
    settings.data_dir.mkdir(parents=True, exist_ok=True)
    app = Flask("tackwatch", static_folder=None)
    app.json.sort_keys = False  # type: ignore[attr-defined]
    app.json.ensure_ascii = False  # type: ignore[attr-defined]
    app.config["SQLALCHEMY_DATABASE_URI"] = settings.database_url
    app.config["SQLALCHEMY_ENGINE_OPTIONS"] = {
        "pool_pre_ping": True,
        "hide_parameters": True,
        "json_serializer": JSONEncoder(separators=(",", ":")).encode,
    }
    db.init_app(app)
    with app.app_context():
        prepare_engine(db.engine)
    Migrate(app, db, directory=str(schema.MIGRATIONS))
    hub = live.Hub(_look(app, ports), most_streams)
    throttle, letters = Throttle(settings.sign_in_per_minute), Writer(settings, MailWaits())
    app.extensions["tackwatch"] = House(settings, ports, throttle, hub, letters)
    register(app)
    for error in (OperationalError, TimeoutError):
        app.register_error_handler(error, busy)
    if settings.trusted_proxies:
        hops = settings.trusted_proxies
        app.wsgi_app = ProxyFix(app.wsgi_app, x_for=hops, x_proto=hops, x_host=hops)  # type: ignore[method-assign]
    return app


def _look(app: Flask, ports: Ports) -> live.Look:
    def look(refit_ids: Collection[str], device_ids: Collection[str]) -> live.Seen:
        with app.app_context():
            return live.look(refit_ids, device_ids, ports.clock.now())

    return look
