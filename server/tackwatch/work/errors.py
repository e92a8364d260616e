"""What can go wrong when a person does something; each becomes one problem document (RFC 9457)."""

from __future__ import annotations

from typing import Any


class WorkError(Exception):
    """An act that was not done; nothing was changed.

    Parameters
    ----------
    code
        Short stable name in kebab case, the end of the problem's ``type``.
    detail
        One sentence for a person.
    field
        The field at fault, as a path; empty where there is none.
    """

    status = 400

    def __init__(self, code: str, detail: str, field: str = "") -> None:
        super().__init__(detail)
        self.code = code
        self.detail = detail
        self.field = field

    def as_problem(self) -> dict[str, Any]:
        """Give the problem document."""
        problem: dict[str, Any] = {
            "type": f"urn:tackwatch:problem:{self.code}",
            "title": self.code.replace("-", " ").capitalize(),
            "status": self.status,
            "detail": self.detail,
        }
        if self.field:
            problem["field"] = self.field
        return problem


class NotSignedInError(WorkError):
    """No key, an unknown key or a withdrawn one."""

    status = 401


class NotAllowedError(WorkError):
    """The role does not allow it."""

    status = 403


class NotFoundError(WorkError):
    """There is no such thing in this refit."""

    status = 404


class ConflictError(WorkError):
    """It does not fit what is there."""

    status = 409


class GoneError(WorkError):
    """It was there and may not be used any more."""

    status = 410


class InvalidError(WorkError):
    """The input cannot be understood."""

    status = 422


class TooManyError(WorkError):
    """Too many tries; ``retry_after_s`` seconds until the next."""

    status = 429

    def __init__(self, code: str, detail: str, retry_after_s: int) -> None:
        super().__init__(code, detail)
        self.retry_after_s = retry_after_s
