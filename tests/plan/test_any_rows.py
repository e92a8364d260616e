"""Any rows that phones may bring become a project with a sound plan, or say that steps wait in a circle."""

from collections import Counter
from datetime import datetime, timedelta
from typing import Any

from tackwatch.merge.state import Item, Record
from tackwatch.plan.build import Built, CircleError, build, planned_steps
from tackwatch.plan.check import check
from tackwatch.plan.facts import Facts
from tackwatch.work.planning.gather import facts_of
from tackwatch.work.planning.rows import PlanRows
from tests.support.simple_plan import simple_plan
from tests.support.sound_project import faults_of
from tests.vectors.refits import NOW, PROFILES, Refits


class Worked(Refits):
    """Draws refits whose steps have labour, and whose people have hours and days off."""

    def refit(self) -> tuple[list[Item], list[Record], datetime]:
        items, records, now = super().refit()
        chance = self.chance
        for item in items:
            if item.kind == "step":
                item.fields["labour_h"] = chance.choice((None, 0, 1.5, 7, 30))
                item.fields["crew_size"] = chance.choice((1, 1, 2))
                item.fields["expected_at"] = chance.choice((None, self._at()))
            if item.kind == "member":
                item.fields["work_days"] = chance.choice((None, "1234567", "25"))
                item.fields["day_ends"] = chance.choice((None, "12:00", "05:30"))
        day = (now + timedelta(days=chance.randrange(5))).date().isoformat()
        items.append(self._item("away", "a", from_on=day, to_on=day))
        items.append(self._item("job", "j", title="J", zone_id="z"))
        items.append(self._item("zone", "z", name="Z", area_m2=chance.choice((0, 8)), holds=1))
        return items, records, now


def text(at: datetime) -> str:
    return at.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def facts(items: list[Item], records: list[Record], now: datetime) -> Facts:
    return facts_of(PlanRows("r", 1, now, tuple(items), tuple(records)))


def built_or_circle(facts: Facts) -> Built | None:
    try:
        return build(facts)
    except CircleError as error:
        known = {step.id for step in facts.steps}
        if not error.step_ids or not known.issuperset(error.step_ids):
            raise
        return None


def test_any_rows_become_a_project_with_a_sound_plan_or_say_why_there_is_none() -> None:
    seen: Counter[str] = Counter()
    for seed in range(240):
        built = built_or_circle(facts(*Worked(seed).refit()))
        if built is None:
            seen["circle"] += 1
            continue
        seen.update(part.standing for part in built.parts.values())
        # Two people whose hours never meet, or nobody at all, leave a step without people, and nothing else.
        faults = [fault for fault in faults_of(built.project) if "people" not in fault]
        assert [fault for fault in faults if "nobody's day" not in fault] == []
        if not faults_of(built.project):
            plan = simple_plan(built.project)
            assert check(built.project, plan) == (), seed
            assert len(planned_steps(built, plan.placed)) <= len(built.parts)
            seen["plan"] += 1
    assert all(seen[what] > 8 for what in ("circle", "plan", "done", "laying", "begun", "ahead"))


class Half(Refits):
    """One coat of two applications, by two people or one after the other."""

    def items(self, crew: int) -> list[Item]:
        launch = text(NOW + timedelta(days=20))
        return [
            self._item("refit", "r", name="R", time_zone="UTC", launch_at=launch),
            self._item("member", "m", name="M", role="owner"),
            *(self._item("device", d, member_id="m") for d in ("phone0000001", "phone0000002", "phone0000003")),
            self._item("zone", "z", name="Z", area_m2=20),
            self._item("job", "j", title="J", zone_id="z"),
            self._item("product", "p", name="P", profile=PROFILES[2]),
            self._item("step", "s", job_id="j", kind="coat", labour_h=8, crew_size=crew, product_id="p"),
        ]  # fmt: skip

    def rows(self, coats: list[tuple[float, float | None, float | None]], crew: int) -> Facts:
        body: dict[str, Any] = {"step_id": "s", "product_id": "p", "profile": PROFILES[2]}
        records = [
            self._record(
                "application",
                **body,
                start_at=text(NOW - timedelta(hours=begun)),
                **({} if ended is None else {"end_at": text(NOW - timedelta(hours=ended))}),
                **({} if area_m2 is None else {"area_m2": area_m2}),
            )
            for begun, ended, area_m2 in coats
        ]
        return facts(self.items(crew), records, NOW)


def test_applications_at_the_same_time_are_the_crew_at_work_and_count_once() -> None:
    one = Half(1).rows([(4.0, 2.0, None), (3.0, 1.0, None)], crew=2).steps[0].laid
    assert one is not None
    assert (one.labour_h, one.area_m2) == (6.0, None)
    apart = Half(1).rows([(6.0, 5.0, 4.0), (3.0, 1.0, 5.0)], crew=1).steps[0].laid
    assert apart is not None
    assert (apart.labour_h, apart.area_m2) == (3.0, 9.0)


def test_a_coat_on_nine_of_twenty_square_metres_has_the_rest_to_be_laid() -> None:
    built = build(Half(1).rows([(6.0, 5.0, 4.0), (3.0, 1.0, 5.0)], crew=1))
    assert built.parts["s"].standing == "begun"
    assert built.project.step_of["s"].work == 18  # eleven of twenty square metres of eight hours
    whole = build(Half(1).rows([(6.0, 5.0, 9.0), (3.0, 1.0, 11.0)], crew=1))
    assert whole.parts["s"].standing == "done"
