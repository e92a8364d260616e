"""The server's commands: serve, ring the alarms, make plans, look after the database, print the API's description."""

from __future__ import annotations

import json
import os
import signal
import threading
import time
from collections.abc import Callable
from functools import wraps
from typing import Any

import click

from tackwatch.alarms import process
from tackwatch.app import build, create_app
from tackwatch.settings import SettingError, Settings, from_environment
from tackwatch.store import schema
from tackwatch.store.schema import SchemaError
from tackwatch.work import restored as restoring
from tackwatch.work import serving
from tackwatch.work.demo import begin_demo
from tackwatch.work.logs import configure
from tackwatch.work.planning import process as planning
from tackwatch.work.ports import system_ports


def _plain_errors(command: Callable[..., None]) -> Callable[..., None]:
    """Say what a person can put right in one line, without an account of the program."""

    @wraps(command)
    def run(**options: Any) -> None:
        try:
            command(**options)
        except (SettingError, SchemaError) as error:
            raise click.ClickException(str(error)) from None

    return run


@click.command()
@click.option("--host", default="127.0.0.1", show_default=True, help="Address to listen on.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(1, 65535))
@click.option("--workers", default=2, show_default=True, type=click.IntRange(1, 64))
@click.option(
    "--threads",
    default=64,
    show_default=True,
    type=click.IntRange(2, 1024),
    help="Threads per worker; each open page holds one.",
)
@click.option(
    "--alarms/--no-alarms",
    default=True,
    show_default=True,
    help="Ring the alarms from here, or leave that to 'tackwatch alarms' elsewhere.",
)
@click.option(
    "--plans/--no-plans",
    default=True,
    show_default=True,
    help="Work out plans from here, or leave that to 'tackwatch plans' elsewhere.",
)
@_plain_errors
def serve(host: str, port: int, workers: int, threads: int, alarms: bool, plans: bool) -> None:
    """Serve the app, its API, the alarms and the plans."""
    settings = from_environment()
    _bring_up(settings)
    how = serving.Serving(host, port, workers, threads, with_alarms=alarms, with_plans=plans)
    serving.run(lambda: create_app(settings, most_streams=how.streams), how)


@click.command()
@click.option(
    "--while-child-of", type=int, hidden=True, help="End when this is no longer the parent."
)
@_plain_errors
def alarms(while_child_of: int | None) -> None:
    """Ring the alarms. Several of these may run at once, on several machines; none rings twice."""
    app = create_app(from_environment())
    if while_child_of is not None:
        threading.Thread(target=_end_with_parent, args=(while_child_of,), daemon=True).start()
    process.run(app)


@click.command()
@click.option(
    "--while-child-of", type=int, hidden=True, help="End when this is no longer the parent."
)
@_plain_errors
def plans(while_child_of: int | None) -> None:
    """Work out plans. Several of these may run at once, on several machines; none does what another is doing."""
    settings = from_environment()
    app = create_app(settings)
    if while_child_of is not None:
        threading.Thread(target=_end_with_parent, args=(while_child_of,), daemon=True).start()
    planning.run(app.app_context, system_ports(), settings.data_dir / "compiled")


@click.command()
@_plain_errors
def migrate() -> None:
    """Bring the database's schema up to this version of the program. 'serve' does so by itself."""
    click.echo(f"The database is at revision {_bring_up(from_environment())}.")


@click.command()
@_plain_errors
def restored() -> None:
    """Run this once after the database was restored from a backup, before serving.

    Phones then notice that the server has lost what came after the backup, and hand it over again.
    """
    app = create_app(from_environment())
    with app.app_context():
        count = restoring.restored(system_ports())
        schema.let_go()
    click.echo(f"{count} refits will be compared with what the phones still have.")


@click.command()
@_plain_errors
def demo() -> None:
    """Make an invented refit to try things out, once, and print a fresh way in for each of its people."""
    settings = from_environment()
    app = create_app(settings)
    with app.app_context():
        links = begin_demo(settings.public_url, system_ports())
        schema.let_go()
    for link in links:
        click.echo(f"{link.name} ({link.role}): {link.link}")


@click.command()
@_plain_errors
def openapi() -> None:
    """Print the API's description (OpenAPI 3.1)."""
    app = build(from_environment(), system_ports())
    api = app.extensions["flask-smorest"]["apis"][""]["ext_obj"]
    click.echo(json.dumps(api.spec.to_dict(), indent=2))


def _bring_up(settings: Settings) -> str:
    """Bring the schema up and leave no connection open to the processes that are started next."""
    configure(as_json=settings.log_json)
    app = build(settings, system_ports())
    with app.app_context():
        try:
            return schema.bring_up()
        finally:
            schema.let_go()


def _end_with_parent(parent: int) -> None:
    """Ask this process to stop when the one that started it is gone."""
    while os.getppid() == parent:
        time.sleep(1)
    os.kill(os.getpid(), signal.SIGTERM)


COMMANDS = (serve, alarms, plans, migrate, restored, demo, openapi)
