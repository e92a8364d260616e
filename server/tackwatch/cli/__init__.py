"""The command ``tackwatch``: the server's commands, the sums, a device without a screen, the planner's benchmark."""

from __future__ import annotations

from importlib.metadata import version

import click

from tackwatch.cli import device, plan_benchmark, server, sums

_EPILOG = """\b
Settings of the server are read from the environment:
  TACKWATCH_DATA_DIR            folder of the embedded database and the photos [data]
  TACKWATCH_DATABASE_URL        postgresql://... or sqlite:///...  [SQLite in the data folder]
  TACKWATCH_PUBLIC_URL          where phones reach this server; links are made with it
  TACKWATCH_PUSH_CONTACT        mailto: or https: address of whoever runs this server
  TACKWATCH_PUSH_HOSTS          host names of the push services that may be posted to
  TACKWATCH_TRUSTED_PROXIES     how many reverse proxies stand in front [0]
  TACKWATCH_SIGN_IN_PER_MINUTE  tries at links and codes that an address has a minute [20]
  TACKWATCH_PHOTOS_PER_REFIT    how many photos a refit may have [10000]
  TACKWATCH_PHOTO_MB_PER_REFIT  how many megabytes they may take [10000]
  TACKWATCH_LOG                 json or plain [json]
"""


@click.group(epilog=_EPILOG)
@click.version_option(version("tackwatch"), prog_name="tackwatch")
def main() -> None:
    """Run a haul-out refit from the crew's phones.

    'tackwatch serve' is all that a small crew needs: it makes the database, serves the app and its API, rings the
    alarms and works out plans. Put a reverse proxy with TLS in front, since phones take an app from a secure address
    only.

    'tackwatch join' makes this machine one of the crew's devices, for a sensor or a screen in the shed.
    """


for command in (*server.COMMANDS, *sums.COMMANDS, *device.COMMANDS, *plan_benchmark.COMMANDS):
    main.add_command(command)
