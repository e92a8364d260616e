"""psychrolib in plain Python: beside numba it would compile itself for arrays, and some of it does not compile."""

import sys
from unittest.mock import patch

with patch.dict(sys.modules, {"numba": None}):
    import psychrolib

__all__ = ["psychrolib"]
