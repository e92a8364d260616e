"""The phone answers whether a coat may go on as the server does: same rows, same facts, same answer."""

from __future__ import annotations

from collections import Counter
from dataclasses import asdict
from typing import Any

from tackwatch.trade.readiness import may_coat_now
from tackwatch.work.reckoning import reckon
from tackwatch.work.reckoning.coat_facts import CoatFactsOf, lays
from tackwatch.work.reckoning.rows import RefitRows
from tests.support.client_code import answers
from tests.vectors.refits import Refits
from tests.vectors.test_reckoning_twin import differences, plain


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
    drawn = [draw.refit() for _ in range(150)]
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
    assert seen["below"] > 20, seen
    assert seen["no"] > 20, seen
    assert seen["not_yet"] > 20, seen
