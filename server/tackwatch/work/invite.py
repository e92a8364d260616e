"""Inviting somebody with a link that works once, looking at the invites, and taking one back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

import segno

from tackwatch.merge.values import is_id
from tackwatch.store import people, refits
from tackwatch.store.db import writing
from tackwatch.store.models import Invite, Refit
from tackwatch.work.caller import Caller
from tackwatch.work.errors import ConflictError, InvalidError, NotFoundError
from tackwatch.work.filing import file_as_server
from tackwatch.work.ports import Ports
from tackwatch.work.sign_in import hash_of

DAYS = 7
MOST_DAYS = 30


@dataclass(frozen=True, slots=True)
class InviteAsked:
    """Whom to invite: a new person, or with ``member_id`` one of the crew with another device."""

    role: str | None = None
    name: str | None = None
    language: str | None = None
    member_id: str | None = None
    days: int = DAYS


@dataclass(frozen=True, slots=True)
class InviteMade:
    """A new invite; token, link and picture are shown once."""

    invite_id: str
    member_id: str
    token: str
    link: str
    qr_svg: str
    expires_at: str


@dataclass(frozen=True, slots=True)
class InviteSeen:
    """An invite as the owner sees it in a list. ``state``: open, claimed, expired or revoked."""

    invite_id: str
    member_id: str
    state: str
    created_at: str
    expires_at: str


def invite(caller: Caller, asked: InviteAsked, public_url: str, ports: Ports) -> InviteMade:
    """Make an invite; a new person is in the crew from now on.

    Raises
    ------
    InvalidError
        Naming the field that is missing or does not fit the member.
    """
    now, token, invite_id = ports.clock.now(), ports.chance.secret(), ports.chance.new_id()
    expires_at = now + timedelta(days=asked.days)
    with writing():
        refit = _locked(caller)
        member_id = asked.member_id or _new_member(refit, asked, ports, now)
        if asked.member_id is not None:
            _check_member(caller.refit_id, asked.member_id, asked.role)
        people.add_invite(
            invite_id,
            caller.refit_id,
            member_id,
            hash_of(token),
            created_at=now,
            expires_at=expires_at,
        )
    link = f"{public_url}/#/join/{token}"
    return InviteMade(invite_id, member_id, token, link, _picture(link), _text(expires_at))


def invites(caller: Caller, now: datetime) -> list[InviteSeen]:
    """Give all invites, newest first, without their secrets."""
    return [
        InviteSeen(
            one.id, one.member_id, state(one, now), _text(one.created_at), _text(one.expires_at)
        )
        for one in people.invites(caller.refit_id)
    ]


def take_back(caller: Caller, invite_id: str, now: datetime) -> None:
    """Make an open invite useless; done twice it is no harm.

    Raises
    ------
    NotFoundError
        When the refit has no such invite.
    ConflictError
        When somebody has used it already.
    """
    with writing():
        _locked(caller)
        found = people.revoke_invite(caller.refit_id, invite_id, now) if is_id(invite_id) else None
        if found is None:
            raise NotFoundError("unknown-invite", "There is no such invite.")
        if found.claimed_at is not None:
            raise ConflictError(
                "invite-claimed", "It was used already. Withdraw the device instead."
            )


def state(one: Invite, now: datetime) -> str:
    """Say in one word whether an invite still opens the door."""
    if one.claimed_at is not None:
        return "claimed"
    if one.revoked_at is not None:
        return "revoked"
    return "open" if now < one.expires_at else "expired"


def _locked(caller: Caller) -> Refit:
    refit = refits.lock(caller.refit_id)
    if refit is None:
        raise NotFoundError("unknown-refit", "There is no such refit.")
    return refit


def _new_member(refit: Refit, asked: InviteAsked, ports: Ports, now: datetime) -> str:
    for name in ("role", "name"):
        if getattr(asked, name) is None:
            raise InvalidError("value-missing", "A value is needed here.", name)
    fields = {"role": asked.role, "name": asked.name}
    if asked.language is not None:
        fields["language"] = asked.language
    member_id = ports.chance.new_id()
    action = {"do": "create", "kind": "member", "id": member_id, "fields": fields, "sets": {}}
    file_as_server(refit, "invite", [action], now)
    return member_id


def _check_member(refit_id: str, member_id: str, role: str | None) -> None:
    member = people.member(refit_id, member_id)
    if member is None or member.gone:
        raise InvalidError("unknown-member", "There is no such person in the crew.", "member_id")
    if role is not None and role != member.fields["role"]:
        raise InvalidError("other-role", "This person has another role; change it first.", "role")


def _picture(link: str) -> str:
    """Give the link as a QR code in SVG that may be put into a page as it is."""
    code = segno.make(link, error="m", micro=False)
    return str(code.svg_inline(border=4, omitsize=True, svgclass=None, lineclass=None))


def _text(instant: datetime) -> str:
    return instant.isoformat(timespec="milliseconds").replace("+00:00", "Z")
