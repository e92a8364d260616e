"""Random cases for the sums by name, drawn from their own schemas; the same seed draws the same ones."""

from math import exp, log
from random import Random
from typing import Any

Json = Any

TYPICAL = {
    "air_c": (2.0, 48.0),
    "surface_c": (-2.0, 45.0),
    "surface_then_c": (-2.0, 45.0),
    "air_then_c": (0.0, 45.0),
    "rh_pct": (5.0, 100.0),
    "dew_point_c": (-20.0, 40.0),
    "dry_bulb_c": (2.0, 50.0),
    "wet_bulb_c": (0.0, 30.0),
    "temp_c": (8.0, 36.0),
    "temp_min_c": (5.0, 18.0),
    "temp_max_c": (25.0, 40.0),
    "reference_temp_c": (15.0, 25.0),
    "catalyst_pct": (0.8, 2.7),
    "min_pct": (0.5, 1.2),
    "max_pct": (2.0, 3.0),
    "dry_film_um": (20.0, 400.0),
    "solids_by_volume_pct": (20.0, 100.0),
    "pot_life_minutes": (5.0, 300.0),
    "mixing_minutes": (0.0, 12.0),
    "induction_minutes": (0.0, 40.0),
    "pace_kg_per_minute": (0.005, 0.5),
    "pot_kg": (0.05, 3.0),
    "total_kg": (0.1, 20.0),
    "pot_reference_kg": (0.05, 2.0),
    "specified_um": (80.0, 200.0),
    "most_um": (120.0, 400.0),
    "openings_m2": (0.0, 1.0),
}
SPOILS = (None, "7", True, [], {}, -1e9, 1e9, float(2**60), "x" * 3000)


