"""psychrolib in plain Python.

Beside numba it would compile itself for arrays, for minutes, and some of it does not compile. Whatever imports this
first (the fixtures of all tests do) settles it for every ``import psychrolib``.
"""

import sys

_numba = sys.modules.get("numba")
sys.modules["numba"] = None  # type: ignore[assignment]
import psychrolib  # noqa: E402

del sys.modules["numba"]
if _numba is not None:
    sys.modules["numba"] = _numba

assert not psychrolib.has_numba
