"""The engine: from a project to a plan.

`solve` is the door. `arrays` turns a project into numbers, `decode` places steps by keys, `search` looks
for better keys.
"""

from tackwatch.plan.engine.errors import CannotPlaceError, InfeasibleError
from tackwatch.plan.engine.solve import Budget, solve

__all__ = ["Budget", "CannotPlaceError", "InfeasibleError", "solve"]
