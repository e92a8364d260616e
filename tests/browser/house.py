"""A copy of the project for one session: its client is built there, so that a build disturbs nobody."""

from __future__ import annotations

import json
import shutil
import subprocess
from pathlib import Path

ROOT = Path(__file__).parents[2]
_MADE = ("node_modules", "tests", "__pycache__", "web")
_LEFT_OUT = {"client": shutil.ignore_patterns(*_MADE, "build")}
_ELSEWHERE = shutil.ignore_patterns(*_MADE)


class House:
    """The server's package, the client and the fixtures in a folder of their own."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.client = folder / "client"
        self.web = folder / "server" / "tackwatch" / "web"
        for name in ("client", "server", "fixtures"):
            ignore = _LEFT_OUT.get(name, _ELSEWHERE)
            shutil.copytree(ROOT / name, folder / name, ignore=ignore)
        (self.client / "node_modules").symlink_to(ROOT / "client" / "node_modules")

    @property
    def python_path(self) -> str:
        """Where a server finds this copy of the package before any other."""
        return str(self.folder / "server")

    def build(self) -> None:
        """Build the client into the copy's package, with the project's own build."""
        done = subprocess.run(
            ["node", "build.mjs"], cwd=self.client, capture_output=True, text=True, check=False
        )
        assert done.returncode == 0, done.stderr

    def say_otherwise(self, key: str, words: str) -> None:
        """Let the English client say something else, so that the next build is another one."""
        path = self.client / "src" / "words" / "en.json"
        texts = json.loads(path.read_text())
        assert key in texts
        path.write_text(json.dumps({**texts, key: words}, ensure_ascii=False, indent=2))
