"""How things are compiled: what is called from Python is kept on disk, what it calls is compiled into it.

A wrapper for Python takes longer to compile than most of what it wraps, so there is one only where Python
calls. All of it lets go of the interpreter's lock.
"""

from numba import njit

inner = njit(nogil=True, no_cpython_wrapper=True, no_cfunc_wrapper=True)  # type: ignore[call-overload]
outer = njit(nogil=True, cache=True)
