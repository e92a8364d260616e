"""The recovery code: how what a person wrote down is read back."""

from __future__ import annotations

from tackwatch.work.sign_in import hash_of

_MISREAD = str.maketrans({"o": "0", "i": "1", "l": "1"})  # the code has none of these letters


def code_hash(written: str) -> str:
    """Give the kept form of a code; spaces, dashes, capitals and letters that look like figures do not matter."""
    plain = "".join(sign for sign in written.casefold() if sign.isalnum())
    return hash_of(plain.translate(_MISREAD))
