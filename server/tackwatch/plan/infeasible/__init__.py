"""What it would take where the launch cannot be made, or a step has nowhere to go."""

from tackwatch.plan.infeasible.answers import Answer, answers
from tackwatch.plan.infeasible.nowhere import nowhere

__all__ = ["Answer", "answers", "nowhere"]
