"""Sets by tags; records that are only ever added; what stands of them."""

import json
from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from tackwatch.merge.errors import RefusedError
from tackwatch.merge.standing import standing
from tackwatch.merge.state import Record, State
from tackwatch.merge.text import storable, storable_text
from tests.merge.cast import ANNA, BEN, CARL, do, member, stamp, state_of, step


def put_in(who: str = "m-1"):
    return {"do": "put_in", "kind": "step", "id": "step-1", "set": "assignees", "member": who}


def take_out(tags: list[str], who: str = "m-1"):
    return {
        "do": "take_out",
        "kind": "step",
        "id": "step-1",
        "set": "assignees",
        "member": who,
        "tags": tags,
    }


def reading(id_: str, replaces: str | None = None, void: bool = False, air_c: float = 12):
    body = {} if void else {"taken_at": "2026-03-02T08:00:00Z", "air_c": air_c}
    return {
        "do": "record",
        "kind": "reading",
        "id": id_,
        "body": body,
        "replaces": replaces,
        "void": void,
    }


def hours(worked_on: str):
    body = {"worked_on": worked_on, "minutes": 30, "member_id": "m-1"}
    return {"do": "record", "kind": "hours", "id": "h-1", "body": body}


def test_taking_out_removes_only_what_was_seen():
    state, _ = do(state_of(step(), member()), stamp(8, BEN), put_in())
    state, _ = do(state, stamp(9, CARL), put_in())
    state, _ = do(state, stamp(10, ANNA), take_out([stamp(8, BEN)]))
    assert state.items["step-1"].sets["assignees"]["m-1"] == (stamp(9, CARL),)
    state, _ = do(state, stamp(11, ANNA), take_out([stamp(9, CARL)]))
    assert "assignees" not in state.items["step-1"].sets


def test_taking_out_removes_what_the_same_device_put_in_under_whatever_stamp():
    """A stamp far ahead is set back when it is filed; the phone that takes out only knows the one that it made."""
    state, _ = do(state_of(step(), member()), stamp(8, ANNA), put_in())
    state, _ = do(state, stamp(9, BEN), put_in())
    state, _ = do(state, stamp(10, ANNA), take_out([stamp(99, ANNA)]))
    assert state.items["step-1"].sets == {"assignees": {"m-1": (stamp(9, BEN),)}}


def test_what_is_known_to_have_been_taken_out_is_not_put_in_again():
    """A restored server hears of the taking off from who saw it, before its maker offers the putting on again."""
    at = stamp(8, BEN)
    out = frozenset({("step-1", "assignees", "m-1", at)})
    known = replace(state_of(step(), member()), taken_out=out)
    state, outcome = do(known, at, put_in())
    assert (state.items["step-1"].sets, outcome.altered) == ({}, {"step-1"})
    again, _ = do(state, stamp(9, BEN), put_in())
    assert again.items["step-1"].sets == {"assignees": {"m-1": (stamp(9, BEN),)}}


def test_only_a_member_can_be_put_on_a_step():
    with pytest.raises(RefusedError) as caught:
        do(state_of(step(), member()), stamp(8, BEN), put_in("step-1"))
    assert caught.value.field == "actions[0].member"


def test_two_who_log_the_same_make_two_records():
    state, _ = do(State(), stamp(8, BEN), reading("r-1"))
    state, _ = do(state, stamp(8, CARL), reading("r-2"))
    assert len(standing(state.records.values())) == 2


def test_a_correction_stands_in_the_place_of_the_first():
    state, _ = do(State(), stamp(8, BEN), reading("r-1"))
    state, _ = do(state, stamp(9, BEN), reading("r-2", replaces="r-1", air_c=15))
    (one,) = standing(state.records.values())
    assert (one.root.id, one.record.id, one.record.body["air_c"]) == ("r-1", "r-2", 15)
    assert set(state.records) == {"r-1", "r-2"}


