"""What stands in the refit before a history begins: zones, jobs, steps, a product, a coat. All of it is invented."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import Any

from tackwatch.settings import fixtures_dir
from tests.support.phone import Phone


def lay_out(phone: Phone, new_id: Callable[[], str]) -> None:
    """Make the rows, and sync."""

    def do(do: str, kind: str, **rest: Any) -> str:
        id_ = new_id()
        phone.act("lay_out", {"do": do, "kind": kind, "id": id_, **rest})
        return id_

    file = fixtures_dir() / "profiles" / "epoxy_barrier_primer.json"
    profile = json.loads(file.read_text())
    # a window is all that a history needs, and reckoning it is half of a history's time
    profile["stages"] = {
        name: points for name, points in profile["stages"].items() if name.startswith("recoat")
    }
    zone = do("create", "zone", fields={"name": "Port hull", "area_m2": 999.5})
    do("create", "zone", fields={"name": "Deck"})
    product = do("create", "product", fields={"name": "Primer", "profile": profile})
    job = do("create", "job", fields={"title": "Prime", "zone_id": zone})
    do("create", "job", fields={"title": "Leak"})
    coat = do("create", "step", fields={"job_id": job, "kind": "coat", "product_id": product})
    sand = do("create", "step", fields={"job_id": job, "kind": "sand"})
    do("create", "link", fields={"step_id": sand, "after_id": coat, "by_cure": True})
    do("record", "reading", body={"taken_at": "2026-03-02T07:30:00Z", "air_c": 15})
    body = {
        "step_id": coat, "zone_id": zone, "product_id": product, "profile": profile,
        "start_at": "2026-03-02T06:00:00Z", "end_at": "2026-03-02T07:00:00Z",
    }  # fmt: skip
    do("record", "application", body=body)
    phone.sync()
