"""What the engine answers when there is no plan."""

from typing import Literal

NoPlace = Literal["people", "hours", "place", "horizon"]


class InfeasibleError(ValueError):
    """The gaps between steps contradict one another, or no plan that keeps them was found.

    Attributes
    ----------
    proved : bool
        That there is none, whoever looks.
    field : str
        `links`.
    """

    def __init__(self, proved: bool) -> None:
        super().__init__("no plan keeps all gaps" if proved else "no plan was found")
        self.proved = proved
        self.field = "links"


class CannotPlaceError(ValueError):
    """A step has nowhere to go.

    Attributes
    ----------
    step_id : str
        The step.
    code : NoPlace
        Why: not enough `people` are able to, their `hours` are too short, a `place` is too small, or the
        `horizon` ends before.
    field : str
        `steps`.
    """

    def __init__(self, step_id: str, code: NoPlace) -> None:
        super().__init__(f"step {step_id!r} has no place in the plan: {code}")
        self.step_id = step_id
        self.code: NoPlace = code
        self.field = "steps"
