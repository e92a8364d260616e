"""Photos over real connections that break: several processes, either database, every way in which a line can end."""

from __future__ import annotations

import fcntl
import os
import random
import signal
import socket
import struct
import subprocess
import termios
import textwrap
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.browser.device import wait_until
from tests.support.client_code import CLIENT
from tests.support.phone import Phone
from tests.support.pictures import name_of, picture
from tests.support.server import Server
from tests.support.tus import Sending, offset
from tests.support.wires import HttpWire

pytestmark = pytest.mark.xdist_group("photo cuts")

PIECE_B = 128 * 1024  # as in client/src/sync/photos.ts


@pytest.fixture(scope="module", params=["sqlite", "postgresql"])
def server(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[Server]:
    """A server of two processes."""
    url = ""
    if request.param == "postgresql":
        url = request.getfixturevalue("cluster").create("photo_cuts")
    folder = tmp_path_factory.mktemp("server")
    with Server(folder, url, "--workers", "2", "--no-alarms") as running:
        yield running


@pytest.fixture
def owner(server: Server) -> Iterator[Phone]:
    wire = HttpWire(server.address)
    yield Phone.found(wire, lambda: time.time_ns() // 1_000_000)
    wire.close()


def request_for(sending: Sending, at_b: int, length_b: int) -> bytes:
    """Give the head of a PATCH as it goes over the line."""
    head = (
        f"PATCH /api/refits/{sending.phone.refit_id}{sending.path} HTTP/1.1",
        "Host: localhost",
        f"Authorization: Bearer {sending.phone.key}",
        "Tus-Resumable: 1.0.0",
        "Content-Type: application/offset+octet-stream",
        f"Upload-Offset: {at_b}",
        f"Content-Length: {length_b}",
    )
    return "\r\n".join((*head, "", "")).encode()


def send_part(server: Server, sending: Sending, at_b: int, arrive_b: int, *, reset: bool) -> None:
    """Announce all of the rest, send some of it, and break the line: by an orderly end, or by a reset."""
    rest = sending.content[at_b:]
    with socket.create_connection(("127.0.0.1", server.port)) as line:
        line.sendall(request_for(sending, at_b, len(rest)) + rest[:arrive_b])
        if reset:
            # The far side has read all of it before the reset, which takes with it what lies unread.
            wait_until(lambda: _unread_b(line) == 0)
            line.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))


def _unread_b(line: socket.socket) -> int:
    """Give how many sent bytes the far side has not acknowledged (Linux, SIOCOUTQ)."""
    return int(struct.unpack("i", fcntl.ioctl(line, termios.TIOCOUTQ, bytes(4)))[0])


def settled_at(sending: Sending, at_b: int) -> bool:
    return offset(sending.ask()) == at_b


@pytest.mark.parametrize("where", ["edges", "random"])
def test_a_line_that_breaks_costs_nothing_that_had_arrived(
    server: Server, owner: Phone, where: str
) -> None:
    """At each edge of a piece, one byte before and after it, and at random bytes."""
    sending = Sending(owner, picture("JPEG", width_px=1600, height_px=1200, quality=90))
    size_b = len(sending.content)
    edges = [edge + by for edge in range(0, size_b, PIECE_B) for by in (-1, 0, 1)]
    chance = random.Random(size_b)
    places = edges if where == "edges" else chance.sample(range(1, size_b), 12)
    at_b = offset(sending.begin())
    for place in sorted(one for one in places if 0 < one < size_b):
        send_part(server, sending, at_b, place - at_b, reset=False)
        wait_until(lambda place=place: settled_at(sending, place))
        at_b = place
    assert sending.go_on(at_b, size_b).status == 204
    assert owner.call("GET", f"/photos/{sending.sha256}").content == sending.content


def test_a_line_that_is_reset_loses_at_most_what_was_under_way(
    server: Server, owner: Phone
) -> None:
    sending = Sending(owner, picture("JPEG", width_px=1600, height_px=1200, quality=90))
    size_b, resent_b, at_b = len(sending.content), 0, offset(sending.begin())
    for arrive_b in (100_000, 16_384, 50_001):
        send_part(server, sending, at_b, arrive_b, reset=True)
        now_b = offset(sending.begin())
        assert at_b <= now_b <= at_b + arrive_b
        resent_b += at_b + arrive_b - now_b
        at_b = now_b
    while at_b < size_b:  # a late piece of a dead line may still be written
        answer = sending.go_on(at_b, size_b)
        at_b = size_b if answer.status == 204 else offset(sending.ask())
    assert resent_b <= 3 * PIECE_B
    assert owner.call("GET", f"/photos/{sending.sha256}").content == sending.content


