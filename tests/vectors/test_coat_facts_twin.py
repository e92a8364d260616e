"""The phone answers whether a coat may go on as the server does: same rows, same facts, same answer."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.state import Item, Record
from tackwatch.trade.compatibility_table import GROUNDS
from tackwatch.trade.readiness import may_coat_now
from tackwatch.work.reckoning import reckon
from tackwatch.work.reckoning.coat_facts import CoatFactsOf, lays
from tackwatch.work.reckoning.rows import RefitRows
from tests.support.client_code import answers
from tests.vectors.refits import PROFILES, Refits
from tests.vectors.test_reckoning_twin import differences, plain


class Prepared(Refits):
    """Draws refits with a coat below that was sanded or cleaned since, and a good reading of now."""

    def refit(self) -> tuple[list[Item], list[Record], datetime]:
        items, records, now = super().refit()
        chance = self.chance
        ended = now - timedelta(hours=chance.uniform(1, 60))
        kinds = ["coat", *chance.choices(("sand", "clean", "grind", "inspect"), k=2), "coat"]
        product = chance.choice(PROFILES)
        around, ground = (
            chance.choice((None, "z1", "z2")),
            chance.choice((None, "old_unknown", *GROUNDS)),
        )
        own = chance.choice((None, None, "old_unknown"))
        items += [
            self._item("zone", "z", name="Z", area_m2=12.5, parent_id=around, ground=own),
            self._item("zone", "z1", name="Z1", parent_id="z2", ground=chance.choice(GROUNDS)),
            self._item("zone", "z2", name="Z2", parent_id="z", ground=ground),
            self._item("job", "j2", title="J", zone_id="z"),
            self._item("product", "p2", name="P", profile=product),
        ]
        for n, kind in enumerate(kinds):
            rest = {"product_id": "p2", "labour_h": 2, "crew_size": 2} if kind == "coat" else {}
            rest["tack"] = chance.random() < 0.2
            items.append(self._item("step", f"c{n}", job_id="j2", kind=kind, **rest))
            if n:
                link = {"step_id": f"c{n}", "after_id": f"c{n - 1}", "by_cure": n == 1}
                items.append(self._item("link", f"cl{n}", **link))
        laid = chance.random()
        body = {"step_id": "c0", "product_id": "p2", "profile": chance.choice(PROFILES)}
        if laid < 0.3:  # by another job, on the zone itself or on one around it
            items.append(self._item("job", "j3", title="J3", zone_id=chance.choice(("z", "z1"))))
            items.append(self._item("step", "c9", job_id="j3", kind="coat"))
            body["step_id"] = "c9"
        start = ended - timedelta(minutes=40)
        if laid < 0.7:
            records.append(
                self._record("application", **body, start_at=text(start), end_at=text(ended))
            )
        records.append(self._record("mark", step_id="c0", mark="finished", marked_at=text(ended)))
        for n in (1, 2):
            if chance.random() < 0.8:
                at = ended + (now - ended) * chance.random()
                mark = {"step_id": f"c{n}", "mark": "finished", "marked_at": text(at)}
                records.append(self._record("mark", **mark))
        air = {"air_c": 19.0, "surface_c": chance.choice((18.5, 9.0)), "rh_pct": 55}
        records.append(self._record("reading", taken_at=text(now - timedelta(minutes=5)), **air))
        return items, records, now


def text(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def expected(items: Any, records: Any, now: Any) -> dict[str, Any]:
    refit = RefitRows(items, records)
    reckoning = reckon(items, records, now)
    gathered = CoatFactsOf(refit, reckoning.sources, dict(reckoning.steps), now)
    found = {}
    for id_, step in refit.live("step").items():
        if lays(step):
            asked = gathered.question(id_)
            found[id_] = {
                "facts": plain(asdict(asked.facts)),
                "below_step_id": asked.below_step_id,
                "answer": plain(asdict(may_coat_now(asked.facts, asked.track))),
            }
    return found


def shorn(answer: Any) -> Any:
    """Round the figures, since the two languages sum in another order; instants stay."""
    if isinstance(answer, dict):
        return {key: shorn(part) for key, part in answer.items()}
    if isinstance(answer, list):
        return [shorn(part) for part in answer]
    return round(answer, 6) if isinstance(answer, float) else answer


def test_phone_and_server_answer_alike() -> None:
    draw = Refits(20_260_412)
    prepared = Prepared(20_260_413)
    drawn = [one.refit() for _ in range(60) for one in (draw, prepared)]
    lines = [
        {
            "items": [asdict(item) for item in items],
            "records": [asdict(record) for record in records],
            "now": now.isoformat().replace("+00:00", "Z"),
        }
        for items, records, now in drawn
    ]
    seen: Counter[str] = Counter()
    for number, ((items, records, now), got) in enumerate(
        zip(drawn, answers("store/reckon/coat_facts_cli.ts", lines), strict=True)
    ):
        wanted = expected(items, records, now)
        found = differences(shorn(wanted), shorn(plain(got)))
        assert found == [], f"refit {number}: {found[:5]}"
        seen.update(one["answer"]["answer"] for one in wanted.values())
        seen["below"] += sum(one["below_step_id"] is not None for one in wanted.values())
        belows = [one["facts"]["below"] for one in wanted.values()]
        seen["ground"] += sum(
            one["below_step_id"] is None and one["facts"]["below"] is not None
            for one in wanted.values()
        )
        seen["elsewhere"] += sum(one["below_step_id"] == "c9" for one in wanted.values())
        seen["prepared"] += sum(one is not None and one["state"] is not None for one in belows)
    assert seen["below"] > 20, seen
    assert seen["prepared"] > 20, seen
    assert seen["ground"] > 20, seen
    assert seen["elsewhere"] > 10, seen
    assert seen["no"] > 20, seen
    assert seen["not_yet"] > 20, seen
    assert seen["yes"] > 5, seen
