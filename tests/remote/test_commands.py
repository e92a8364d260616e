"""The commands of a device without a screen, as a person or a sensor runs them, against ``tackwatch serve``."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from tests.remote.conftest import now_ms
from tests.support.phone import Phone
from tests.support.server import Server
from tests.support.wires import HttpWire, call

TACKWATCH = (sys.executable, "-m", "tackwatch.cli")


@pytest.fixture
def server(database_url: str, tmp_path: Path) -> Iterator[Server]:
    with Server(
        tmp_path, database_url, "--workers", "1", "--threads", "8", "--no-alarms"
    ) as running:
        yield running


@dataclass
class Shed:
    """A machine in the shed, its file, and the owner's phone."""

    store: Path
    server: Server
    owner: Phone

    def run(self, command: str, *words: str, typed: str = "") -> tuple[int, str, str]:
        done = subprocess.run(
            [*TACKWATCH, command, *words, "--store", str(self.store)],
            input=typed, capture_output=True, text=True, check=False, timeout=100,
        )  # fmt: skip
        return done.returncode, done.stdout, done.stderr

    def start(self, command: str, *words: str) -> subprocess.Popen[str]:
        return subprocess.Popen(
            [*TACKWATCH, command, *words, "--store", str(self.store)],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True, bufsize=1,
        )  # fmt: skip

    def readings(self) -> list[float]:
        self.owner.sync()
        found = [one for one in self.owner.state.records.values() if one.kind == "reading"]
        return sorted(one.body["air_c"] for one in found)


@pytest.fixture
def shed(server: Server, tmp_path: Path) -> Iterator[Shed]:
    wire = HttpWire(server.address)
    owner = Phone.found(wire, now_ms)
    link = owner.call("POST", "/invites", body={"role": "hand", "name": "Shed"}).json["link"]
    shed = Shed(tmp_path / "shed.tackwatch", server, owner)
    status, text, error = shed.run("join", link, "--name", "shed sensor")
    assert (status, error) == (0, "")
    assert text.startswith("Joined as device ")
    yield shed
    wire.close()


def test_a_reading_is_sent_or_kept_and_each_end_has_its_status(shed: Shed) -> None:
    assert shed.run("log-reading", "--air-c", "14.5") == (0, "", "")
    assert shed.readings() == [14.5]

    status, _, error = shed.run("log-reading", "--air-c", "999")
    assert (status, error) == (os.EX_DATAERR, "Error: air_c: At most 70.\n")
    assert shed.run("log-reading", "--air-c", "warm")[0] == 2
    assert shed.run("join", "no link", "--name", "x")[0] == os.EX_DATAERR

    shed.server.stop()
    status, _, error = shed.run("log-reading", "--air-c", "15")
    assert status == 0
    assert error.startswith("Written down, not sent yet: The server at")
    assert shed.run("outbox") == (0, "2 log_reading waiting\n", "")
    assert shed.run("follow", "--once")[0] == os.EX_TEMPFAIL

    shed.server.start()
    assert shed.run("follow", "--once", "--json") == (0, "", "")
    assert shed.readings() == [14.5, 15]

    device = next(
        one
        for one in shed.owner.state.items.values()
        if one.kind == "device" and one.fields["name"] == "shed sensor"
    )
    shed.owner.call("DELETE", f"/devices/{device.id}")
    status, _, error = shed.run("log-reading", "--air-c", "16")
    assert (status, error) == (os.EX_NOPERM, "Error: This device's key was withdrawn.\n")
    status, text, _ = shed.run("outbox", "--json")
    assert json.loads(text)["actions"][0]["body"]["air_c"] == 16


def test_what_the_role_does_not_allow_is_said_and_kept(shed: Shed) -> None:
    shed.owner.sync()
    member = next(
        one for one in shed.owner.state.items.values() if one.fields.get("name") == "Shed"
    )
    shed.owner.set("member", member.id, {"role": "viewer"})
    shed.owner.sync()
    status, _, error = shed.run("log-reading", "--air-c", "14")
    assert status == os.EX_DATAERR
    assert error == "Refused: A person with the role viewer may not do this.\n"
    assert "log_reading refused: A person" in shed.run("outbox")[1]


def test_a_sensor_that_pipes_is_drained_by_itself_and_a_bad_line_stops_no_other(shed: Shed) -> None:
    """Hazard: a retry that never drains unless something new is written."""
    shed.server.stop()
    sensor = shed.start("log-reading", "--stdin")
    assert sensor.stdin is not None
    assert sensor.stderr is not None
    for line in ('{"air_c": 1}', "nonsense", '{"air_c": "2"}', "", '{"air_c": 3}'):
        sensor.stdin.write(f"{line}\n")
    said = sorted(sensor.stderr.readline() for _ in range(3))
    assert said == [
        "Line 2: A JSON object is needed on each line.\n",
        "Line 3: air_c: A number is needed here.\n",
        f"The server at {shed.server.address} cannot be reached.\n",
    ]
    shed.server.start()
    while shed.readings() != [1, 3]:  # nothing more is written; the sensor's pipe is still open
        pass
    _, error = sensor.communicate(timeout=60)
    assert error == ""
    assert sensor.returncode == os.EX_DATAERR


def test_a_follower_that_is_killed_goes_on_where_it_was(shed: Shed) -> None:
    assert shed.run("follow", "--once") == (0, "", "")
    follower = shed.start("follow")
    assert follower.stdout is not None
    shed.owner.create("zone", {"name": "Keel"})
    shed.owner.sync()
    assert "made zone “Keel”" in follower.stdout.readline()
    follower.send_signal(signal.SIGKILL)
    follower.communicate(timeout=60)
    shed.owner.create("zone", {"name": "Rudder"})
    shed.owner.sync()
    again = shed.start("follow", "--json")
    assert again.stdout is not None
    told = json.loads(again.stdout.readline())
    if told["after"]["fields"].get("name") == "Keel":  # told at least once
        told = json.loads(again.stdout.readline())
    assert (told["what"], told["before"], told["after"]["fields"]["name"]) == (
        "item",
        None,
        "Rudder",
    )
    again.send_signal(signal.SIGTERM)
    again.communicate(timeout=60)
    assert again.returncode == 0


def test_a_link_that_was_used_opens_no_second_door(shed: Shed, tmp_path: Path) -> None:
    token = shed.owner.invite(name="Other")
    assert call(shed.owner.wire, "POST", "/api/invites/claim", body={"token": token}).status == 201
    shed.store = tmp_path / "second.tackwatch"
    status, _, error = shed.run("join", f"{shed.server.address}/#/join/{token}", "--name", "x")
    assert status == os.EX_DATAERR
    assert error == "Error: token: This link was used already. Ask the owner for another.\n"
    assert not shed.store.exists()
    status, _, error = shed.run("log-reading", "--air-c", "1")
    assert (status, error) == (
        os.EX_IOERR,
        f"Error: There is no file {shed.store}. 'tackwatch join' makes one.\n",
    )
