"""Whether the server can do its work: the database answers and has the schema that is needed."""

from __future__ import annotations

from importlib.metadata import version
from typing import Any

from tackwatch.store import schema
from tackwatch.work.ports import Ports


def health(ports: Ports) -> dict[str, Any]:
    """Give the state of the server; raises whatever the database raises."""
    present = schema.present()
    return {
        "status": "ok" if present == schema.newest() else "schema-behind",
        "version": version("tackwatch"),
        "time": ports.clock.now().isoformat(timespec="milliseconds").replace("+00:00", "Z"),
    }
