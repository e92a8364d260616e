"""Fields by last writer; what was overwritten unseen is kept."""

import pytest

from tackwatch.merge.conflict import same
from tackwatch.merge.errors import RefusedError
from tackwatch.merge.state import Version
from tests.merge.cast import ANNA, BEN, CARL, do, job, set_field, stamp, state_of, step


def test_a_value_that_was_seen_is_replaced_without_a_question():
    state, outcome = do(
        state_of(job()), stamp(9, BEN), set_field("title", "Fill the keel", seen=stamp(1, ANNA))
    )
    assert state.items["job-1"].fields["title"] == "Fill the keel"
    assert not outcome.differences
    assert not outcome.altered


def test_a_slow_clock_does_not_undo_what_was_done_knowingly():
    late = job(at=stamp(50, ANNA))
    state, outcome = do(
        state_of(late), stamp(9, BEN), set_field("title", "New", seen=stamp(50, ANNA))
    )
    assert state.items["job-1"].fields["title"] == "New"
    assert state.items["job-1"].stamp("title") > stamp(50, ANNA)
    assert "job-1" in outcome.altered


@pytest.mark.parametrize("first_ms", [8, 9])
def test_of_two_unseen_values_the_later_stays_and_the_other_is_kept(first_ms: int):
    start = stamp(1, ANNA)
    second_ms = 17 - first_ms
    state, _ = do(state_of(job()), stamp(first_ms, BEN), set_field("title", "Ben's", seen=start))
    state, _ = do(state, stamp(second_ms, CARL), set_field("title", "Carl's", seen=start))
    later, earlier = ("Ben's", "Carl's") if first_ms > second_ms else ("Carl's", "Ben's")
    assert state.items["job-1"].fields["title"] == later
    (difference,) = state.differences.values()
    assert (difference.kept.value, difference.lost.value) == (later, earlier)
    assert difference.settled is None


def test_two_who_write_the_same_do_not_differ():
    state, _ = do(state_of(job()), stamp(8, BEN), set_field("title", "Same", seen=stamp(1, ANNA)))
    state, _ = do(state, stamp(9, CARL), set_field("title", "Same", seen=stamp(1, ANNA)))
    assert not state.differences
    assert state.items["job-1"].stamp("title") == stamp(9, CARL)


def test_true_and_one_are_not_the_same():
    assert not same(True, 1)
    assert not same({"a": [0]}, {"a": [False]})
    assert same({"a": [1, None]}, {"a": [1.0, None]})


def test_different_fields_do_not_differ():
    state, _ = do(state_of(job()), stamp(8, BEN), set_field("title", "B", seen=stamp(1, ANNA)))
    state, outcome = do(state, stamp(7, CARL), set_field("text", "C", seen=stamp(1, ANNA)))
    assert (state.items["job-1"].fields["title"], state.items["job-1"].fields["text"]) == ("B", "C")
    assert not outcome.differences


def test_a_person_settles_a_difference_and_it_stays_settled():
    state, _ = do(state_of(job()), stamp(8, BEN), set_field("title", "B", seen=stamp(1, ANNA)))
    state, _ = do(state, stamp(9, CARL), set_field("title", "C", seen=stamp(1, ANNA)))
    (id_,) = state.differences
    state, _ = do(
        state,
        stamp(10, ANNA),
        set_field("title", "B", seen=stamp(9, CARL)),
        {"do": "settle", "differences": [id_]},
    )
    assert state.items["job-1"].fields["title"] == "B"
    assert state.differences[id_].settled == stamp(10, ANNA)
    state, outcome = do(state, stamp(11, BEN), {"do": "settle", "differences": [id_]})
    assert state.differences[id_].settled == stamp(10, ANNA)
    assert not outcome.differences


def test_deletion_that_was_not_touched_since_goes_through():
    state, outcome = do(state_of(job()), stamp(9, BEN), set_field("gone", True))
    assert state.items["job-1"].gone
    assert not outcome.differences


@pytest.mark.parametrize("deletion_first", [True, False])
@pytest.mark.parametrize("deletion_ms", [5, 50])
def test_deletion_against_an_unseen_edit_keeps_the_work_and_asks(
    deletion_first: bool, deletion_ms: int
):
    edit = (stamp(20, BEN), set_field("title", "Edited", seen=stamp(1, ANNA)))
    drop = (stamp(deletion_ms, CARL), set_field("gone", True))
    state = state_of(job())
    for at, action in (drop, edit) if deletion_first else (edit, drop):
        state, _ = do(state, at, action)
    item = state.items["job-1"]
    assert not item.gone
    assert item.fields["title"] == "Edited"
    (difference,) = state.differences.values()
    assert difference.field == "gone"
    assert (difference.kept.value, difference.lost.value) == (False, True)


