"""Part files: what has arrived of a photo that is on its way.

Rules
-----
- The size of the file is the one truth of how much is here; no second count can disagree with it.
- A piece is added under a lock on the file, and only where the file ends there. The lock is held while a piece is
  written and never while one is waited for, so that a connection that has died without a word holds up nobody.
- Whoever holds the lock makes sure that the file still has its name: another may have finished or swept it meanwhile.
- The locks are the operating system's (``flock``): they hold between processes, and die with the one that holds them.
"""

from __future__ import annotations

import fcntl
import os
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

FOLDER = "uploads"


class PartGoneError(Exception):
    """The part file was finished, swept, or never begun."""


def path(data_dir: Path, refit_id: str, device_id: str, sha256: str) -> Path:
    """Give the place of what one device has sent of a photo."""
    return data_dir / FOLDER / refit_id / f"{device_id}-{sha256}"


def begin(place: Path) -> None:
    """Make an empty file, unless there is one."""
    place.parent.mkdir(parents=True, exist_ok=True)
    os.close(os.open(place, os.O_RDWR | os.O_CREAT, 0o600))


def size_b(place: Path) -> int | None:
    """Give how many bytes are here; ``None`` when there is no such file."""
    try:
        return place.stat().st_size
    except FileNotFoundError:
        return None


@contextmanager
def held(place: Path) -> Iterator[int]:
    """Hold a part file's lock; gives the open file's number.

    Raises
    ------
    PartGoneError
        When there is no such file, or none any more.
    """
    try:
        handle = os.open(place, os.O_RDWR)
    except FileNotFoundError:
        raise PartGoneError from None
    try:
        fcntl.flock(handle, fcntl.LOCK_EX)
        if not _has_its_name(handle, place):
            raise PartGoneError
        yield handle
    finally:
        os.close(handle)


def add(place: Path, at_b: int, piece: bytes) -> bool:
    """Add a piece where the file ends; false, and nothing added, when it ends elsewhere than at ``at_b``."""
    with held(place) as handle:
        if os.lseek(handle, 0, os.SEEK_END) != at_b:
            return False
        while piece:
            piece = piece[os.write(handle, piece) :]
        return True


def make_last(place: Path) -> None:
    """Make sure that what is here outlives a loss of power."""
    with suppress(PartGoneError), held(place) as handle:
        os.fsync(handle)


def names(data_dir: Path, refit_id: str) -> list[tuple[str, str]]:
    """Give device and hash of each part file of a refit."""
    folder = data_dir / FOLDER / refit_id
    if not folder.is_dir():
        return []
    found = (one.name.partition("-") for one in folder.iterdir())
    return [(device_id, sha256) for device_id, _, sha256 in found]


def _has_its_name(handle: int, place: Path) -> bool:
    try:
        return os.path.samestat(os.fstat(handle), place.stat())
    except FileNotFoundError:
        return False
