"""Coming aboard: a link is used, once, and the phone gets a key of its own."""

from __future__ import annotations

from tackwatch.store import people, refits
from tackwatch.store.db import writing
from tackwatch.work import devices
from tackwatch.work.errors import GoneError, NotFoundError
from tackwatch.work.filing import file_as_server
from tackwatch.work.invite import state
from tackwatch.work.ports import Ports
from tackwatch.work.sign_in import hash_of

_WHY = {
    "claimed": "This link was used already. Ask the owner for another.",
    "revoked": "The owner took this link back.",
    "expired": "This link is too old. Ask the owner for another.",
}


def claim_invite(token: str, device_name: str, ports: Ports) -> devices.NewDevice:
    """Use an invite up and give the device its key; of two claims at once exactly one succeeds.

    Raises
    ------
    NotFoundError
        When there never was such an invite.
    GoneError
        With code ``invite-claimed``, ``invite-revoked``, ``invite-expired`` or ``member-gone``.
    """
    now = ports.clock.now()
    with writing():
        found = people.invite_by_token(hash_of(token))
        refit = refits.lock(found.refit_id) if found is not None else None
        if found is None or refit is None:
            raise NotFoundError("unknown-invite", "This link is not known here.", "token")
        if not people.claim_invite(found.id, now):
            why = state(people.invite_by_token(hash_of(token)) or found, now)
            raise GoneError(f"invite-{why}", _WHY[why], "token")
        member = people.member(found.refit_id, found.member_id)
        if member is None or member.gone:
            raise GoneError("member-gone", "This person is no longer in the crew.", "token")
        device = devices.add(found.refit_id, found.member_id, device_name, ports.chance, now)
        file_as_server(refit, "claim_invite", [devices.item(device, device_name)], now)
    return device