def test_of_two_corrections_the_later_stands_and_both_are_kept():
    state, _ = do(State(), stamp(8, BEN), reading("r-1"))
    state, _ = do(state, stamp(20, CARL), reading("r-3", replaces="r-1", air_c=3))
    state, _ = do(state, stamp(10, ANNA), reading("r-2", replaces="r-1", air_c=2))
    (one,) = standing(state.records.values())
    assert one.record.id == "r-3"
    assert {leaf.id for leaf in one.leaves} == {"r-2", "r-3"}


def test_a_withdrawn_record_does_not_stand_but_is_kept():
    state, _ = do(State(), stamp(8, BEN), reading("r-1"))
    state, _ = do(state, stamp(9, BEN), reading("r-2", replaces="r-1", void=True))
    assert standing(state.records.values()) == []
    assert "r-1" in state.records


@given(st.permutations(range(6)), st.data())
def test_what_stands_does_not_depend_on_the_order_of_arrival(order, data):
    records = [Record("reading", "r0", stamp(1, ANNA), {})]
    for number in range(1, 6):
        parent = data.draw(st.none() | st.integers(0, number - 1))
        void = parent is not None and data.draw(st.booleans())
        records.append(
            Record(
                "reading",
                f"r{number}",
                stamp(number + 1, BEN),
                {},
                None if parent is None else f"r{parent}",
                void,
            )
        )
    assert standing([records[at] for at in order]) == standing(records)


@pytest.mark.parametrize(
    ("action", "field"),
    [
        (reading("r-2", replaces="none"), "actions[0].replaces"),
        ({**reading("r-2"), "body": {"air_c": 12}}, "actions[0].body.taken_at"),
        ({**reading("r-2"), "body": {"taken_at": "2026-03-02 08:00"}}, "actions[0].body.taken_at"),
        (
            {**reading("r-2"), "body": {"taken_at": "2026-13-02T08:00:00Z"}},
            "actions[0].body.taken_at",
        ),
        (
            {**reading("r-2"), "body": {"taken_at": "2026-03-02T08:00:00Z", "air_c": 1e9}},
            "actions[0].body.air_c",
        ),
        ({**reading("r-2"), "void": True}, "actions[0].replaces"),
        (
            {**reading("r-2"), "body": {"taken_at": "２026-03-02T08:00:00Z"}},
            "actions[0].body.taken_at",
        ),
        (hours("2026-W10-1"), "actions[0].body.worked_on"),
        (hours("2026-02-30"), "actions[0].body.worked_on"),
        (reading("r-1"), "actions[0].id"),
        ({**reading("r-2"), "id": "a b"}, "actions[0].id"),
        ({**reading("r-2"), "kind": "job"}, "actions[0].kind"),
        ({**reading("r-2"), "colour": 1}, "actions[0].colour"),
    ],
)
def test_a_wrong_record_is_refused_with_its_field(action, field: str):
    state, _ = do(State(), stamp(8, BEN), reading("r-1"))
    with pytest.raises(RefusedError) as caught:
        do(state, stamp(9, BEN), action)
    assert caught.value.field == field


@given(st.text(alphabet=st.characters(codec=None, exclude_categories=()), max_size=30))
def test_any_text_can_be_kept_and_ordinary_text_is_unchanged(text: str):
    kept = storable({"text": [text]})["text"][0]
    kept.encode("utf-8")
    assert "\x00" not in kept
    assert len(kept) == len(text)


_TEXT = st.text(alphabet=st.characters(codec=None, exclude_categories=()), max_size=6)


@given(
    st.recursive(
        st.none() | st.booleans() | st.integers() | st.floats() | _TEXT,
        lambda part: st.lists(part, max_size=3) | st.dictionaries(_TEXT, part, max_size=3),
        max_leaves=8,
    )
)
def test_the_text_that_the_log_keeps_says_what_can_be_kept(value):
    text = storable_text(value)
    assert text.isascii()
    assert json.loads(text, parse_constant=pytest.fail) == storable(value)
