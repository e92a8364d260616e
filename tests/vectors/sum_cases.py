"""Random inputs for the sums of the register, drawn from their own schemas."""

from datetime import UTC, datetime, timedelta
from math import exp, log
from random import Random
from typing import Any

from tackwatch.trade.sums.registry import describe, sum_named

Json = dict[str, Any]


class SumCases:
    """Draws inputs that a sum accepts by its schema; the same seed draws the same ones."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)

    def case(self, name: str) -> Json:
        """Draw one case of a sum."""
        return {"fn": name, "input": self.value(describe(sum_named(name))["takes"])}

    def value(self, schema: Json) -> Any:
        """Draw a value of a schema."""
        kind = schema.get("type", "object")
        if isinstance(kind, list):
            if self.random.random() < 0.3:
                return None
            kind = kind[0]
        if "enum" in schema:
            return self.random.choice([one for one in schema["enum"] if one is not None])
        draw = {
            "object": self.record,
            "array": self.items,
            "number": self.number,
            "integer": lambda one: round(self.number({**one, "maximum": 12})),
            "boolean": lambda _: self.random.random() < 0.5,
            "string": self.text,
        }[kind]
        return draw(schema)

    def text(self, schema: Json) -> str:
        if schema.get("format") == "date-time":
            at = datetime(2026, 4, 10, tzinfo=UTC) + timedelta(hours=self.random.randint(-99, 99))
            return at.isoformat()
        return self.random.choice(["a", "b", "c"])

    def record(self, schema: Json) -> Json:
        required = set(schema["required"])
        return {
            name: self.value(one)
            for name, one in schema["properties"].items()
            if name in required or self.random.random() < 0.6
        }

    def items(self, schema: Json) -> list[Any]:
        most = min(schema["maxItems"], schema["minItems"] + 6)
        n = self.random.randint(schema["minItems"], most)
        return [self.value(schema["items"]) for _ in range(n)]

    def number(self, schema: Json) -> float:
        low = schema.get("minimum", schema.get("exclusiveMinimum", 0.0))
        high = schema.get("maximum", schema.get("exclusiveMaximum", 1000.0))
        if self.random.random() < 0.1 and "minimum" in schema:
            return float(low)
        if low >= 0.0 and high > 100.0 and self.random.random() < 0.7:
            return exp(self.random.uniform(log(max(low, 0.01)), log(min(high, 3000.0))))
        return self.random.uniform(low, high)