@pytest.mark.parametrize("deletion_first", [True, False])
def test_deletion_against_an_unseen_assignment_keeps_the_work_and_asks(deletion_first: bool):
    from tests.merge.cast import member

    put_in = (
        stamp(20, BEN),
        {"do": "put_in", "kind": "step", "id": "step-1", "set": "assignees", "member": "m-1"},
    )
    drop = (stamp(21, CARL), set_field("gone", True, kind="step", id_="step-1"))
    state = state_of(step(), member())
    for at, action in (drop, put_in) if deletion_first else (put_in, drop):
        state, _ = do(state, at, action)
    assert not state.items["step-1"].gone
    assert [one.field for one in state.differences.values()] == ["gone"]


def test_an_edit_that_hides_behind_the_deleters_own_is_still_unseen():
    state, _ = do(
        state_of(job()), stamp(8, BEN), set_field("text", "Ben's words", seen=stamp(1, ANNA))
    )
    state, _ = do(state, stamp(20, CARL), set_field("title", "Carl's", seen=stamp(1, ANNA)))
    drop = {
        "do": "set",
        "kind": "job",
        "id": "job-1",
        "fields": {"gone": True},
        "seen": {"title": stamp(20, CARL)},
    }
    state, _ = do(state, stamp(21, CARL), drop)
    assert not state.items["job-1"].gone


def test_a_deletion_by_somebody_who_saw_every_edit_goes_through():
    state, _ = do(state_of(job()), stamp(8, BEN), set_field("title", "B", seen=stamp(1, ANNA)))
    drop = {
        "do": "set",
        "kind": "job",
        "id": "job-1",
        "fields": {"gone": True},
        "seen": {"title": stamp(8, BEN)},
    }
    state, outcome = do(state, stamp(21, CARL), drop)
    assert state.items["job-1"].gone
    assert not outcome.differences


@pytest.mark.parametrize(
    ("action", "field"),
    [
        (set_field("titel", "x"), "actions[0].fields.titel"),
        (set_field("title", 5), "actions[0].fields.title"),
        (set_field("title", ""), "actions[0].fields.title"),
        (set_field("title", "x" * 121), "actions[0].fields.title"),
        (set_field("title", "a\x00b"), "actions[0].fields.title"),
        (set_field("title", "a\ud800b"), "actions[0].fields.title"),
        (set_field("zone_id", "nowhere"), "actions[0].fields.zone_id"),
        (set_field("afloat_ok", 1), "actions[0].fields.afloat_ok"),
        (set_field("rank", float("nan")), "actions[0].fields.rank"),
        (set_field("found_while", "job-1"), "actions[0].fields.found_while"),
        (set_field("title", "x", id_="job-9"), "actions[0].id"),
        ({"do": "set", "kind": "boat", "id": "job-1", "fields": {"title": "x"}}, "actions[0].kind"),
        ({"do": "paint", "kind": "job", "id": "job-1"}, "actions[0].do"),
        ({"do": "create", "kind": "job", "id": "job-1", "fields": {"title": "x"}}, "actions[0].id"),
        ({"do": "create", "kind": "job", "id": "job-2", "fields": {}}, "actions[0].fields.title"),
        ({"do": "settle", "differences": ["none"]}, "actions[0].differences"),
    ],
)
def test_a_fault_names_its_field_and_changes_nothing(action, field: str):
    state = state_of(job())
    with pytest.raises(RefusedError) as caught:
        do(state, stamp(9, BEN), action)
    assert caught.value.field == field
    assert state == state_of(job())


def test_all_actions_take_effect_or_none():
    with pytest.raises(RefusedError) as caught:
        do(state_of(job()), stamp(9, BEN), set_field("title", "x"), set_field("zone_id", "nowhere"))
    assert caught.value.field == "actions[1].fields.zone_id"


def test_a_value_keeps_its_stamp_when_nobody_changes_it():
    state, _ = do(state_of(job()), stamp(9, BEN), set_field("title", "x", seen=stamp(1, ANNA)))
    item = state.items["job-1"]
    assert item.stamps == {"title": stamp(9, BEN)}
    assert Version(item.fields["title"], item.stamp("title")) == Version("x", stamp(9, BEN))
