#!/usr/bin/env bash
# Ask a server how it is, say so in a line, and fail where it is not well: health.sh [ADDRESS]
#
# Not well: no answer, a database or a schema that is not as it must be, nobody who rings the alarms, or alarms that
# were due two minutes ago and that nobody took.
set -euo pipefail

exec python3 - "${1:-http://127.0.0.1:8000}" <<'END'
import json
import sys
from urllib.request import urlopen

address = sys.argv[1].rstrip("/")
try:
    with urlopen(f"{address}/api/health", timeout=10) as answer:
        found = json.load(answer)
except (OSError, ValueError) as error:
    sys.exit(f"no health from {address}: {error}")
waiting = found["waiting"] or {}
alive = [one["name"] for one in found["bells"] if one["alive"]]
words = f"{found['status']}: {len(alive)} alarm processes, {waiting.get('due', '?')} due, {waiting.get('overdue', '?')} overdue"
if not found["ok"]:
    sys.exit(words)
print(words)
END
