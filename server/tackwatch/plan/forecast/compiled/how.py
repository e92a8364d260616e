"""How the dispatch is compiled: `play` is called from Python and kept on disk, all else is compiled into it.

No references are counted: for a function that is handed thirty arrays that takes longer than what it does, and
threads fight over the counts. So nothing here takes memory or cuts a view out of an array.

Numba takes what it kept for current as long as the file of the function that is called has not changed; it
does not look at the files of what that calls. So the stamp here is over all that is compiled.
"""

from collections.abc import Callable
from pathlib import Path
from typing import Any, Final
from zlib import crc32

from numba import njit

inner = njit(  # type: ignore[call-overload]
    _nrt=False,
    nogil=True,
    forceinline=True,
    error_model="numpy",
    no_cpython_wrapper=True,
    no_cfunc_wrapper=True,
)

_HERE: Final = Path(__file__).parent
_OUTSIDE: Final = (_HERE.parent / "columns.py", _HERE.parent / "calendars.py")
_STAMP: Final = tuple(crc32(path.read_bytes()) for path in (*sorted(_HERE.glob("*.py")), *_OUTSIDE))


def outer(function: Callable[..., Any]) -> Callable[..., Any]:
    """Compile what is called from Python, and keep it until any of what is compiled changes."""
    compiled = njit(_nrt=False, nogil=True, cache=True, error_model="numpy")(function)  # type: ignore[call-overload]
    compiled._cache._cache_file._source_stamp = _STAMP
    return compiled  # type: ignore[no-any-return]
