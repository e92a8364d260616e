"""Coming aboard with an invite's link: the file is made first, so that the key has a place to go."""

from __future__ import annotations

import re
from pathlib import Path
from urllib.parse import urlsplit

from tackwatch.remote.copy import Copy, NowMs
from tackwatch.remote.errors import InputError, LaterError
from tackwatch.remote.file import File
from tackwatch.remote.meta import Meta
from tackwatch.remote.wire import Server

_JOIN = re.compile(r"/?join/([0-9A-Za-z_-]{1,200})")
_GIVEN = ("refit_id", "member_id", "device_id", "key")


def join(link: str, name: str, path: Path, now_ms: NowMs) -> Copy:
    """Use an invite's link up and begin a file with the key that it gives.

    Raises
    ------
    InputError
        When the link is none.
    StoreError
        When the file is there already or cannot be made; the link still works then.
    LaterError, ProblemError
        When the server cannot be reached or does not take the link; there is no file then.
    """
    address, token = read_link(link)
    file = File(path, new=True)
    server = Server(address)
    try:
        given = server.post("/api/invites/claim", {"token": token, "device_name": name})
        if not all(isinstance(given.get(part), str) for part in _GIVEN):
            raise LaterError("Something other than the server answered.")
        copy = Copy(file, now_ms)
        copy.begin(Meta(server.address, *(given[part] for part in _GIVEN)))
    except BaseException:
        file.close()
        path.unlink(missing_ok=True)
        raise
    finally:
        server.close()
    return copy


def read_link(link: str) -> tuple[str, str]:
    """Give the server's address and the token in an invite's link.

    Raises
    ------
    InputError
        When the link is none.
    """
    parts = urlsplit(link.strip())
    found = _JOIN.fullmatch(parts.fragment)
    if parts.scheme not in ("http", "https") or not parts.hostname or found is None:
        raise InputError("This is no link that lets a device in; ask the owner for one.", "link")
    return f"{parts.scheme}://{parts.netloc}{parts.path.rstrip('/')}", found[1]
