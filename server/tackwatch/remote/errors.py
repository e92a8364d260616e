"""What can go wrong for a device away from the server; ``InputError`` and ``StoreError`` are about what is here."""

from __future__ import annotations


class RemoteError(Exception):
    """Something that a person can read in one sentence; nothing that was written down is lost.

    Parameters
    ----------
    detail
        One sentence for a person.
    field
        What is at fault, where that can be said.
    """

    def __init__(self, detail: str, field: str = "") -> None:
        super().__init__(detail)
        self.detail = detail
        self.field = field


class InputError(RemoteError):
    """What was given cannot be used; nothing was written down."""


class StoreError(RemoteError):
    """The file cannot be opened, read or written."""


class LaterError(RemoteError):
    """No verdict: the server is away, busy, or something else answered. To be tried again.

    Parameters
    ----------
    wait_s
        Seconds that the server asked to wait, 0 where it did not.
    """

    def __init__(self, detail: str, wait_s: float = 0.0) -> None:
        super().__init__(detail)
        self.wait_s = wait_s


class KeyRefusedError(RemoteError):
    """The key was withdrawn or is not known (401): what is here stays, and is never sent under another key."""


class VersionsError(RemoteError):
    """This program and the server speak different versions (409); one of them has to be updated."""


class TooLargeError(RemoteError):
    """The request was too large (413): the same again with fewer operations."""
