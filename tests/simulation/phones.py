"""The simulated phones: the client's own code in one Node process, told line by line what happens to it."""

from __future__ import annotations

import json
import subprocess
import tempfile
from dataclasses import dataclass, field
from pathlib import Path
from types import TracebackType
from typing import Any

CLIENT = Path(__file__).parents[2] / "client"


def bundle(folder: Path) -> tuple[Path, Path]:
    """Bundle the driver, and the page that each phone opens, into a folder; give the files."""
    driver, page = folder / "driver.mjs", folder / "page.js"
    made = {
        driver: ("driver.ts", "--platform=node", "--format=esm"),
        page: ("page.ts", "--platform=browser", "--format=iife", "--global-name=page"),
    }
    for out, (entry, *options) in made.items():
        command = [
            str(CLIENT / "node_modules/.bin/esbuild"), str(CLIENT / "tests/simulation" / entry),
            "--bundle", "--log-level=error", f"--outfile={out}", *options,
        ]  # fmt: skip
        subprocess.run(command, check=True, cwd=CLIENT, timeout=60)
    return driver, page


@dataclass(frozen=True, slots=True)
class Asked:
    """What a page asked of the network."""

    id: int
    handset: str
    page: str
    method: str
    path: str
    headers: dict[str, str]
    body: str | None
    packed: bool


@dataclass(frozen=True, slots=True)
class Heard:
    """What came of a line: the value, or why there is none; and what the pages ask of the network."""

    gave: Any
    failed: str | None
    asked: tuple[Asked, ...]


@dataclass
class Phones:
    """The process that holds the phones."""

    now_ms: int = 0
    log: list[str] = field(default_factory=list)

    def __enter__(self) -> Phones:
        self._folder = tempfile.TemporaryDirectory(prefix="twphones-")
        driver, page = bundle(Path(self._folder.name))
        self._process = subprocess.Popen(
            ["node", str(driver), str(page)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True,
        )  # fmt: skip
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        assert self._process.stdin
        assert self._process.stdout
        self._process.stdin.close()
        self._process.wait(timeout=20)
        self._process.stdout.close()
        self._folder.cleanup()

    def begin(self, seed: int) -> None:
        """Throw all phones away, and start chance anew."""
        self.say(do="begin", seed=seed)

    def say(self, **line: Any) -> Heard:
        """Let something happen, until all phones wait."""
        assert self._process.stdin
        assert self._process.stdout
        text = json.dumps({**line, "now_ms": self.now_ms})
        self._process.stdin.write(text + "\n")
        self._process.stdin.flush()
        answer = self._process.stdout.readline()
        if not answer:
            raise RuntimeError(f"the phones' process ended at: {text}")
        heard = json.loads(answer)
        self.log += [text, answer]
        asked = tuple(Asked(**one) for one in heard.get("asked", ()))
        return Heard(heard.get("gave"), heard.get("failed"), asked)
