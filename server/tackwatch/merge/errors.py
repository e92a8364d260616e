"""The one error that the merge raises: an operation that cannot take effect, and which field is at fault."""

from __future__ import annotations

from typing import Any


class RefusedError(ValueError):
    """An operation that is refused; nothing of it took effect.

    Parameters
    ----------
    code
        Short name of the reason, stable, in kebab case (``unknown-field``).
    detail
        One sentence for a person, in plain English.
    field
        Where the fault is, as a path into the operation (``actions[0].fields.title``).
    """

    def __init__(self, code: str, detail: str, field: str = "") -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.field = field

    def under(self, prefix: str) -> RefusedError:
        """Give the same error with its field path seen from one level further out."""
        joined = f"{prefix}.{self.field}" if self.field else prefix
        return RefusedError(self.code, self.detail, joined)

    def as_problem(self) -> dict[str, Any]:
        """Give the refusal as problem details (RFC 9457), to be stored and shown on the phone."""
        return {
            "type": f"urn:tackwatch:problem:{self.code}",
            "title": self.code.replace("-", " ").capitalize(),
            "status": 403 if self.code == "not-allowed" else 422,
            "detail": self.detail,
            "field": self.field,
        }
