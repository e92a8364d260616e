"""The descriptions from which the phone makes its forms are those of the registry."""

from __future__ import annotations

from tools.write_sums import PLACE, as_text


def test_the_file_of_sums_is_what_the_registry_says_now() -> None:
    """`make sums` writes it anew; the words of the forms stand in client/src/handbook."""
    assert PLACE.read_text("utf-8") == as_text()
