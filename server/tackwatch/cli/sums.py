"""The sums of the trade on the command line."""

from __future__ import annotations

import json
import sys

import click

from tackwatch.api.problems import RequestError
from tackwatch.api.reading import read_json
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.registry import all_sums, calculate, describe, sum_named


@click.command()
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


COMMANDS = (calc,)
