"""What can be wrong with what the arithmetic is given: each error names the field."""


class TradeError(ValueError):
    """Something given to the arithmetic cannot be used.

    Parameters
    ----------
    field : str
        The field that is wrong, in the names of the JSON (`stages.gel[1].minutes`).
    message : str
        What is wrong with it, for a person.
    """

    def __init__(self, field: str, message: str) -> None:
        super().__init__(f"{field}: {message}")
        self.field = field
        self.message = message


class ProfileError(TradeError):
    """A product profile that cannot be used; nothing of it was taken."""


class OutOfRangeError(TradeError):
    """A value outside the range in which the formula holds."""
