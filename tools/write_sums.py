"""Writes fixtures/trade/sums.json: each sum of the trade as it describes itself, and cautions: the phone's forms."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from tackwatch.trade.cautions import CAUTIONS, DEFERENCE
from tackwatch.trade.sums.registry import all_sums, describe

PLACE = Path(__file__).parents[1] / "fixtures" / "trade" / "sums.json"


def sums_file() -> dict[str, Any]:
    """Give what the file says: the sums in the registry's order, the cautions in every language."""
    return {
        "sums": [describe(one) for one in all_sums().values()],
        "cautions": {caution_id: dict(texts) for caution_id, texts in CAUTIONS.items()},
        "deference": dict(DEFERENCE),
    }


def as_text() -> str:
    """Give the file as it is written."""
    return json.dumps(sums_file(), indent=1, ensure_ascii=False) + "\n"


if __name__ == "__main__":
    PLACE.write_text(as_text(), "utf-8")
