"""A device of the crew without a screen: coming aboard, following, a sensor's readings, and what waits to be sent."""

from __future__ import annotations

import json
import os
import random
import signal
import sys
import time
from collections.abc import Callable, Mapping
from functools import wraps
from pathlib import Path
from typing import Any

import click

from tackwatch.remote.copy import Copy
from tackwatch.remote.errors import (
    InputError,
    KeyRefusedError,
    LaterError,
    RemoteError,
    StoreError,
    VersionsError,
)
from tackwatch.remote.exchange import exchange
from tackwatch.remote.follow import Surroundings, follow_once
from tackwatch.remote.follow import follow as follow_on
from tackwatch.remote.join import join as come_aboard
from tackwatch.remote.lines import Words
from tackwatch.remote.news import Named, News
from tackwatch.remote.readings import log_reading, read_line
from tackwatch.remote.sender import Sender
from tackwatch.remote.wire import ProblemError
from tackwatch.work.ports import system_ports

_EXITS: tuple[tuple[type[RemoteError], int], ...] = (
    (InputError, os.EX_DATAERR),
    (ProblemError, os.EX_DATAERR),
    (LaterError, os.EX_TEMPFAIL),
    (KeyRefusedError, os.EX_NOPERM),
    (VersionsError, os.EX_PROTOCOL),
    (StoreError, os.EX_IOERR),
)
_EXIT_WORDS = """\b
Exit status: 0 done, or safely written down; 2 wrong usage; 65 the input or the
link is not valid; 74 the file cannot be used; 75 the server cannot be reached
just now; 76 this program or the server has to be updated; 77 the key was
withdrawn or is not known.
"""
_store = click.option(
    "--store",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    help="The file in which this device keeps its key, its copy and what waits to be sent.",
)


def _plain_errors(command: Callable[..., None]) -> Callable[..., None]:
    """Say in one line what went wrong, and end with a status of its own."""

    @wraps(command)
    def run(**options: Any) -> None:
        try:
            command(**options)
        except RemoteError as error:
            said = f"{error.field}: {error.detail}" if error.field else error.detail
            click.echo(f"Error: {said}", err=True)
            sys.exit(next(status for kind, status in _EXITS if isinstance(error, kind)))
        except BrokenPipeError:
            # whoever read us is gone; what was not told is told the next time
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            sys.exit(os.EX_IOERR)

    return run


@click.command(epilog=_EXIT_WORDS)
@click.argument("link")
@click.option("--name", required=True, help="What the crew sees, such as 'shed sensor'.")
@_store
@_plain_errors
def join(link: str, name: str, store: Path) -> None:
    """Come aboard with an invite's LINK, which works once, and load the refit.

    Put the link in quotes: it holds a '#'. The file holds the key; whoever reads it is this device.
    """
    copy = come_aboard(link, name, store, _now_ms)
    click.echo(f"Joined as device {copy.meta().device_id}; the key is in {store}.")
    try:
        exchange(copy)
    except LaterError as error:
        click.echo(
            f"Nothing is loaded yet: {error.detail} It is tried again the next time.", err=True
        )
    finally:
        copy.close()


@click.command(epilog=_EXIT_WORDS)
@_store
@click.option(
    "--json", "as_json", is_flag=True, help="One JSON object on each line: what, before, after."
)
@click.option("--once", is_flag=True, help="Exchange once, tell what changed, and end.")
@click.option(
    "--poll",
    type=click.FloatRange(min=1),
    metavar="SECONDS",
    help="Ask every so often; no live stream.",
)
@click.option("--server", metavar="ADDRESS", help="The server has moved here; kept from now on.")
@_plain_errors
def follow(store: Path, as_json: bool, once: bool, poll: float | None, server: str | None) -> None:
    """Print what changes, one line each, as it happens; goes on by itself when the server was away.

    Each change is told at least once, also those that came while nobody followed after the first time. What waits here
    is sent as well. Ctrl-C or SIGTERM ends it.
    """
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    copy = _open(store, server)
    tell = _tell_json if as_json else _telling(copy)
    try:
        if once:
            follow_once(copy, tell)
        else:
            follow_on(copy, tell, _around(), poll)
    except KeyboardInterrupt:
        sys.exit(0)
    finally:
        copy.close()


