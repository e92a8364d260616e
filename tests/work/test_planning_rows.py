"""What is done for the record of a refit and for giving a plan out is what is done for the plan."""

from __future__ import annotations

from collections import Counter
from datetime import timedelta
from typing import Any

import pytest

from tackwatch.plan.build import CircleError, build
from tackwatch.work.planning.gather import facts_of
from tackwatch.work.planning.past import past_of
from tackwatch.work.planning.rows import PlanRows
from tests.plan.test_any_rows import Half, Worked, text
from tests.vectors.refits import NOW, PROFILES


class Coat(Half):
    """A coat of twenty square metres, estimated at eight hours, of which some were laid in two."""

    def of(self, area_m2: float | None, mark: str = "") -> PlanRows:
        body: dict[str, Any] = {"step_id": "s", "product_id": "p", "profile": PROFILES[2]}
        covers = {} if area_m2 is None else {"area_m2": area_m2}
        begun, ended = (text(NOW - timedelta(hours=hours)) for hours in (3, 1))
        records = [
            self._record("application", **body, start_at=begun, end_at=ended, **covers),
            self._record("hours", step_id="s", member_id="m", worked_on="2026-03-02", minutes=120),
        ]
        if mark:
            records.append(self._record("mark", step_id="s", mark=mark, marked_at=ended))
        return PlanRows("r", 1, NOW, tuple(self.items(crew=1)), tuple(records))


@pytest.mark.parametrize(
    ("area_m2", "mark", "done"),
    [
        (9.0, "", False),
        (14.9, "", False),
        (15.0, "", True),
        (None, "", True),  # nobody said what it covers
        (9.0, "finished", True),  # somebody said that this is all
        (9.0, "reopened", False),
    ],
)
def test_a_coat_that_cures_is_done_unless_it_was_laid_in_part(
    area_m2: float | None, mark: str, done: bool
) -> None:
    rows = Coat(1).of(area_m2, mark)
    assert rows.states["s"].state == "curing"
    assert (build(facts_of(rows)).parts["s"].standing == "done") == done
    assert rows.is_done("s") == done
    assert rows.has_begun("s") == (not done)


def test_what_was_laid_in_part_is_no_record_of_what_the_whole_takes() -> None:
    part, whole = past_of(Coat(1).of(9.0)), past_of(Coat(1).of(18.0))
    assert (part.took, part.found_while) == ((), ())
    assert (whole.took, whole.found_while) == ((("j", 8.0, 2.0),), (("j", 0, 1.0),))


def test_rows_and_plan_agree_on_what_is_done() -> None:
    seen: Counter[bool] = Counter()
    for seed in range(120):
        items, records, now = Worked(seed).refit()
        rows = PlanRows("r", 1, now, tuple(items), tuple(records))
        try:
            parts = build(facts_of(rows)).parts
        except CircleError:
            continue
        for id_, part in parts.items():
            assert rows.standings[id_] == part.standing, (seed, id_)
            seen[rows.is_done(id_)] += 1
    assert min(seen[True], seen[False]) > 50
