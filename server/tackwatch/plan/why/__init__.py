"""Why a step stands where it stands in a plan: by a try at putting it earlier."""

from tackwatch.plan.why.reasons import Why, why_all

__all__ = ["Why", "why_all"]
