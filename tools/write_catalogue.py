"""Writes fixtures/vectors/merge/catalogue.json from the server's catalogue of kinds; the client is built with it."""

from __future__ import annotations

import json
from pathlib import Path

from tackwatch.merge.catalogue import as_dict

PLACE = Path(__file__).parents[1] / "fixtures" / "vectors" / "merge" / "catalogue.json"

if __name__ == "__main__":
    PLACE.write_text(json.dumps(as_dict(), indent=1, sort_keys=True) + "\n")
