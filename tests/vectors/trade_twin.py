"""The phone's sums, asked from here: one bundle, one process, all cases in one go."""

import json
import os
import subprocess
from collections.abc import Iterable
from functools import cache
from pathlib import Path
from typing import Any

CLIENT = Path(__file__).parents[2] / "client"


@cache
def bundle() -> Path:
    """Bundle the phone's sums for node and give the file."""
    out = CLIENT / "build" / f"clocks_by_name_{os.getpid()}.mjs"
    command = ["node_modules/.bin/esbuild", "src/clocks/vectors_cli.ts", "--bundle"]
    command += ["--platform=node", "--format=esm", "--log-level=warning", f"--outfile={out}"]
    subprocess.run(command, cwd=CLIENT, check=True, timeout=60)
    return out


def ask(cases: Iterable[dict[str, Any]]) -> list[dict[str, Any]]:
    """Give the phone's answer to each case, in order."""
    lines = [json.dumps({"fn": case["fn"], "input": case["input"]}) for case in cases]
    done = subprocess.run(
        ["node", str(bundle())],
        input="\n".join(lines) + "\n",
        capture_output=True,
        text=True,
        cwd=CLIENT,
        timeout=100,
        check=False,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(lines)
    return answers


def put_away() -> None:
    """Remove the bundle of this process."""
    bundle().unlink(missing_ok=True)
    bundle.cache_clear()
