"""What keeps a refit from being made into a project."""


class BuildError(ValueError):
    """A refit that no plan can be made of; `field` names what is wrong."""

    field = "steps"


class CircleError(BuildError):
    """Steps that wait for one another in a circle, or for such: `step_ids`."""

    field = "links"

    def __init__(self, step_ids: tuple[str, ...]) -> None:
        super().__init__("steps wait for one another in a circle")
        self.step_ids = step_ids
