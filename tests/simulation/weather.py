"""What becomes of a request: the fates that a network and a tired server have for it."""

from __future__ import annotations

import json
from collections.abc import Callable
from typing import TYPE_CHECKING

from tests.simulation.phones import Asked
from tests.support.wires import Answer

if TYPE_CHECKING:
    from tests.simulation.history import History, Holder

STATEMENTS = 30  # a server makes about so many for one request
PORTAL = b"<!doctype html><title>Yard wifi</title><p>Tick here to go on</p>"


def meet(history: History, holder: Holder, asked: Asked) -> None:
    """Draw the fate of a request and let it happen."""
    if history.calm:
        _straight(history, holder, asked)
        return
    if not holder.online:
        history.answer(holder, asked, None)
        return
    weights = [weight for weight, _, _ in FATES]
    _, name, fate = history.chance.choices(FATES, weights)[0]
    if name:
        history.count(name)
        history.tell(f"  {holder.name}.{asked.page} {asked.path[-6:]} #{asked.id}: {name}")
    fate(history, holder, asked)


def late(history: History) -> None:
    """Let one request or answer that was held up arrive."""
    if not history.held:
        return
    at = history.chance.randrange(len(history.held))
    what, asked, answer = history.held.pop(at)
    holder = history.holder_of(asked)
    history.tell(f"  {holder.name} #{asked.id}: what was held up arrives")
    if what == "ghost":
        history.serve(asked)
    elif what == "request":
        history.answer(holder, asked, history.serve(asked))
    else:
        history.answer(holder, asked, answer)


def _straight(history: History, holder: Holder, asked: Asked) -> None:
    history.answer(holder, asked, history.serve(asked))


def _request_slow(history: History, holder: Holder, asked: Asked) -> None:
    history.held.append(("request", asked, None))


def _answer_slow(history: History, holder: Holder, asked: Asked) -> None:
    history.held.append(("answer", asked, history.serve(asked)))


def _request_lost(history: History, holder: Holder, asked: Asked) -> None:
    history.answer(holder, asked, None)


def _answer_lost(history: History, holder: Holder, asked: Asked) -> None:
    history.serve(asked)
    history.answer(holder, asked, None)


def _twice(history: History, holder: Holder, asked: Asked) -> None:
    first, second = history.serve(asked), history.serve(asked)
    history.answer(holder, asked, history.chance.choice((first, second)))


def _ghost(history: History, holder: Holder, asked: Asked) -> None:
    """The phone hears nothing, gives up, and the request arrives all the same, after later ones."""
    history.held.append(("ghost", asked, None))
    history.answer(holder, asked, None)


def _half(history: History, holder: Holder, asked: Asked) -> None:
    answer = history.serve(asked)
    if answer is not None and history.chance.random() < 0.5:
        history.answer(holder, asked, answer, "half")
    elif answer is not None:
        short = Answer(answer.status, answer.headers, answer.content[: len(answer.content) // 2])
        history.answer(holder, asked, short)


def _no_verdict(history: History, holder: Holder, asked: Asked) -> None:
    """Somebody answers who has no say: too many, down, a gateway, a page of the yard's wifi."""
    status = history.chance.choice((429, 500, 502, 503, 200))
    headers = {"content-type": "text/html"}
    if status == 429 or (status == 503 and history.chance.random() < 0.5):
        headers["retry-after"] = str(history.chance.choice((1, 7, 90)))
    content = PORTAL if status == 200 else json.dumps({"status": status}).encode()
    history.answer(holder, asked, Answer(status, headers, content))


def _killed(history: History, holder: Holder, asked: Asked) -> None:
    answer = history.serve(asked, die_at=history.chance.randint(1, STATEMENTS))
    history.answer(holder, asked, answer)


def _killed_late(history: History, holder: Holder, asked: Asked) -> None:
    """The server's process dies between the commit and the answer: whatever it kept in memory is gone."""
    history.serve(asked)
    history.house.forget()
    history.answer(holder, asked, None)


_Fate = Callable[["History", "Holder", Asked], None]
FATES: tuple[tuple[float, str, _Fate], ...] = (
    (52, "", _straight), (8, "request held up", _request_slow), (7, "answer held up", _answer_slow),
    (5, "request lost", _request_lost), (7, "answer lost", _answer_lost), (4, "request doubled", _twice),
    (4, "request arrives after it was given up", _ghost), (3, "half an answer", _half),
    (6, "an answer that is no verdict", _no_verdict), (4, "server killed between two statements", _killed),
    (2, "server killed between commit and answer", _killed_late),
)  # fmt: skip
