"""Photos in pieces: what must never be lost, whatever is cut and whoever sends at once."""

from __future__ import annotations

from pathlib import Path
from typing import Any, ClassVar

import pytest
from flask import Flask
from hypothesis import HealthCheck, given
from hypothesis import settings as chance
from hypothesis import strategies as some

from tackwatch.settings import Settings
from tackwatch.store import photos as kept
from tests.api.uploading import PHOTO, SIZE, Arriving, part_files, send, whole
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.tus import BYTES, TUS, Sending, offset, problem, said


@pytest.fixture
def sending(owner: Phone) -> Sending:
    return Sending(owner, PHOTO)


def cut(app: Flask, sending: Sending, at_b: int, announced_b: int, arrive_b: int) -> None:
    """Announce a piece of which only the first bytes arrive before the line breaks."""
    body = Arriving(sending.content[at_b : at_b + arrive_b])
    assert send(app, sending, at_b, announced_b, body) == 400


# Each piece: which part of the rest it announces, which part of that arrives, and how the phone asks where to go on.
PIECES = some.lists(
    some.tuples(some.floats(0.0, 1.0), some.floats(0.0, 1.0), some.booleans()), max_size=15
)


@chance(deadline=None, max_examples=25, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(seed=some.integers(0, 2**32), pieces=PIECES)
def test_any_split_with_any_cuts_ends_in_the_same_bytes(
    app: Flask, owner: Phone, seed: int, pieces: list[tuple[float, float, bool]]
) -> None:
    """A property: whatever is cut, nothing is sent twice, and what comes back is what was sent."""
    sending = Sending(owner, picture("JPEG", width_px=160, height_px=120, seed=seed))
    size_b = len(sending.content)
    at_b = offset(sending.begin())
    for much, arrives, begins_anew in pieces:
        piece_b = round(much * (size_b - at_b))
        arrive_b = round(arrives * piece_b)
        if arrive_b == piece_b:
            assert sending.go_on(at_b, piece_b).status == 204
        else:
            cut(app, sending, at_b, piece_b, arrive_b)
        at_b += arrive_b
        assert offset(sending.begin() if begins_anew else sending.ask()) == at_b
    assert sending.all().status == 204
    assert whole(owner, sending.content) == sending.content


def test_a_cut_at_each_byte_of_a_piece_costs_only_the_rest(app: Flask, sending: Sending) -> None:
    sending.begin()
    at_b = 0
    for arrive_b in range(60):
        cut(app, sending, at_b, 60, arrive_b)
        at_b += arrive_b
        assert offset(sending.ask()) == at_b
    assert sending.go_on(at_b, SIZE).status == 204
    assert whole(sending.phone) == PHOTO


def test_a_sender_that_falls_silent_is_given_up_and_what_came_is_kept(
    app: Flask, sending: Sending
) -> None:
    """The server's socket is given a patience while bytes are waited for, and has its own again afterwards."""

    class Socket:
        patience: ClassVar[list[float | None]] = []

        def gettimeout(self) -> None:
            return None

        def settimeout(self, patience_s: float | None) -> None:
            self.patience.append(patience_s)

    def silent(read_b: int) -> None:
        if read_b >= 2_000:
            raise TimeoutError

    sending.begin()
    body = Arriving(PHOTO[:2_000], silent)
    assert send(app, sending, 0, SIZE, body, **{"gunicorn.socket": Socket()}) == 400
    assert Socket.patience == [30.0, None]
    assert offset(sending.ask()) == 2_000


def test_an_answer_that_was_lost_costs_nothing(sending: Sending) -> None:
    sending.all()
    assert offset(sending.ask()) == SIZE
    assert offset(sending.begin()) == SIZE
    assert whole(sending.phone) == PHOTO


def test_a_photo_that_is_here_is_not_sent_again(settings: Settings, sending: Sending) -> None:
    """Also when another phone sent it, in one go or in pieces."""
    Sending(sending.phone.crew("hand"), PHOTO).all()
    assert offset(sending.begin()) == SIZE
    assert part_files(settings) == []


@pytest.mark.parametrize("breaks_at", ["keep", "add", "unlink"])
def test_a_server_that_dies_while_it_finishes_does_so_when_it_is_asked_next(
    settings: Settings, sending: Sending, monkeypatch: pytest.MonkeyPatch, breaks_at: str
) -> None:
    def fail(*_: Any, **__: Any) -> None:
        raise OSError("the lights went out")

    sending.begin()
    with monkeypatch.context() as broken:
        if breaks_at == "unlink":
            broken.setattr(Path, "unlink", fail)
        else:
            broken.setattr(kept, breaks_at, fail)
        assert sending.go_on(0, SIZE).status == 500
    assert offset(sending.ask()) == SIZE
    assert whole(sending.phone) == PHOTO
    Sending(sending.phone, picture(seed=2)).begin()
    assert [one.name.partition("-")[2] for one in part_files(settings)] == [
        name_of(picture(seed=2))
    ]


def test_a_part_that_was_lost_is_begun_anew(settings: Settings, sending: Sending) -> None:
    """After a restore the rows are there and the part files are not."""
    sending.begin()
    sending.go_on(0, 1000)
    part_files(settings)[0].unlink()
    assert sending.ask().status == 404
    assert problem(sending.go_on(1000, SIZE))[0] == 404
    assert offset(sending.begin()) == 0
    assert sending.go_on(0, SIZE).status == 204


# --- several at once -------------------------------------------------------------------------------------------------


def test_two_phones_send_the_same_photo_each_on_its_own(sending: Sending) -> None:
    other = Sending(sending.phone.crew("hand"), PHOTO)
    sending.begin()
    other.begin()
    sending.go_on(0, 3000)
    assert offset(other.ask()) == 0
    other.go_on(0, 2000)
    assert sending.go_on(3000, SIZE).status == 204
    assert offset(other.ask()) == SIZE  # it is here, whoever sent it
    assert whole(other.phone) == PHOTO


def test_a_phone_that_sends_other_bytes_spoils_nobody_elses(app: Flask, sending: Sending) -> None:
    hand = sending.phone.crew("hand")
    sending.begin()
    sending.go_on(0, 1000)
    headers = {**TUS, "Upload-Length": str(SIZE), "Upload-Metadata": said(sha256=sending.sha256)}
    hand.call("POST", "/uploads", headers=headers)
    false = hand.call(
        "PATCH", sending.path, content=bytes(SIZE), headers={**BYTES, "Upload-Offset": "0"}
    )
    assert problem(false) == (422, "hash-differs", "sha256")
    assert sending.go_on(1000, SIZE).status == 204
    assert whole(sending.phone) == PHOTO


def test_of_two_pieces_for_one_place_the_first_to_write_goes_on(app: Flask, owner: Phone) -> None:
    """The second request comes while the first waits for its bytes, as with a connection that died unnoticed."""
    big = Sending(owner, picture("JPEG", width_px=1200, height_px=900, quality=95))
    statuses: list[int] = []

    def overtake(read_b: int) -> None:
        if read_b > 0 and not statuses:
            statuses.append(big.go_on(0, 10).status)
            statuses.append(big.go_on(read_b, 10).status)

    big.begin()
    statuses.append(send(app, big, 0, len(big.content), Arriving(big.content, overtake)))
    assert statuses == [409, 204, 409]
    assert big.all().status == 204
    assert whole(owner, big.content) == big.content


def test_one_who_was_overtaken_to_the_end_learns_that_nothing_is_left_to_do(
    app: Flask, owner: Phone
) -> None:
    big = Sending(owner, picture("JPEG", width_px=1200, height_px=900, quality=95))

    def finish(read_b: int) -> None:
        if read_b > 0 and whole(owner, big.content) is None:
            assert big.go_on(read_b, 10**6).status == 204

    big.begin()
    assert send(app, big, 0, len(big.content), Arriving(big.content, finish)) == 404
    assert offset(big.begin()) == len(big.content)
