"""Runs a piece of the client's own code in Node: bundled by the client's bundler, fed JSON lines, read back."""

from __future__ import annotations

import json
import subprocess
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
CLIENT = ROOT / "client"


@cache
def bundle(entry: str) -> Path:
    """Bundle one entry of ``client/src`` for Node; give the file."""
    out = CLIENT / "build" / (entry.replace("/", "_").removesuffix(".ts") + ".mjs")
    command = [
        str(CLIENT / "node_modules/.bin/esbuild"),
        str(CLIENT / "src" / entry),
        "--bundle",
        "--platform=node",
        "--format=esm",
        "--log-level=error",
        f"--outfile={out}",
    ]
    subprocess.run(command, check=True, cwd=CLIENT, timeout=60)
    return out


def answers(entry: str, lines: Iterable[dict[str, Any]]) -> list[Any]:
    """Feed lines to a bundled entry and give its answers, one for each line."""
    text = "\n".join(json.dumps(line, allow_nan=False) for line in lines)
    ran = subprocess.run(
        ["node", str(bundle(entry))],
        input=text,
        capture_output=True,
        text=True,
        check=True,
        timeout=100,
    )
    return [json.loads(line) for line in ran.stdout.splitlines()]
