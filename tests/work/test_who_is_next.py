"""Who comes next, whatever the crew, the rules and what was seen: properties that hold for any of them."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

from hypothesis import given
from hypothesis import strategies as st

from tackwatch.merge.state import Item
from tackwatch.trade.warnings import Warning
from tackwatch.work.reckoning.hand_on import HandOn
from tackwatch.work.reckoning.personal_warnings import PersonalWarning
from tackwatch.work.reckoning.ring_rules import RingRules
from tackwatch.work.reckoning.rows import RefitRows

DUE = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)
USELESS = DUE + timedelta(minutes=60)
CREW = {"o": "owner", "p": "owner", "h": "hand", "i": "hand", "v": "viewer"}
ALARM = "coat.recoat_closing"
PEOPLE = st.sampled_from(sorted(CREW))
RULE = st.fixed_dictionaries(
    {"member_id": PEOPLE},
    optional={
        "next_member_id": PEOPLE,
        "unseen_min": st.sampled_from([0, 5, 20, 45]),
        "off": st.booleans(),
        "kind": st.sampled_from(["recoat_closing", "gel"]),
    },
)
MINUTES = st.integers(-30, 70)


@given(
    st.lists(RULE, max_size=5),
    st.sets(st.sampled_from(["o", "h", "i"]), min_size=1),
    st.dictionaries(PEOPLE, MINUTES, max_size=2),
    st.dictionaries(PEOPLE, MINUTES, max_size=3),
    st.integers(-60, 90),
)
def test_what_is_handed_on_is_late_enough_of_use_unseen_and_not_twice(
    rules: list[dict[str, object]],
    have: set[str],
    seen_min: dict[str, int],
    told_min: dict[str, int],
    now_min: int,
):
    items = [Item("refit", "r", "1", {"time_zone": "UTC"})]
    items += [Item("member", id_, "1", {"name": id_, "role": role}) for id_, role in CREW.items()]
    items += [Item("ring_rule", f"x{n}", f"{n:03}", fields) for n, fields in enumerate(rules)]
    rows = RefitRows(items, [])
    ring_rules = RingRules(rows)
    warning = Warning(ALARM, "recoat_closing", "coat", DUE, USELESS, {})

    def ring(id_: str):
        return ring_rules.ring(rows.items["member"][id_], "recoat_closing")

    told = {(id_, ALARM): DUE + timedelta(minutes=n) for id_, n in told_min.items()}
    seen = {(id_, ALARM): DUE + timedelta(minutes=n) for id_, n in seen_min.items()}
    now = DUE + timedelta(minutes=now_min)
    first = [PersonalWarning(id_, warning, ring(id_), None) for id_ in sorted(have)]
    handed = HandOn(rows, ring_rules, told, seen, now).all(first)

    to = [one.warning.member_id for one in handed]
    assert len(to) == len(set(to))
    assert not set(to) & have, "who has it is not told twice"
    if any(at + timedelta(minutes=1) >= DUE for at in seen.values()) or now > USELESS:
        assert handed == []
    for one in handed:
        unseen_s = ring(one.from_member_id).unseen_s
        assert unseen_s is not None
        from_at = max(DUE, told.get((one.from_member_id, ALARM), DUE))
        stages = one.after_s / unseen_s
        assert stages in (1, 2)
        assert one.warning.warning.due_at == from_at + timedelta(seconds=one.after_s) <= USELESS
        assert one.warning.warning.id == ALARM
        named = ring(one.from_member_id).next_member_id == one.warning.member_id
        assert named or CREW[one.warning.member_id] == "owner"
        assert not named or stages == 1
        silent = ring(one.warning.member_id).off
        assert not silent or (named and CREW[one.warning.member_id] == "viewer")
