"""The phone's merge is the server's: the same histories give the same rows and verdicts, operation by operation."""

from __future__ import annotations

import json

import pytest

from tackwatch.merge.catalogue import as_dict
from tests.support.client_code import ROOT, answers
from tests.vectors.histories import cases

FIXED = (11, 12, 13, 14, 15, 16, 17, 18)


def test_the_catalogue_that_the_phone_reads_is_the_servers():
    file = ROOT / "fixtures/vectors/merge/catalogue.json"
    assert json.loads(file.read_text("utf-8")) == json.loads(json.dumps(as_dict()))


@pytest.mark.parametrize("extra_seed", [20_260_302])
def test_phone_and_server_merge_alike(extra_seed: int):
    made = [case for seed in (*FIXED, extra_seed) for case in cases(seed, 150)]
    given = answers("merge/vectors_cli.ts", (fed for fed, _ in made))
    assert len(given) == len(made)
    for (fed, expected), answer in zip(made, given, strict=True):
        assert answer == expected, json.dumps(fed["operation"])


def test_the_histories_reach_every_outcome():
    """A generator that never differs, refuses or deletes would prove little."""
    made = [expected for seed in FIXED for _, expected in cases(seed, 150)]
    refused = {one["refused"]["type"].rsplit(":", 1)[-1] for one in made if one["refused"]}
    assert {
        "unknown-id",
        "unknown-field",
        "id-in-use",
        "value-not-valid",
        "value-missing",
    } <= refused
    fields = {d["field"] for one in made for d in one["changed"]["differences"].values()}
    assert {"gone", "title"} <= fields
    assert any(d["settled"] for one in made for d in one["changed"]["differences"].values())
    assert any(one["altered"] for one in made)
    assert sum(one["refused"] is None for one in made) > len(made) / 3
