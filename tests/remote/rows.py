"""What the tests of a device without a screen read and write."""

from __future__ import annotations

from tackwatch.remote.copy import Copy
from tests.support.phone import Phone


def zones(copy: Copy) -> list[str]:
    return sorted(row.fields["name"] for row in copy.rows("zone"))


def zone(name: str, id_: str = "") -> list[dict[str, object]]:
    made = {"do": "create", "kind": "zone", "id": id_ or name, "fields": {"name": name}, "sets": {}}
    return [made]


def readings(phone: Phone) -> list[float]:
    phone.sync()
    found = [one for one in phone.state.records.values() if one.kind == "reading"]
    return sorted(one.body["air_c"] for one in found)