def test_a_line_that_died_without_a_word_holds_up_nobody(server: Server, owner: Phone) -> None:
    """The phone is out of reach: nothing more comes, and nothing says that it ended."""
    sending = Sending(owner, picture("JPEG", width_px=1600, height_px=1200, quality=90))
    sending.begin()
    with socket.create_connection(("127.0.0.1", server.port)) as silent:
        rest = sending.content
        silent.sendall(request_for(sending, 0, len(rest)) + rest[:65_536])
        wait_until(lambda: offset(sending.ask()) >= 32_768)
        at_b = offset(sending.ask())
        assert sending.go_on(at_b, len(rest)).status == 204
        assert owner.call("GET", f"/photos/{sending.sha256}").content == rest


def test_many_at_one_place_and_in_several_processes_write_each_byte_once(
    server: Server, owner: Phone
) -> None:
    """Eight threads send the same rest until the photo is there; the losers are told 409, and nothing is spoilt."""
    content = picture("JPEG", width_px=1600, height_px=1200, quality=90)
    Sending(owner, content).begin()
    statuses: list[int] = []

    def push() -> None:
        wire = HttpWire(server.address)
        mine = Sending(Phone(**{**vars(owner), "wire": wire}), content)
        while (at_b := offset(mine.begin())) < len(content):
            statuses.append(mine.go_on(at_b, 40_000).status)
        wire.close()

    threads = [threading.Thread(target=push) for _ in range(8)]
    for one in threads:
        one.start()
    for one in threads:
        one.join()
    assert set(statuses) <= {204, 404, 409}
    assert owner.call("GET", f"/photos/{name_of(content)}").content == content


def test_a_server_that_is_killed_in_the_middle_goes_on_from_what_arrived(
    tmp_path: Path,
) -> None:
    with Server(tmp_path, "", "--workers", "1", "--no-alarms") as server:
        wire = HttpWire(server.address)
        sending = Sending(
            Phone.found(wire, lambda: time.time_ns() // 1_000_000),
            picture("JPEG", width_px=1600, height_px=1200, quality=90),
        )
        sending.begin()
        assert sending.go_on(0, 100_000).status == 204
        wire.close()
        server.stop(signal.SIGKILL)
        wait_until(lambda: not server.answers())  # its worker ends a moment after it
        server.start()
        wire = HttpWire(server.address)
        sending.phone.wire = wire
        assert offset(sending.begin()) == 100_000
        assert sending.go_on(100_000, len(sending.content)).status == 204
        answer = sending.phone.call("GET", f"/photos/{sending.sha256}")
        assert answer.content == sending.content
        wire.close()


REFERENCE = """
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
import { Upload } from "tus-js-client";

const [path, endpoint, key, pieces] = process.argv.slice(2);
const content = readFileSync(path);
const sha256 = createHash("sha256").update(content).digest("hex");
const begin = (stopAt) =>
  new Promise((resolve, reject) => {
    let upload;
    upload = new Upload(content, {
      endpoint,
      uploadUrl: begin.url,
      headers: { Authorization: `Bearer ${key}` },
      metadata: { sha256, keep_metadata: "false" },
      chunkSize: Number(pieces) || Infinity,
      retryDelays: null,
      onChunkComplete: async (_, sent) => {
        begin.url = upload.url;
        if (sent >= stopAt) { await upload.abort(); resolve("stopped"); }
      },
      onSuccess: () => resolve("done"),
      onError: reject,
    });
    upload.start();
  });
const endings = [];
if (Number(pieces)) endings.push(await begin(content.length / 2));
endings.push(await begin(Infinity));
console.log(endings.join(" "));
"""


@pytest.mark.parametrize(("pieces", "endings"), [("50000", "stopped done"), ("0", "done")])
def test_the_protocols_reference_client_sends_a_photo_and_resumes_it(
    server: Server, owner: Phone, tmp_path: Path, pieces: str, endings: str
) -> None:
    """Source: tus-js-client, the JavaScript reference client of tus 1.0.0, which knows nothing of this server."""
    content = picture("JPEG", width_px=1600, height_px=1200, quality=90, seed=int(pieces))
    photo, script = tmp_path / "photo.jpg", CLIENT / "build" / f"reference-{os.getpid()}.mjs"
    photo.write_bytes(content)
    script.parent.mkdir(exist_ok=True)
    script.write_text(textwrap.dedent(REFERENCE))
    endpoint = f"{server.address}/api/refits/{owner.refit_id}/uploads"
    try:
        ran = subprocess.run(
            ["node", str(script), str(photo), endpoint, owner.key, pieces],
            capture_output=True, text=True, check=False, timeout=100,
        )  # fmt: skip
    finally:
        script.unlink()
    assert (ran.stdout.strip(), ran.stderr) == (endings, "")
    assert owner.call("GET", f"/photos/{name_of(content)}").content == content
