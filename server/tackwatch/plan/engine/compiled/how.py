"""How things are compiled: what is called from Python is kept on disk, what it calls is compiled into it.

A wrapper for Python takes longer to compile than most of what it wraps, so there is one only where Python
calls. All of it lets go of the interpreter's lock.

Numba takes what it kept for current as long as the file of the function that is called has not changed; it
does not look at the files of what that calls. So the stamp here is over all that is compiled.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from zlib import crc32

from numba import njit

inner = njit(nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)  # type: ignore[call-overload]

_SOURCES: Final = sorted(Path(__file__).parent.glob("*.py"))
_STAMP: Final = tuple(
    crc32(path.read_bytes()) for path in (*_SOURCES, Path(__file__).parents[1] / "arrays.py")
)


def outer(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile what is called from Python, and keep it until any of what is compiled changes."""
    compiled = njit(nogil=True, cache=True)(function)
    compiled._cache._cache_file._source_stamp = _STAMP  # type: ignore[attr-defined]
    return compiled
