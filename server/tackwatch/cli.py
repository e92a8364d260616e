"""The command ``tackwatch``: serve, ring the alarms, look after the database, print the API's description."""

from __future__ import annotations

import json
import os
import signal
import sys
import threading
import time
from collections.abc import Callable
from functools import wraps
from importlib.metadata import version
from typing import Any

import click

from tackwatch.alarms import process
from tackwatch.api.problems import RequestError
from tackwatch.api.reading import read_json
from tackwatch.app import build, create_app
from tackwatch.settings import SettingError, Settings, from_environment
from tackwatch.store import schema
from tackwatch.store.schema import SchemaError
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.registry import all_sums, calculate, describe, sum_named
from tackwatch.work import restored as restoring
from tackwatch.work import serving
from tackwatch.work.demo import begin_demo
from tackwatch.work.logs import configure
from tackwatch.work.ports import system_ports

_EPILOG = """\b
Settings are read from the environment:
  TACKWATCH_DATA_DIR            folder of the embedded database and the photos [data]
  TACKWATCH_DATABASE_URL        postgresql://... or sqlite:///...  [SQLite in the data folder]
  TACKWATCH_PUBLIC_URL          where phones reach this server; links are made with it
  TACKWATCH_PUSH_CONTACT        mailto: or https: address of whoever runs this server
  TACKWATCH_PUSH_HOSTS          host names of the push services that may be posted to
  TACKWATCH_TRUSTED_PROXIES     how many reverse proxies stand in front [0]
  TACKWATCH_SIGN_IN_PER_MINUTE  tries at links and codes that an address has a minute [20]
  TACKWATCH_LOG                 json or plain [json]
"""


def _plain_errors(command: Callable[..., None]) -> Callable[..., None]:
    """Say what a person can put right in one line, without an account of the program."""

    @wraps(command)
    def run(**options: Any) -> None:
        try:
            command(**options)
        except (SettingError, SchemaError) as error:
            raise click.ClickException(str(error)) from None

    return run


@click.group(epilog=_EPILOG)
@click.version_option(version("tackwatch"), prog_name="tackwatch")
def main() -> None:
    """Run a haul-out refit from the crew's phones.

    'tackwatch serve' is all that a small crew needs: it makes the database, serves the app and its API, and rings the
    alarms. Put a reverse proxy with TLS in front, since phones take an app from a secure address only.
    """


@main.command()
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
@_plain_errors
def serve(host: str, port: int, workers: int, threads: int, alarms: bool) -> None:
    """Serve the app, its API and the alarms."""
    settings = from_environment()
    _bring_up(settings)
    how = serving.Serving(host, port, workers, threads, with_alarms=alarms)
    serving.run(lambda: create_app(settings, most_streams=how.streams), how)


@main.command()
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


@main.command()
@_plain_errors
def migrate() -> None:
    """Bring the database's schema up to this version of the program. 'serve' does so by itself."""
    click.echo(f"The database is at revision {_bring_up(from_environment())}.")


@main.command()
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


@main.command()
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


@main.command()
@_plain_errors
def openapi() -> None:
    """Print the API's description (OpenAPI 3.1)."""
    app = build(from_environment(), system_ports())
    api = app.extensions["flask-smorest"]["apis"][""]["ext_obj"]
    click.echo(json.dumps(api.spec.to_dict(), indent=2))


@main.command()
@click.argument("name", required=False)
@click.argument("given", metavar="JSON", required=False)
def calc(name: str | None, given: str | None) -> None:
    """Work out a sum of the trade: calc dew_point '{"air_c": 25, "rh_pct": 60}'.

    Without arguments it lists the sums, with a name alone it prints what that sum takes and gives. A dash for the JSON
    reads it from the standard input.
    """
    if name is None:
        for one in all_sums().values():
            click.echo(f"{one.name:24} {one.about}")
        return
    try:
        if given is None:
            answer = describe(sum_named(name))
        else:
            text = sys.stdin.read() if given == "-" else given
            answer = calculate(name, read_json(text.encode(errors="surrogatepass")))
    except (TradeError, RequestError) as error:
        raise click.ClickException(str(error)) from None
    click.echo(json.dumps(answer, indent=2, ensure_ascii=False))


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


if __name__ == "__main__":
    sys.exit(main())
