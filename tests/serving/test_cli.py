"""The command line: help that helps, errors in one line, and the commands for the operator."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from click.testing import CliRunner

from tackwatch.cli import main
from tests.support.phone import Phone
from tests.support.wires import ClientWire, call

COMMANDS = (
    *("serve", "alarms", "migrate", "restored", "demo", "openapi", "calc"),
    *("join", "follow", "log-reading", "outbox"),
)


def run(*arguments: str, **environment: str) -> tuple[int, str]:
    result = CliRunner().invoke(main, arguments, env=environment)
    return result.exit_code, result.output


def test_help_names_every_command_and_setting() -> None:
    status, text = run("--help")
    assert status == 0
    for word in (*COMMANDS, "TACKWATCH_DATABASE_URL"):
        assert word in text
    for command in COMMANDS:
        assert run(command, "--help")[0] == 0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("TACKWATCH_DATABASE_URL", "mysql://x"),
        ("TACKWATCH_TRUSTED_PROXIES", "one"),
        ("TACKWATCH_SIGN_IN_PER_MINUTE", "-1"),
    ],
)
def test_a_setting_that_cannot_be_used_is_named_in_one_line(
    tmp_path: Path, name: str, value: str
) -> None:
    status, text = run("migrate", TACKWATCH_DATA_DIR=str(tmp_path), **{name: value})
    assert status == 1
    assert text.startswith(f"Error: {name}: ")
    assert text.count("\n") == 1


def test_the_api_can_be_described_without_a_database(tmp_path: Path) -> None:
    status, text = run(
        "openapi",
        TACKWATCH_DATA_DIR=str(tmp_path),
        TACKWATCH_DATABASE_URL="postgresql://nobody@127.0.0.1:1/nothing",
    )
    assert status == 0
    assert json.loads(text)["openapi"] == "3.1.0"


def test_after_a_restore_phones_load_afresh_and_offer_again_what_was_lost(
    tmp_path: Path, owner: Phone, database_url: str
) -> None:
    owner.create("zone", {"name": "Deck"})
    epoch = owner.sync()["epoch"]
    status, text = run(
        "restored", TACKWATCH_DATA_DIR=str(tmp_path), TACKWATCH_DATABASE_URL=database_url
    )
    assert (status, text.strip()) == (
        0,
        "1 refits will be compared with what the phones still have.",
    )
    answer = owner.exchange().json
    assert answer["epoch"] != epoch
    assert answer["reset"] is True
    assert "zone" in {one["kind"] for one in answer["changes"]}
    assert call(owner.wire, "GET", "/api/health").status == 200


def test_the_demo_is_made_once_and_gives_a_way_in_for_everybody_each_time(
    tmp_path: Path, wire: ClientWire, database_url: str
) -> None:
    environment = {
        "TACKWATCH_DATA_DIR": str(tmp_path),
        "TACKWATCH_DATABASE_URL": database_url,
        "TACKWATCH_PUBLIC_URL": "https://boat.example",
    }
    first, second = run("demo", **environment), run("demo", **environment)
    assert first[0] == second[0] == 0
    refits = set()
    for line in (first[1] + second[1]).splitlines():
        token = line.partition("https://boat.example/#/join/")[2]
        claimed = call(wire, "POST", "/api/invites/claim", body={"token": token})
        assert claimed.status == 201, line
        refits.add(claimed.json["refit_id"])
    assert len(refits) == 1
    assert len(first[1].splitlines()) == len(second[1].splitlines()) > 2
