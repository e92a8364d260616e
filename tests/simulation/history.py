"""One history from one seed: who has which phone, what happens to them, to the network and to the server."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, field
from datetime import datetime
from random import Random
from typing import Any

from tests.simulation import weather
from tests.simulation.books import Books, must, sight
from tests.simulation.deeds import People
from tests.simulation.doorkeeper import Doorkeeper
from tests.simulation.house import House, Key, KilledError
from tests.simulation.phones import Asked, Heard, Phones
from tests.support.wires import Answer

HOUR_MS = 3_600_000
YEAR_MS = 365 * 24 * HOUR_MS
OFFSETS_MS = (0, 0, 0, 200, -HOUR_MS, 3 * HOUR_MS, -YEAR_MS, YEAR_MS)
DEATH_TURNS = 90  # a phone's disk works about so many turns for one exchange


@dataclass
class Holder:
    """A phone in somebody's pocket, or shared by two."""

    name: str
    keys: list[Key]
    at: int = 0  # which of the keys is in use
    pages: list[str] = field(default_factory=list)
    online: bool = True
    off_ms: int = 0

    @property
    def key(self) -> Key:
        return self.keys[self.at]


@dataclass
class History:
    """A seed being played out. ``trace`` tells what happened, a line each."""

    seed: int
    house: House
    phones: Phones
    trace: list[str] = field(default_factory=list)
    books: Books = field(default_factory=Books)
    held: list[tuple[str, Asked, Answer | None]] = field(default_factory=list)
    operations: int = 0

    def __post_init__(self) -> None:
        self.chance = Random(self.seed)
        self.house.begin(self.seed)
        self.phones.begin(self.seed)
        self.phones.log.clear()
        self.people = People(self.chance, self.house.clock.ms)
        self.door = Doorkeeper(self.house, self.books)
        self.backup: Any = None
        self.calm = False
        self.touched_at: datetime | None = None
        self.holders = self._hand_out()
        self.length = self.chance.randint(10, 40)

    # --- the cast ----------------------------------------------------------------------------------------------------

    def _hand_out(self) -> list[Holder]:
        keys = list(self.house.keys)
        wanted = self.chance.randint(2, 5)
        cast = [keys[0], *self.chance.sample(keys[1:], wanted - 1)]
        holders = []
        while cast:
            two = len(cast) > 2 and self.chance.random() < 0.2
            mine = [cast.pop() for _ in range(2 if two else 1)]
            if two:
                self.count("two people on one phone")
            holders.append(Holder(f"phone{len(holders)}", mine))
        for holder in holders:
            self.give(holder)
        return holders

    def give(self, holder: Holder) -> None:
        holder.off_ms = self.chance.choice(OFFSETS_MS)
        if holder.off_ms:
            self.count("clock wrong from the start")
        self.say(holder, do="clock", off_ms=holder.off_ms)
        self.say(holder, do="plant", given=[[_account(key) for key in holder.keys]])

    @property
    def keys(self) -> list[Key]:
        return [key for holder in self.holders for key in holder.keys]

    # --- telling -----------------------------------------------------------------------------------------------------

    def count(self, hazard: str) -> None:
        self.books.hazards[hazard] += 1

    def tell(self, text: str) -> None:
        at = self.house.clock.at.strftime("%d %H:%M:%S.%f")[:-3]
        self.trace.append(f"{at} {text}")

    def say(self, holder: Holder, **line: Any) -> Heard:
        self.phones.now_ms = self.house.clock.ms
        return self.phones.say(handset=holder.name, **line)

    def digest(self) -> str:
        """Give a print of every word that went between the scheduler, the phones and the server."""
        text = json.dumps([self.trace, self.phones.log])
        return hashlib.sha256(text.encode()).hexdigest()[:16]

    # --- the run -----------------------------------------------------------------------------------------------------

    def play(self, events: Sequence[tuple[float, Event]]) -> None:
        """Let everything happen."""
        for holder in self.holders:
            self.open(holder)
            self.calm = self.chance.random() < 0.6
            if self.chance.random() < 0.9:
                self.ring(holder)
            self.calm = False
        weights = [weight for weight, _ in events]
        for _ in range(self.length):
            self.house.clock.forward(milliseconds=self._pause_ms())
            (_, event) = self.chance.choices(events, weights)[0]
            event(self, self.chance.choice(self.holders))

    def _pause_ms(self) -> int:
        kind = self.chance.random()
        if kind < 0.7:
            return self.chance.randint(50, 3_000)
        return (
            self.chance.randint(3_000, 600_000)
            if kind < 0.93
            else self.chance.randint(1, 9) * HOUR_MS
        )

    # --- what happens to a phone -------------------------------------------------------------------------------------

    def open(self, holder: Holder, page: str = "a", **line: Any) -> None:
        """Open the app, and check that the disk holds all that it held."""
        heard = self.say(holder, do="open", page=page)
        must(heard.failed is None, "page-broken", f"{heard.failed}")
        holder.pages.append(page)
        self.tell(f"{holder.name} opens page {page}")
        self.meet(holder, heard)

    def call(self, holder: Holder, name: str, *given: Any, page: str = "", **line: Any) -> Heard:
        """Call a function of an open page."""
        page = page or holder.pages[0]
        return self.say(holder, do="call", page=page, name=name, given=list(given), **line)

    def look(self, holder: Holder, page: str = "") -> dict[str, Any]:
        heard = self.call(holder, "look", page=page)
        must(heard.gave is not None, "page-broken", f"{heard.failed}")
        return dict(heard.gave)

    def awake(self, holder: Holder) -> bool:
        """Say whether the app is open; else open it."""
        if holder.pages:
            return True
        self.reopen(holder)
        return False

    def reopen(self, holder: Holder) -> None:
        """Open the app after a death."""
        self.open(holder)
        self.check_disk(holder)

    def check_disk(self, holder: Holder) -> None:
        look = self.look(holder)
        rows = self.call(holder, "written").gave
        if look["device"]:
            self.books.check_disk(look["device"], rows)

    def die(self, holder: Holder) -> None:
        holder.pages.clear()
        self.held = [
            (what, asked, answer)
            for what, asked, answer in self.held
            if what == "ghost" or asked.handset != holder.name
        ]

    def death(self) -> dict[str, int]:
        """Draw whether the phone dies over what it does next, and when."""
        if self.calm or self.chance.random() > 0.06:
            return {}
        self.count("phone dies between two writes")
        return {"die_after": self.chance.randrange(DEATH_TURNS)}

    def act(self, holder: Holder) -> None:
        """Do something, as its person."""
        if not self.awake(holder):
            return
        page = self.chance.choice(holder.pages)
        look = self.look(holder, page)
        deed = None
        for _ in range(4):
            deed = deed or (self.people.draw(look) if look["device"] else None)
        if deed is None:
            return
        name, given = deed
        device, saw = look["device"], sight(look)
        death = self.death()
        heard = self.call(holder, name, *given, page=page, **death)
        what = f"{holder.name}.{page} {_short(given)}"
        if death:
            self.die(holder)
            if heard.gave is None:
                self.books.pending[device] = saw
            self.tell(f"{what} and dies")
        if heard.gave is not None:
            self.books.enter(device, heard.gave["made"], saw)
            self.operations += len(heard.gave["made"])
            if name == "force":
                self.count("poisoned operation")
        if not death:
            self.tell(what + ("" if heard.failed is None else f": {heard.failed}"))
        self.meet(holder, heard)

    def ring(self, holder: Holder) -> None:
        """Let the timers of a page that are due go off: an exchange, mostly."""
        if not self.awake(holder):
            return
        self.house.clock.forward(milliseconds=self.chance.randint(0, 2_000))
        page = self.chance.choice(holder.pages)
        death = self.death()
        heard = self.say(holder, do="ring", page=page, **death)
        if death:
            self.die(holder)
            self.tell(f"{holder.name}.{page} rings and dies")
        must(heard.failed is None, "page-broken", f"{heard.failed}")
        self.meet(holder, heard)

    # --- the network -------------------------------------------------------------------------------------------------

    def meet(self, holder: Holder, heard: Heard) -> None:
        """Give each thing that was asked its fate, and each that follows from it."""
        for asked in heard.asked:
            if not holder.pages:
                continue  # asked by the dead
            weather.meet(self, holder, asked)

    def serve(self, asked: Asked, die_at: int | None = None) -> Answer | None:
        """Let the server answer, under the doorkeeper's eyes; none where it was killed over it."""
        before = self.door.before(asked)
        try:
            answer = self.house.serve(asked, die_at)
        except KilledError:
            self.tell(f"  the server is killed at its statement {die_at}")
            self.door.after_death(asked, before)
            return None
        self.door.after(asked, before, answer)
        return answer

    def serve_both(self, both: list[Asked]) -> list[Answer]:
        """Let the server answer two requests at once."""
        before = self.door.before(both[0])
        answers = self.house.serve_both(both, self.chance)
        for asked, answer in zip(both, answers, strict=True):
            self.door.after(asked, before, answer, alone=False)
        return answers

    def answer(self, holder: Holder, asked: Asked, answer: Answer | None, cut: str = "") -> None:
        """Let the phone hear an answer, or that there is none."""
        if not holder.pages:
            return
        line: dict[str, Any] = {"do": "answer", "asked": asked.id}
        if answer is None or cut:
            line["cut"] = cut or "nothing"
        if answer is not None:
            line |= {"status": answer.status, "headers": answer.headers}
            line["body"] = answer.content.decode("utf-8", "replace")
        death = self.death()
        heard = self.say(holder, **line, **death)
        said = "nothing" if answer is None else str(answer.status)
        self.tell(f"  {holder.name}.{asked.page} {asked.path[-6:]} #{asked.id} hears {cut or said}")
        if death:
            self.die(holder)
            self.tell(f"  {holder.name} dies over it")
        must(heard.failed is None, "page-broken", f"{heard.failed}")
        self.meet(holder, heard)

    def holder_of(self, asked: Asked) -> Holder:
        return next(one for one in self.holders if one.name == asked.handset)


def _short(given: list[Any]) -> str:
    text = json.dumps(given)
    return text if len(text) < 160 else text[:160] + "..."


def _account(key: Key) -> dict[str, Any]:
    known = {name: value for name, value in asdict(key).items() if name != "name"}
    return {
        **known,
        "refit_name": "",
        "member_name": key.name,
        "language": "en",
        "key_revoked": False,
    }


Event = Callable[[History, Holder], None]
