"""A job is deleted with its steps while others, out of signal, work on it: every order, on both databases.

What the phone makes of it, and what a person is asked, is in ``client/tests/store/removal.test.ts``.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from itertools import permutations
from typing import Any

import pytest
from flask import Flask

from tackwatch.merge.state import Item
from tackwatch.remote.rows import all_seen
from tests.support.crew import Crew, UnluckyPhone
from tests.support.phone import new_id
from tests.support.world import StandingClock

Work = Callable[[UnluckyPhone, "Built"], list[dict[str, Any]]]


@dataclass(frozen=True)
class Built:
    """A job of two steps, one after the other."""

    job: str
    first: str
    last: str
    link: str

    @property
    def all(self) -> set[str]:
        return {self.job, self.first, self.last, self.link}


def create(thing: str, **fields: Any) -> dict[str, Any]:
    return {"do": "create", "kind": thing, "id": new_id(), "fields": fields}


def set_(item: Item, seen: dict[str, str] | None = None, **fields: Any) -> dict[str, Any]:
    known = {name: item.stamp(name) for name in fields} | (seen or {})
    return {"do": "set", "kind": item.kind, "id": item.id, "fields": fields, "seen": known}


def touch(phone: UnluckyPhone, step_id: str) -> dict[str, Any]:
    """Set a field to what it is, as the phone does with whatever is logged on a step."""
    item = phone.view().items[step_id]
    return set_(item, job_id=item.fields["job_id"])


def deletion(phone: UnluckyPhone, job_id: str) -> list[dict[str, Any]]:
    """Delete a job with those of its steps and links that the person sees."""
    live = [one for one in phone.view().items.values() if not one.gone]
    steps = {one.id for one in live if one.fields.get("job_id") == job_id}
    links = {
        one.id for one in live if {one.fields.get("step_id"), one.fields.get("after_id")} & steps
    }
    return [
        set_(one, all_seen(one), gone=True) for one in live if one.id in links | steps | {job_id}
    ]


def adds_a_step(_: UnluckyPhone, built: Built) -> list[dict[str, Any]]:
    return [create("step", job_id=built.job, kind="coat", title="Unseen")]


def changes_a_step(phone: UnluckyPhone, built: Built) -> list[dict[str, Any]]:
    return [set_(phone.view().items[built.first], title="Unseen")]


def hands_a_step_over(phone: UnluckyPhone, built: Built) -> list[dict[str, Any]]:
    member = phone.member_id
    return [{"do": "put_in", "kind": "step", "id": built.first, "set": "assignees", "member": member}]  # fmt: skip


def notes_on_a_step(phone: UnluckyPhone, built: Built) -> list[dict[str, Any]]:
    body = {"text": "Unseen", "step_id": built.first}
    note = {"do": "record", "kind": "note", "id": new_id(), "body": body, "replaces": None}
    return [note, touch(phone, built.first)]


def orders_the_steps(phone: UnluckyPhone, built: Built) -> list[dict[str, Any]]:
    link = create("link", step_id=built.first, after_id=built.last)
    return [link, touch(phone, built.first), touch(phone, built.last)]


WORK: dict[str, tuple[Work, set[str]]] = {
    "adds a step": (adds_a_step, set()),
    "changes a step": (changes_a_step, {"first"}),
    "hands a step over": (hands_a_step_over, {"first"}),
    "notes on a step": (notes_on_a_step, {"first"}),
    "orders the steps": (orders_the_steps, {"first", "last"}),
}


@pytest.fixture
def crew(app: Flask, clock: StandingClock) -> Crew:
    made = Crew.begin(app, clock, hands=2)
    for phone in made.phones:
        phone.attempt()
    return made


def build(crew: Crew) -> Built:
    job = create("job", title="Barrier")
    steps = [create("step", job_id=job["id"], kind="coat", title=title) for title in ("a", "b")]
    link = create("link", step_id=steps[1]["id"], after_id=steps[0]["id"])
    crew.phones[0].do(job, *steps, link)
    meet(crew)
    return Built(job["id"], steps[0]["id"], steps[1]["id"], link["id"])


def meet(crew: Crew) -> None:
    for _ in range(2):
        for phone in crew.phones:
            phone.attempt()


def live(crew: Crew) -> set[str]:
    """The live steps, jobs and links, after every phone holds what the server does."""
    truth = crew.truth()
    for phone in crew.phones:
        for id_, item in truth.items.items():
            assert phone.state.items[id_] == item
    kinds = {"job", "step", "link"}
    return {one.id for one in truth.items.values() if one.kind in kinds and not one.gone}


@pytest.mark.parametrize("acts_first", ["deletion", "work"])
@pytest.mark.parametrize("name", WORK)
def test_unseen_work_outlives_the_deletion_of_its_job_in_every_order(
    crew: Crew, name: str, acts_first: str
) -> None:
    for order in permutations(range(3)):
        before = live(crew)
        check(crew, build(crew), name, acts_first, order, before)


def check(
    crew: Crew, built: Built, name: str, acts_first: str, order: tuple[int, ...], before: set[str]
) -> None:
    """Let three people act out of signal, meet in an order, and the owner take the deletion back."""
    owner, one, other = crew.phones
    work, kept = WORK[name]
    if acts_first == "deletion":
        owner.do(*deletion(owner, built.job))
    made = work(one, built)
    one.do(*made)
    other.do(*adds_a_step(other, built))
    if acts_first == "work":
        owner.do(*deletion(owner, built.job))
    for place in order:
        crew.phones[place].attempt()
    meet(crew)

    done = (*made, *other.everything[-1]["actions"])
    added = {action["id"] for action in done if action["do"] == "create"}
    stays = {getattr(built, part) for part in kept}
    assert live(crew) - before == added | stays
    asked = {row.item_id for row in owner.open_differences()}
    assert asked == stays, (
        "each that was touched is asked about; what was added hangs on a deleted job"
    )
    assert all(row.field == "gone" for row in owner.open_differences())
    if name == "notes on a step":
        assert made[0]["id"] in owner.state.records

    at = owner.item(built.job).stamp("gone")
    went = [row for row in owner.state.items.values() if row.gone and row.stamp("gone") == at]
    assert {row.id for row in went} == built.all - stays, "one stamp for all that went together"
    settle = {"do": "settle", "differences": [row.id for row in owner.open_differences()]}
    owner.do(*(set_(row, gone=False) for row in went), *([settle] if stays else []))
    meet(crew)
    assert live(crew) - before == built.all | added
    assert owner.open_differences() == []


def test_two_who_delete_one_job_agree(crew: Crew) -> None:
    owner, built = crew.phones[0], build(crew)
    owner.do(*deletion(owner, built.job))
    owner.do(*deletion(owner, built.job))
    meet(crew)
    assert live(crew) == set()
    assert owner.open_differences() == []