class YardCases:
    """Draws inputs for a sum that is described by its schema."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)

    def case(self, name: str, takes: Json) -> Json:
        """Draw an input: most of them whole, some with a field that is wrong, missing or unknown."""
        given = self.record(takes)
        getattr(self, name, lambda given: None)(given)
        chance = self.random.random()
        if chance < 0.06:
            given[self.random.choice(list(takes["properties"]))] = self.random.choice(SPOILS)
        elif chance < 0.09 and given:
            given.pop(self.random.choice(list(given)))
        elif chance < 0.11:
            given["colour"] = "red"
        return {"fn": name, "input": given}

    def record(self, schema: Json) -> Json:
        required = schema.get("required", [])
        return {
            name: self.value(name, field)
            for name, field in schema["properties"].items()
            if name in required or self.random.random() < 0.6
        }

    def value(self, name: str, schema: Json) -> Json:
        types = [schema["type"]] if isinstance(schema["type"], str) else schema["type"]
        if "null" in types and self.random.random() < 0.4:
            return None
        if "enum" in schema:
            return self.random.choice(schema["enum"])
        kind = types[0]
        if kind == "array":
            low = max(schema["minItems"], 0)
            count = self.random.randint(low, min(schema["maxItems"], low + 12))
            return [self.value(name, schema["items"]) for _ in range(count)]
        if kind == "boolean":
            return self.random.random() < 0.5
        if kind == "object":
            return self.record(schema)
        if kind == "string":
            return self.random.choice(["gelcoat", "sealant", "laminating_epoxy", "constructor", ""])
        return self.number(name, schema, kind)

    def number(self, name: str, schema: Json, kind: str) -> float:
        random = self.random
        low = schema.get("minimum", schema.get("exclusiveMinimum", -1e6))
        high = schema.get("maximum", schema.get("exclusiveMaximum", 1e6))
        if random.random() < 0.06:
            return random.choice([low, high])
        typical = TYPICAL.get(name)
        if typical is not None and random.random() < 0.85:
            low, high = typical
        if kind == "integer":
            return random.randint(int(low), int(min(high, low + 12)))
        if low >= 0.0 and high > 100.0 * max(low, 0.01):
            number = exp(random.uniform(log(max(low, high * 1e-4)), log(high)))
        else:
            number = random.uniform(low, high)
        return min(high, max(low, round(number, random.choice([0, 1, 2, 6])) or number))

    def only_one_of(self, given: Json, names: tuple[str, ...], low: float, high: float) -> None:
        if self.random.random() < 0.9:
            for name in names:
                given.pop(name, None)
            given[self.random.choice(names)] = round(self.random.uniform(low, high), 3)

    def mix_by_mass(self, given: Json) -> None:
        self.only_one_of(given, ("base_kg", "hardener_kg", "total_kg"), 0.01, 5.0)
        self.bands(given)

    def mix_by_volume(self, given: Json) -> None:
        self.only_one_of(given, ("base_l", "hardener_l", "total_l"), 0.01, 5.0)
        self.bands(given)

    def bands(self, given: Json) -> None:
        """Most bands of standing time rise, as a sheet's do, and hold the mix that is given."""
        if "induction_by_temp" in given and self.random.random() < 0.95:
            edges = sorted(self.random.sample(range(2, 36), self.random.randint(2, 4)))
            minutes = sorted((self.random.randint(0, 12) for _ in edges[1:]), reverse=True)
            given["induction_by_temp"] = [
                {"from_c": low, "to_c": high, "minutes": one}
                for low, high, one in zip(edges, edges[1:], minutes, strict=False)
            ]
            if self.random.random() < 0.6:
                given["induction_by_temp"][-1]["to_c"] = None
            if self.random.random() < 0.9:
                given["temp_c"] = round(self.random.uniform(edges[0], edges[-1]), 1)

    def humidity_from_wet_bulb(self, given: Json) -> None:
        if self.random.random() < 0.85:
            given["wet_bulb_c"] = round(given["dry_bulb_c"] * self.random.uniform(0.6, 1.0), 2)

    def humidity_from_dew_point(self, given: Json) -> None:
        if self.random.random() < 0.85:
            given["dew_point_c"] = round(given["air_c"] - self.random.uniform(0.0, 25.0), 2)

    def catalyst(self, given: Json) -> None:
        if self.random.random() < 0.6:
            given["temp_c"] = round(self.random.uniform(18.0, 25.0), 1)
            given["catalyst_pct"] = round(self.random.uniform(1.2, 2.0), 2)

    def hull_rule_of_thumb(self, given: Json) -> None:
        if self.random.random() < 0.7:
            for name in ("length_m", "draft_m", "freeboard_m"):
                given[name] = round(self.random.uniform(0.4, 14.0), 2)
            given["openings_m2"] = given.get("openings_m2", [])[:1]

    def wetted_area_mumford(self, given: Json) -> None:
        self.only_one_of(given, ("displacement_m3", "displacement_kg"), 1.0, 20_000.0)

    def spreading_rate(self, given: Json) -> None:
        given.pop(self.random.choice(["loss_pct", "method"]), None)

    def paint_needed(self, given: Json) -> None:
        self.spreading_rate(given)
        sizes = [0.25, 0.375, 0.5, 0.75, 1.0, 2.0, 2.5, 4.0, 5.0, 20.0, 0.946, 3.785]
        given["pack_sizes_l"] = self.random.sample(sizes, self.random.randint(0, 5))
        given["area_m2"] = round(exp(self.random.uniform(log(0.5), log(500.0))), 2)

    def area_from_girths(self, given: Json) -> None:
        count = len(given["girths_m"])
        given.pop("spacing_m", None)
        given.pop("stations_m", None)
        if self.random.random() < 0.5:
            given["spacing_m"] = round(self.random.uniform(0.2, 3.0), 2)
        else:
            at = self.random.uniform(-5.0, 0.0)
            stations = []
            for _ in range(count + (self.random.random() < 0.03)):
                stations.append(round(at, 3))
                at += self.random.uniform(0.5, 1.05)
            given["stations_m"] = stations

    def shape_area(self, given: Json) -> None:
        belongs = {
            "rectangle": ["length_m", "width_m"],
            "triangle": ["length_m", "height_m"],
            "trapezium": ["length_m", "other_length_m", "height_m"],
            "circle": ["diameter_m"],
            "ellipse": ["length_m", "width_m"],
            "cylinder": ["diameter_m", "length_m"],
            "half_cylinder": ["diameter_m", "length_m"],
            "cone": ["diameter_m", "height_m"],
            "half_sphere": ["diameter_m"],
        }
        if self.random.random() < 0.9:
            for name in ("length_m", "width_m", "other_length_m", "height_m", "diameter_m"):
                given.pop(name, None)
            for name in belongs[given["shape"]]:
                given[name] = round(self.random.uniform(0.1, 12.0), 2)

    def comb_target(self, given: Json) -> None:
        if "teeth_um" in given and self.random.random() < 0.9:
            given["teeth_um"] = sorted({*given["teeth_um"], 20_000.0})

    def film_acceptance(self, given: Json) -> None:
        if self.random.random() < 0.9:
            specified = given["specified_um"]
            spread = self.random.choice([0.05, 0.2, 0.4])
            given["readings_um"] = [
                round(specified * self.random.uniform(1.1 - spread, 1.1 + spread), 1)
                for _ in range(self.random.randint(1, 30))
            ]

    def largest_pot(self, given: Json) -> None:
        self.bands(given)

    def next_pot(self, given: Json) -> None:
        self.bands(given)
        given["pot_kg"] = round(given["total_kg"] / self.random.uniform(0.7, 40.0), 3) or 0.1
