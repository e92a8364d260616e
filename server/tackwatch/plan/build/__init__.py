"""From the refit to the planner's model and back: slots, hours, windows, pieces, links, instants."""

from tackwatch.plan.build.errors import BuildError, CircleError
from tackwatch.plan.build.instants import PlannedPiece, PlannedStep, planned_steps
from tackwatch.plan.build.parts import Note, Part
from tackwatch.plan.build.project import Built, build

__all__ = [
    "BuildError",
    "Built",
    "CircleError",
    "Note",
    "Part",
    "PlannedPiece",
    "PlannedStep",
    "build",
    "planned_steps",
]