@click.command("log-reading", epilog=_EXIT_WORDS)
@_store
@click.option("--air-c", type=float, help="Temperature of the air, degC.")
@click.option("--surface-c", type=float, help="Temperature of the surface, degC.")
@click.option("--rh-pct", type=float, help="Relative humidity of the air, %.")
@click.option("--taken-at", help="When it was taken, such as 2026-03-02T08:30:00Z.  [now]")
@click.option("--zone", help="Name or id of the zone that it was taken in.")
@click.option(
    "--stdin", "from_stdin", is_flag=True, help="Read one JSON object a line, with these names."
)
@click.option("--server", metavar="ADDRESS", help="The server has moved here; kept from now on.")
@_plain_errors
def log_reading_command(
    store: Path, from_stdin: bool, server: str | None, **given: float | str | None
) -> None:
    """Log a reading of the air or a surface; without a signal it is kept and sent the next time.

    With --stdin a sensor pipes lines such as {"air_c": 14.5, "rh_pct": 62}; a line that cannot be used is named on the
    standard error and the others go on.
    """
    reading = {name: value for name, value in given.items() if value is not None}
    if from_stdin and reading:
        raise click.UsageError("--stdin brings the values; give no others.")
    copy = _open(store, server)
    try:
        status = _log_lines(copy, store) if from_stdin else _log_one(copy, reading)
    finally:
        copy.close()
    sys.exit(status)


@click.command(epilog=_EXIT_WORDS)
@_store
@click.option("--json", "as_json", is_flag=True, help="One JSON object on each line.")
@_plain_errors
def outbox(store: Path, as_json: bool) -> None:
    """List what waits to be sent and what the server refused, with its reason; needs no signal."""
    copy = _open(store)
    try:
        for one in (*copy.operations("waiting"), *copy.operations("refused")):
            if as_json:
                click.echo(_as_json({**one.sent(), "status": one.status, "problem": one.problem}))
                continue
            why = f": {one.problem['detail']}" if one.problem else ""
            click.echo(f"{one.n} {one.act} {one.status}{why}")
    finally:
        copy.close()


COMMANDS = (join, follow, log_reading_command, outbox)


def _log_one(copy: Copy, reading: Mapping[str, Any]) -> int:
    filed = log_reading(copy, reading)
    try:
        exchange(copy)
    except LaterError as error:
        click.echo(f"Written down, not sent yet: {error.detail}", err=True)
    return _refused(copy, filed.n)


def _log_lines(copy: Copy, store: Path) -> int:
    """Write each line down as it comes while a thread sends; at the end what is left is tried once more."""
    status = 0
    first_n = copy.meta().next_n
    sender = Sender(store, _now_ms, _around())
    for number, line in enumerate(sys.stdin, 1):
        if not line.strip():
            continue
        try:
            log_reading(copy, read_line(line))
        except InputError as error:
            field = f"{error.field}: " if error.field else ""
            click.echo(f"Line {number}: {field}{error.detail}", err=True)
            status = os.EX_DATAERR
        sender.written()
    sender.end()
    try:
        exchange(copy)
    except LaterError as error:
        waiting = len(copy.operations("waiting"))
        click.echo(f"Written down, {waiting} not sent yet: {error.detail}", err=True)
    return _refused(copy, first_n) or status


def _refused(copy: Copy, first_n: int) -> int:
    """Say what the server refused of what was written down just now."""
    refused = [one for one in copy.operations("refused") if one.n >= first_n]
    for one in refused:
        click.echo(f"Refused: {(one.problem or {}).get('detail', '')}", err=True)
    return os.EX_DATAERR if refused else 0


def _open(store: Path, server: str | None = None) -> Copy:
    copy = Copy.open(store, _now_ms)
    if server is not None:
        if not server.startswith(("http://", "https://")):
            copy.close()
            raise InputError("An address such as https://boat.example is needed.", "server")
        copy.change(server=server.rstrip("/"))
    return copy


def _telling(copy: Copy) -> Callable[[News, Named], None]:
    refit_id = copy.meta().refit_id

    def tell(news: News, named: Named) -> None:
        click.echo(Words(named, refit_id).line(news))

    return tell


def _tell_json(news: News, _: Named) -> None:
    click.echo(_as_json({"what": news.what, "before": news.before, "after": news.after}))


def _as_json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False)


def _now_ms() -> int:
    return round(system_ports().clock.now().timestamp() * 1000)


def _around() -> Surroundings:
    chance = random.SystemRandom().random
    return Surroundings(chance, time.sleep, lambda text: click.echo(text, err=True))
