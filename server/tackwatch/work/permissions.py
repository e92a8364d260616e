"""Who may do what: one table, asked for every operation in the state that the operations before it left.

======== =====================================================================================================
role     may
======== =====================================================================================================
owner    everything that a hand may, and: the refit's own fields, the crew with skills and rates, when the yard is shut,
         deletion, sign-off
hand     make and edit zones, jobs, steps, links, products, skills; put people on steps; every record but a sign-off;
         settle differences on those kinds; the own name, language, zone and warning leads; how the own alarms ring;
         the own hours and working days; when they are away
viewer   read; the own name, language, zone and warning leads; how the own alarms ring; see or put off an alarm
======== =====================================================================================================

Devices are made by the server only; a member's role is the owner's to give, and a refit never loses its last owner.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from tackwatch.merge.errors import RefusedError
from tackwatch.merge.state import State

WORK_KINDS = frozenset({"zone", "job", "step", "link", "product", "skill"})
OWN_FIELDS = frozenset({"name", "language", "time_zone", "recoat_lead_min", "pot_lead_min"})
OWN_HOURS = frozenset({"day_starts", "day_ends", "work_days"})
OWN_KINDS = {"hand": frozenset({"ring_rule", "away"}), "viewer": frozenset({"ring_rule"})}
VIEWER_RECORDS = frozenset({"seen", "snoozed"})


def check_operation(member_id: str, actions: Sequence[Mapping[str, Any]], state: State) -> None:
    """Check that a member may do all of an operation's actions.

    Raises
    ------
    RefusedError
        With code ``not-allowed``, naming the action.
    """
    member = state.items.get(member_id)
    if member is None or member.gone:
        raise RefusedError("not-allowed", "This person is no longer in the crew.")
    role = str(member.fields["role"])
    for number, action in enumerate(actions):
        if not _may(role, member_id, action, state):
            raise RefusedError(
                "not-allowed",
                f"A person with the role {role} may not do this.",
                f"actions[{number}]",
            )


def check_owner_left(before: State, after: State) -> None:
    """Refuse an operation that would leave the refit without an owner.

    Raises
    ------
    RefusedError
        With code ``last-owner``.
    """
    if _owners(before) and not _owners(after):
        raise RefusedError("last-owner", "A refit needs an owner: make somebody else owner first.")


def _owners(state: State) -> list[str]:
    return [
        item.id
        for item in state.items.values()
        if item.kind == "member" and item.fields.get("role") == "owner" and not item.gone
    ]


def _may(role: str, member_id: str, action: Mapping[str, Any], state: State) -> bool:
    do, kind = action["do"], action.get("kind")
    if kind == "device" or (do == "create" and kind in ("refit", "member")):
        return False
    if role == "owner":
        return True
    if do == "set" and kind == "member":
        own = OWN_FIELDS | (OWN_HOURS if role == "hand" else frozenset())
        return bool(action["id"] == member_id and action["fields"].keys() <= own)
    if kind in OWN_KINDS[role]:
        return _is_mine(member_id, action, state)
    if do == "settle":
        return all(_may_settle(role, member_id, one, state) for one in action["differences"])
    if role == "viewer":
        return do == "record" and kind in VIEWER_RECORDS
    return _hand_may(action)


def _is_mine(member_id: str, action: Mapping[str, Any], state: State) -> bool:
    """Say whether an action is about the caller's own rule or absence, and leaves it theirs."""
    fields = action.get("fields", {})
    if action["do"] == "create":
        return bool(fields.get("member_id") == member_id)
    item = state.items.get(action["id"])
    own = item is not None and item.fields.get("member_id") == member_id
    return action["do"] == "set" and own and "member_id" not in fields


def _may_settle(role: str, member_id: str, id_: str, state: State) -> bool:
    difference = state.differences.get(id_)
    if difference is not None and difference.kind in OWN_KINDS[role]:
        item = state.items.get(difference.item_id)
        return item is not None and item.fields.get("member_id") == member_id
    if role == "viewer":
        return False
    return difference is None or (difference.kind in WORK_KINDS and difference.field != "gone")


def _hand_may(action: Mapping[str, Any]) -> bool:
    do, kind = action["do"], action.get("kind")
    if do == "record":
        return not (kind == "mark" and action["body"].get("mark") == "signed_off")
    if do == "set" and "gone" in action["fields"]:
        return False
    return kind in WORK_KINDS
