"""Random cases for the two implementations of the clock sums: seeded, and as wild as a yard."""

import json
from datetime import UTC, datetime, timedelta
from pathlib import Path
from random import Random
from typing import Any

from tackwatch.trade.warnings import iso_of

PROFILES = Path(__file__).parents[2] / "fixtures" / "profiles"
BASE_AT = datetime(2026, 1, 1, tzinfo=UTC)
STATES = ("waiting", "ready", "under_way", "curing", "held", "finished", "signed_off")
MARKS = ("started", "finished", "signed_off", "reopened")

Json = dict[str, Any]


class Cases:
    """Draws cases; the same seed draws the same ones."""

    def __init__(self, seed: int) -> None:
        self.random = Random(seed)
        self.profiles = [json.loads(path.read_text()) for path in sorted(PROFILES.glob("*.json"))]

    def case(self) -> Json:
        """Draw one case of any sum, most of them clocks of a coat."""
        draws = (self.coat, self.pot, self.reach, self.step, self.track, self.air)
        draw = self.random.choices(draws, weights=(50, 15, 15, 12, 5, 3))[0]
        return draw()

    def coat(self) -> Json:
        start_at = self.instant()
        length_h = self.random.choice([0.0, 0.3, 1.0, 2.5, 4.0, 9.0, 30.0]) * self.random.random()
        end_at = (
            iso_of(start_at + timedelta(hours=length_h)) if self.random.random() < 0.8 else None
        )
        coat = {
            "id": "c1",
            "profile": self.profile(),
            "start_at": iso_of(start_at),
            "end_at": end_at,
        }
        return {"fn": "coat_clock", "input": {"coat": coat, **self.weather(start_at)}}

    def pot(self) -> Json:
        at = self.instant()
        pot = {
            "id": "p1",
            "profile": self.profile(),
            "stirred_at": iso_of(at),
            "temp_c": self.random.choice([None, round(self.random.uniform(5, 35), 1)]),
            "mass_kg": self.random.choice([None, round(self.random.uniform(0.02, 2.0), 3)]),
        }
        return {"fn": "pot_clock", "input": {"pot": pot, **self.weather(at)}}

    def reach(self) -> Json:
        at = self.instant()
        weather = self.weather(at)
        data = {
            "points": self.points(),
            "start_at": iso_of(at + timedelta(hours=self.random.uniform(-5, 400))),
            "edge": self.random.choice([-1, 0, 1]),
            "horizon_s": self.random.choice([3600.0, 86400.0 * 20, 86400.0 * 400]),
        }
        kept = ("readings", "curve", "track_from_at", "band")
        return {"fn": "reach", "input": {**data, **{name: weather[name] for name in kept}}}

    def track(self) -> Json:
        weather = self.weather(self.instant())
        kept = ("readings", "curve", "track_from_at")
        return {"fn": "track_of", "input": {name: weather[name] for name in kept}}

    def air(self) -> Json:
        air_c, rh_pct = self.random.uniform(-50, 65), self.random.uniform(-2, 105)
        return {"fn": "dew_point_c", "input": {"air_c": air_c, "rh_pct": rh_pct}}

    def step(self) -> Json:
        now_at = self.instant()
        data: Json = {
            "id": "s1",
            "now_at": iso_of(now_at),
            "held_reason": self.random.choice([None, None, None, None, None, "parts", "weather"]),
            "marks": [
                {"kind": self.random.choice(MARKS), "at": self.near(now_at)}
                for _ in range(self.random.choice([0, 0, 0, 0, 1, 2, 4]))
            ],
            "has_open_application": self.random.random() < 0.15,
            "cures_until_at": self.near(now_at) if self.random.random() < 0.2 else None,
            "before": [self.link(i, now_at) for i in range(self.random.choice([0, 1, 1, 1, 2, 3]))],
        }
        return {"fn": "step_state", "input": data}

    def link(self, i: int, now_at: datetime) -> Json:
        return {
            "step_id": f"b{i}",
            "state": self.random.choice((*STATES, *("curing", "finished") * 4)),
            "finished_at": self.maybe_near(now_at),
            "min_gap_s": self.random.choice([0.0, 0.0, 0.0, 3600.0, 86400.0]),
            "max_gap_s": self.random.choice([None, None, None, 7200.0, 200000.0]),
            "opens_at": self.maybe_near(now_at - timedelta(hours=self.random.choice([0, 24]))),
            "closes_at": self.maybe_near(now_at + timedelta(hours=24)),
        }

    def near(self, at: datetime) -> str:
        return iso_of(at + timedelta(hours=self.random.choice([-30, -5, -1, 0, 1, 5, 30])))

    def maybe_near(self, at: datetime) -> str | None:
        return self.near(at) if self.random.random() < 0.5 else None

    def instant(self) -> datetime:
        step_s = self.random.choice([3600.0, 60.0, 1.0, 0.001])
        return BASE_AT + timedelta(seconds=round(self.random.uniform(0, 3e7) / step_s) * step_s)

    def weather(self, at: datetime) -> Json:
        """Draw readings, a daily curve, a band and when it is asked."""
        readings = self.readings(at)
        low_c = self.random.choice([self.random.uniform(-5, 20)] * 17 + [-80.0, 36.0, 45.0])
        curve = {
            "min_c": round(low_c, 1),
            "max_c": round(low_c + self.random.uniform(0, 18), 1),
            "hour_of_max": self.random.choice([13, 14.5, 15, 16]),
            "utc_offset_s": self.random.choice([-36000, -10800, 0, 3600, 7200, 20700, 46800]),
        }
        measured_k = self.random.choice([0.0, 1.0, 2.0])
        band = {
            "measured_k": measured_k,
            "forecast_k": measured_k + self.random.choice([0, 2.0, 4.5]),
        }
        before_h = self.random.choice([0, 0, 0, 1, 7.3])
        return {
            "readings": readings,
            "curve": curve,
            "band": band,
            "track_from_at": iso_of(at - timedelta(hours=before_h)),
            "now_at": iso_of(at + timedelta(hours=self.random.uniform(0, 60))),
        }

    def readings(self, at: datetime) -> list[Json]:
        """Draw readings in one of the ways a crew takes them, in no order, some of them twice."""
        random = self.random
        n = random.choice([0, 1, 2, 3, 8, 30, 120])
        every_h = random.choice([0.25, 1.0, 2.0, 6.0, 20.0])
        first_h = random.uniform(-100, 10)
        temp_c = random.choice([random.uniform(5, 32)] * 9 + [54.0])
        readings = []
        for i in range(n):
            temp_c = min(58.0, max(-8.0, temp_c + random.gauss(0, 1.5)))
            jitter_h = random.uniform(0, every_h) if random.random() < 0.5 else 0.0
            value = round(temp_c, 1) if random.random() < 0.7 else round(temp_c)
            reading: Json = {"at": iso_of(at + timedelta(hours=first_h + i * every_h + jitter_h))}
            reading[random.choice(["air_c", "surface_c"])] = value
            if random.random() < 0.2:
                reading["air_c"] = value + 1.5
            if random.random() < 0.1:
                reading = {"at": reading["at"], "rh_pct": 60.0}
            readings.append(reading)
        readings += random.sample(readings, min(len(readings), random.choice([0, 0, 1, 2])))
        random.shuffle(readings)
        return readings

    def profile(self) -> Json:
        """Draw a profile of the fixtures, sometimes with one stage that lasts long or says little."""
        table = [profile for profile in self.profiles if profile["closes_by_hottest_hour"]]
        profile = json.loads(json.dumps(self.random.choice(self.profiles + 2 * table)))
        if self.random.random() < 0.25:
            stage = self.random.choice(sorted(profile["stages"]))
            profile["stages"][stage] = [self.random.choice(profile["stages"][stage])]
        if self.random.random() < 0.15:
            profile["stages"].pop("recoat_closes", None)
        if self.random.random() < 0.15:
            days = self.random.uniform(20, 200)
            profile["stages"]["immerse_closes"] = [
                {"temp_c": 10, "minutes": days * 1440 * 1.5},
                {"temp_c": 25, "minutes": days * 1440},
            ]
        return profile if profile["stages"] else self.profile()

    def points(self) -> list[Json]:
        """Draw the points of a stage that takes minutes to months at twenty degrees."""
        n = self.random.choice([1, 2, 3, 5])
        temps = sorted(self.random.sample(range(-5, 45), n))
        minutes = 10 ** self.random.uniform(1, 5.3)
        points = []
        for temp_c in temps:
            minutes *= self.random.choice([1.0, self.random.uniform(0.3, 0.95)])
            points.append({"temp_c": temp_c, "minutes": minutes})
        return points
