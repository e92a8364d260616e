"""What is wrong with a profile is found at the same field on the server and on the phone."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from tackwatch.trade.errors import ProfileError
from tackwatch.trade.profiles import parse_profile

FIXTURES = Path(__file__).parents[2] / "fixtures"
CASES = json.loads((FIXTURES / "trade" / "profile_checks.json").read_text("utf-8"))


def changed(at: list[str | int], value: object) -> dict[str, Any]:
    """Give the profile of the fast laminating epoxy with one value changed."""
    text = (FIXTURES / "profiles" / "laminating_epoxy_fast.json").read_text("utf-8")
    profile: Any = json.loads(text)
    inner = profile
    for name in at[:-1]:
        inner = inner[name]
    inner[at[-1]] = value
    return dict(profile)


def test_there_are_enough_cases() -> None:
    assert len(CASES) > 40


@pytest.mark.parametrize("case", CASES, ids=lambda case: str(case["id"]))
def test_the_server_names_the_field_that_the_phone_names(case: dict[str, Any]) -> None:
    """client/tests/screens/product.test.ts asks the phone the same."""
    profile = changed(case["at"], case["value"])
    if case["field"] is None:
        assert parse_profile(profile).id == "laminating_epoxy_fast"
        return
    with pytest.raises(ProfileError) as caught:
        parse_profile(profile)
    assert caught.value.field == case["field"]
