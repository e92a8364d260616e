"""The sums of the trade, each under its stable name: open to anybody, for nothing of a refit is in them."""

from __future__ import annotations

from typing import Any

from apispec import APISpec
from flask import request
from webargs import core

from tackwatch.api.doors import NOBODY, Blueprint, door
from tackwatch.api.problems import RequestError
from tackwatch.api.reading import read_json, unpacked
from tackwatch.api.schemas.trade import SumsSchema
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.reading import ROOT
from tackwatch.trade.sums.registry import all_sums, calculate, describe
from tackwatch.trade.sums.schema import schema_of
from tackwatch.work.errors import InvalidError, NotFoundError

MOST_BYTES = 64 * 1024

blueprint = Blueprint("trade", __name__)


def _component(name: str, side: str) -> str:
    """Name the schema of a sum in the OpenAPI document: `DewPointTakes`."""
    return "".join(part.capitalize() for part in name.split("_")) + side


def _any_of(side: str) -> dict[str, Any]:
    refs = (f"#/components/schemas/{_component(name, side)}" for name in all_sums())
    return {"application/json": {"schema": {"anyOf": [{"$ref": ref} for ref in refs]}}}


def describe_in(spec: APISpec) -> None:
    """Write the schemas of all sums into the OpenAPI document."""
    for name, one in all_sums().items():
        spec.components.schema(
            _component(name, "Takes"), {**schema_of(one.takes), "description": one.about}
        )
        spec.components.schema(
            _component(name, "Gives"), {**schema_of(one.gives), "description": one.source}
        )


@door(blueprint, "GET", "/api/trade", who=NOBODY, gives=SumsSchema)
def get_sums() -> dict[str, Any]:
    """Give every sum: what it is for, what it takes and gives (JSON Schema), its source and its cautions."""
    return {"sums": [describe(one) for one in all_sums().values()]}


@door(
    blueprint,
    "POST",
    "/api/trade/<name>",
    who=NOBODY,
    problems=(400, 404, 413, 415, 422),
    doc={
        "requestBody": {"required": True, "content": _any_of("Takes")},
        "responses": {"200": {"description": "The answer", "content": _any_of("Gives")}},
    },
)
def post_sum(name: str) -> dict[str, Any]:
    """Work out the sum of that name. Units stand last in the names of the fields; nothing is kept."""
    if name not in all_sums():
        raise NotFoundError(
            "no-such-sum", "There is no sum of this name; GET /api/trade lists them."
        )
    if not core.is_json(request.mimetype):
        raise RequestError(
            415, "not-json", "A body of the type application/json is needed.", "content-type"
        )
    given = read_json(unpacked(request, MOST_BYTES))
    try:
        return calculate(name, given)
    except TradeError as error:
        field = "body" if error.field == ROOT else error.field
        raise InvalidError("not-valid", f"{field}: {error.message}.", field) from None
