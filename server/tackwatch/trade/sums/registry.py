"""All sums by name, gathered from the modules beside this one.

Rules
-----
* A module with `SUMS` takes part; two sums of one name are a mistake that stops the program.
* `calculate` is what doors and commands call: plain JSON in, plain JSON out, or a `TradeError`
  that names the field.

Source
------
Our own layout.
"""

from collections.abc import Mapping
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from typing import Any

from tackwatch.trade import sums
from tackwatch.trade.errors import TradeError
from tackwatch.trade.sums.reading import read
from tackwatch.trade.sums.schema import as_json, schema_of
from tackwatch.trade.sums.sum import Sum

Json = Any


@cache
def all_sums() -> Mapping[str, Sum]:
    """Give every sum by its name, families together."""
    found: dict[str, Sum] = {}
    for module in sorted(one.name for one in iter_modules(sums.__path__)):
        for one in getattr(import_module(f"{sums.__name__}.{module}"), "SUMS", ()):
            if one.name in found:
                raise ValueError(f"two sums are named {one.name}")
            found[one.name] = one
    families = list(dict.fromkeys(one.family for one in found.values()))
    together = sorted(found.values(), key=lambda one: families.index(one.family))
    return {one.name: one for one in together}


def sum_named(name: str) -> Sum:
    """Give a sum by its name.

    Raises
    ------
    TradeError
        When there is none of that name.
    """
    found = all_sums().get(name)
    if found is None:
        raise TradeError("name", f"there is no sum named {name!r}")
    return found


def calculate(name: str, data: Json) -> dict[str, Json]:
    """Work out a sum from plain JSON.

    Raises
    ------
    TradeError
        When there is no such sum, or naming the field that cannot be used.
    """
    found = sum_named(name)
    answer: dict[str, Json] = as_json(found.compute(read(found.takes, data)))
    return answer


def describe(one: Sum) -> dict[str, Json]:
    """Describe a sum as plain JSON: what it is for, its schemas, its source, its cautions."""
    return {
        "name": one.name,
        "family": one.family,
        "about": one.about,
        "takes": schema_of(one.takes),
        "gives": schema_of(one.gives),
        "source": one.source,
        "cautions": list(one.cautions),
    }
