"""A PostgreSQL cluster of its own in a temporary folder: started for a test session, thrown away after it."""

from __future__ import annotations

import os
import pwd
import shutil
import subprocess
import tempfile
from pathlib import Path
from types import TracebackType

import psycopg

_BINARIES = (Path("/usr/lib/postgresql/15/bin"), *Path("/usr/lib/postgresql").glob("*/bin"))
_FAST = {
    "fsync": "off",
    "synchronous_commit": "off",
    "full_page_writes": "off",
    "max_connections": "200",
    "listen_addresses": "",
    "shared_buffers": "64MB",
}


class Cluster:
    """A running cluster that is reached by a socket in its own folder.

    The server refuses to run as root, so root starts it as another user.
    """

    def __init__(self, **settings: str) -> None:
        self.folder = Path(tempfile.mkdtemp(prefix="twpg-"))
        self._settings = {**_FAST, **settings, "unix_socket_directories": str(self.folder)}
        self._user = _other_user()
        if self._user is not None:
            shutil.chown(self.folder, self._user)
        self._binaries = next(place for place in _BINARIES if (place / "initdb").exists())

    def __enter__(self) -> Cluster:
        self._run("initdb", "-A", "trust", "-U", "postgres", "-E", "UTF8", "--no-sync", "-N")
        self.start()
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.stop()
        shutil.rmtree(self.folder, ignore_errors=True)

    def start(self) -> None:
        options = " ".join(f"-c {name}='{value}'" for name, value in self._settings.items())
        log = str(self.folder / "log")
        self._run("pg_ctl", "-w", "-t", "60", "-l", log, "-o", options, "start")

    def stop(self, mode: str = "immediate") -> None:
        self._run("pg_ctl", "-w", "-m", mode, "stop")

    def url(self, database: str) -> str:
        return f"postgresql+psycopg://postgres@/{database}?host={self.folder}"

    def create(self, database: str) -> str:
        """Make an empty database and give its URL."""
        self.execute("postgres", f'CREATE DATABASE "{database}"')
        return self.url(database)

    def execute(self, database: str, statement: str) -> None:
        with self.connect(database) as connection:
            connection.execute(statement.encode())

    def connect(self, database: str) -> psycopg.Connection[tuple[object, ...]]:
        return psycopg.connect(
            host=str(self.folder), user="postgres", dbname=database, autocommit=True
        )

    def _run(self, program: str, *arguments: str) -> None:
        command = [str(self._binaries / program), "-D", str(self.folder / "data"), *arguments]
        done = subprocess.run(
            command,
            user=self._user,
            group=None if self._user is None else pwd.getpwnam(self._user).pw_gid,
            cwd="/",
            stdin=subprocess.DEVNULL,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
        if done.returncode != 0:
            raise RuntimeError(f"{program} failed: {done.stderr}")


def _other_user() -> str | None:
    if os.geteuid() != 0:
        return None
    for name in ("postgres", "nobody"):
        try:
            return pwd.getpwnam(name).pw_name
        except KeyError:
            continue
    raise RuntimeError("PostgreSQL does not run as root, and there is no other user")
