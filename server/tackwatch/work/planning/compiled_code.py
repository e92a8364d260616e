"""Where compiled code is kept, and whether all that the search needs is there already.

Rules
-----
- It is kept where `NUMBA_CACHE_DIR` says; else beside the program; else in the folder that is given; each only if it
  may be written to. Where none may, a folder is made that goes with this process.
- Numba reads that name as it is loaded: this comes before anything is imported that compiles.
- A mark in the folder says that all was compiled there once: from these sources, in this place, by this numba, for a
  processor like this one. Where any of that is another, all is compiled anew.
"""

from __future__ import annotations

import atexit
import contextlib
import os
import platform
import sys
from hashlib import sha256
from importlib.metadata import version
from pathlib import Path
from shutil import rmtree
from tempfile import TemporaryFile, mkdtemp
from typing import Final

import tackwatch.plan

NAME: Final = "NUMBA_CACHE_DIR"
MARK: Final = "all-compiled"
_PLAN: Final = Path(tackwatch.plan.__file__).parent
_COMPILED: Final = ("engine/compiled", "forecast/compiled")
_SOURCES: Final = ("engine/arrays.py", "forecast/*.py", *(f"{one}/*.py" for one in _COMPILED))
_BESIDE: Final = tuple(_PLAN / one / "__pycache__" for one in _COMPILED)
_PROCESSOR: Final = ("model name", "flags", "CPU implementer", "CPU part", "Features")


def keep_compiled(folder: Path) -> Path:
    """Have compiled code kept where it may be, and give the folder in which its mark lies.

    Parameters
    ----------
    folder
        Where it is kept if it cannot be kept beside the program.
    """
    named = os.environ.pop(NAME, "")
    if named and _may_write(Path(named)):
        return _keep_in(Path(named))
    if all(_may_write(one) for one in _BESIDE):
        return _BESIDE[0]
    return _keep_in(folder if _may_write(folder) else _passing())


def all_compiled(folder: Path) -> bool:
    """Say whether all was compiled there, as things are."""
    try:
        return (folder / MARK).read_text(encoding="ascii") == _stamp()
    except OSError:
        return False


def note_all_compiled(folder: Path) -> None:
    """Note that all was compiled there."""
    with contextlib.suppress(OSError):
        (folder / MARK).write_text(_stamp(), encoding="ascii")


def _keep_in(folder: Path) -> Path:
    os.environ[NAME] = str(folder.absolute())
    return folder.absolute()


def _may_write(folder: Path) -> bool:
    try:
        folder.mkdir(parents=True, exist_ok=True)
        with TemporaryFile(dir=folder):
            return True
    except OSError:
        return False


def _passing() -> Path:
    """Make a folder that only this user can look into, and that goes when this process ends."""
    folder = Path(mkdtemp(prefix="tackwatch-compiled-"))
    atexit.register(rmtree, folder, ignore_errors=True)
    return folder


def _stamp() -> str:
    found = sha256()
    for path in sorted(path for sort in _SOURCES for path in _PLAN.glob(sort)):
        found.update(path.read_bytes())
    for word in (str(_PLAN), sys.version, version("numba"), version("llvmlite"), _processor()):
        found.update(word.encode())
    return found.hexdigest()


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor()
    return "\n".join(sorted({line for line in lines if line.startswith(_PROCESSOR)}))
