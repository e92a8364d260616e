"""Which rule counts: the most specific one, field by field."""

from __future__ import annotations

from typing import Any

from hypothesis import given
from hypothesis import strategies as st

from tackwatch.merge.state import Item
from tackwatch.trade.warning_kinds import ALARM_KINDS, MANNERS, WALK_MIN
from tackwatch.work.reckoning.ring_rules import Ring, RingRules
from tackwatch.work.reckoning.rows import RefitRows

REFIT = Item("refit", "r", "1", {"time_zone": "Europe/Lisbon"})


def member(role: str = "hand", **fields: Any) -> Item:
    return Item("member", "m", "1", {"name": "M", "role": role, **fields})


def rule(at: str = "2", **fields: Any) -> Item:
    return Item("ring_rule", f"rule{at}{sorted(fields.items())}", at, {"member_id": "m", **fields})


def ring(kind: str, *rules: Item, who: Item | None = None, steps: tuple[str, ...] = ()) -> Ring:
    rows = RefitRows([REFIT, who or member(), *rules], [])
    return RingRules(rows).ring(who or member(), kind, steps)  # type: ignore[arg-type]


def test_step_and_kind_come_before_step_before_kind_before_everything():
    rules = [
        rule(unseen_min=1, walk_min=1, lead_min=1, by_mail=True),
        rule(kind="recoat_closing", unseen_min=2, walk_min=2, lead_min=2),
        rule(step_id="s", unseen_min=3, walk_min=3),
        rule(step_id="s", kind="recoat_closing", unseen_min=4),
    ]
    found = ring("recoat_closing", *rules, steps=("s", "other"))
    assert (found.unseen_s, found.walk_s, found.lead_s, found.by_mail) == (240, 180, 120, True)
    elsewhere = ring("recoat_closing", *rules, steps=("other",))
    assert (elsewhere.unseen_s, elsewhere.walk_s) == (120, 120)
    other = ring("step_due", *rules)
    assert (other.unseen_s, other.lead_s) == (60, 60)


def test_of_two_rules_for_the_same_the_later_one_counts_and_one_that_is_gone_does_not():
    rules = [rule("3", lead_min=30), rule("2", lead_min=20), rule("4", lead_min=40, gone=True)]
    assert ring("step_due", *rules).lead_s == 1800


def test_the_leads_of_older_phones_stand_between_kind_and_everything():
    who = member(recoat_lead_min=45)
    assert ring("recoat_closing", rule(lead_min=5), who=who).lead_s == 45 * 60
    assert ring("recoat_closing", rule(kind="recoat_closing", lead_min=5), who=who).lead_s == 300
    assert ring("step_due", rule(lead_min=5), who=who).lead_s == 300


def test_who_looks_on_is_silent_until_they_ask_and_a_hand_for_the_launch():
    viewer, hand, owner = member("viewer"), member("hand"), member("owner")
    assert ring("recoat_open", who=viewer).off
    assert not ring("recoat_open", rule(off=False), who=viewer).off
    assert ring("launch_countdown", who=hand).off
    assert not ring("launch_countdown", who=owner).off
    assert not ring("recoat_open", who=hand).off
    assert ring("recoat_open", rule(kind="recoat_open", off=True), who=hand).off


def test_the_zone_is_the_person_s_own_else_the_refit_s():
    assert ring("recoat_open").zone == "Europe/Lisbon"
    assert ring("recoat_open", who=member(time_zone="America/New_York")).zone == "America/New_York"


FIELDS = {
    "off": st.booleans(),
    "lead_min": st.integers(0, 100),
    "by_mail": st.booleans(),
    "unseen_min": st.integers(0, 100),
    "quiet_from": st.sampled_from(["21:00", "23:30"]),
}
RULE = st.fixed_dictionaries(
    {},
    optional={
        **FIELDS,
        "step_id": st.sampled_from(["s", "t"]),
        "kind": st.sampled_from(ALARM_KINDS),
        "gone": st.booleans(),
    },
)


def rank(fields: dict[str, Any]) -> int:
    return 2 * ("step_id" in fields) + ("kind" in fields)


@given(st.lists(RULE, max_size=6), st.sampled_from(ALARM_KINDS), st.sets(st.sampled_from("stu")))
def test_each_field_is_that_of_the_best_rule_that_says_it(
    drawn: list[dict[str, Any]], kind: str, steps: set[str]
):
    rules = [rule(f"{n:03}", **fields) for n, fields in enumerate(drawn)]
    found = ring(kind, *rules, steps=tuple(sorted(steps)))
    about = [
        (rank(fields), n, fields)
        for n, fields in enumerate(drawn)
        if fields.get("step_id", "s") in steps | ({"s"} if "step_id" not in fields else set())
        and fields.get("kind", kind) == kind
        and not fields.get("gone")
    ]

    def best(name: str, otherwise: Any) -> Any:
        said = [(r, n, fields[name]) for r, n, fields in about if name in fields]
        return max(said, key=lambda one: one[:2])[2] if said else otherwise

    manner = MANNERS[kind]  # type: ignore[index]
    lead_min = best("lead_min", manner.lead_min)
    assert found.lead_s == (None if lead_min is None else 60 * lead_min)
    assert found.off == best("off", kind == "launch_countdown")
    assert found.by_mail == best("by_mail", False)
    assert found.quiet_from == best("quiet_from", None)
    unseen_min = best("unseen_min", manner.unseen_min)
    assert found.unseen_s == (60 * unseen_min if unseen_min else None)
    assert found.walk_s == (60 * WALK_MIN if manner.walk else 0)
