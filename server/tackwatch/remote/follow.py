"""Following a refit: exchanging whenever the live stream says that something moved, and by and by where there is none.

Rules
-----
- What is told is what came into the file, whoever brought it there.
- After a failure the next try comes after a growing pause, or later where the server asked for that; it needs nothing
  new to be written.
- A stream that says nothing for forty seconds is broken. It says ``quiet`` every fifteen: then what another process
  wrote down meanwhile is sent.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tackwatch.remote.copy import Copy
from tackwatch.remote.errors import LaterError
from tackwatch.remote.exchange import backoff_s, exchange
from tackwatch.remote.news import News, Tell, tell_news
from tackwatch.remote.wire import ProblemError, Server


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What following needs from the world.

    Parameters
    ----------
    chance
        Gives a number from 0 to 1.
    pause
        Waits for so many seconds.
    trouble
        Is told in one sentence what went wrong, before the next try.
    """

    chance: Callable[[], float]
    pause: Callable[[float], None]
    trouble: Callable[[str], None]


def follow_once(copy: Copy, tell: Tell) -> None:
    """Exchange once and tell what changed.

    Raises
    ------
    RemoteError
        As ``exchange`` does; what came before was told.
    """
    copy.change(news=True)
    try:
        exchange(copy)
    finally:
        tell_news(copy, tell)


def follow(copy: Copy, tell: Tell, around: Surroundings, poll_s: float | None = None) -> None:
    """Follow until the key is refused or the versions do not fit; returns by an error only.

    Parameters
    ----------
    poll_s
        Ask every so many seconds in the place of listening to the live stream.
    """
    failures = 0
    while True:
        wait_s = 0.0
        heard: list[str] = []
        try:
            follow_once(copy, tell)
            if poll_s is None:
                _listen(copy, tell, heard)
            else:
                heard.append("answer")
                wait_s = poll_s
        except LaterError as error:
            around.trouble(error.detail)
            wait_s = error.wait_s
        failures = 1 if heard else failures + 1
        around.pause(backoff_s(failures, around.chance(), wait_s))


def _listen(copy: Copy, tell: Tell, heard: list[str]) -> None:
    """Exchange at every word of the live stream that calls for it, until the stream ends.

    Its first word is where the refit stands, so that nothing is missed between the exchange and the opening.
    """
    meta = copy.meta()
    server = Server(meta.server, meta.key)
    try:
        for name, data in server.listen(f"/api/refits/{meta.refit_id}/live"):
            heard[:] = [name]
            if name == "alarm" and isinstance(data, dict):
                tell(News("alarm", None, data), lambda _, __: None)
            elif _calls_for_exchange(copy, name, data):
                exchange(copy)
            tell_news(copy, tell)
    except ProblemError as error:
        raise LaterError(error.detail) from error
    finally:
        server.close()


def _calls_for_exchange(copy: Copy, name: str, data: Any) -> bool:
    if name == "changed":
        seq = data.get("seq") if isinstance(data, dict) else None
        return not isinstance(seq, int) or seq != copy.meta().cursor
    return name == "quiet" and bool(copy.operations("waiting", 1))
