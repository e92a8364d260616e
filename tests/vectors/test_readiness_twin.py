"""Server and phone give one answer to whether a coat may go on, over hundreds of random yards."""

from collections import Counter
from datetime import timedelta

import pytest

from tackwatch.trade.compatibility_table import GROUNDS, MATERIALS
from tackwatch.trade.warnings import iso_of
from tests.vectors.trade_cases import Cases
from tests.vectors.trade_compare import differences
from tests.vectors.trade_sums import answer
from tests.vectors.trade_twin import ask, put_away

CASES_N = 700
USUAL = ("epoxy_paint", "epoxy_resin", "polyurethane", "antifouling_soft", "one_part")


@pytest.fixture(autouse=True, scope="module")
def _bundle_put_away():
    yield
    put_away()


def case(draw):
    """Draw a step, its product, the weather around it and what lies below."""
    random = draw.random
    now_at = draw.instant()
    profile = random.choice(draw.profiles)
    points = profile["stages"].get("touch_dry", []) if random.random() < 0.9 else []
    weather = draw.weather(now_at)
    data = {
        "now_at": iso_of(now_at),
        "over": random.choice([None, *USUAL * 5, *MATERIALS]),
        "limits": profile["limits"] if random.random() < 0.8 else {},
        "touch_dry": points,
        "readings": readings(draw, now_at),
        "curve": weather["curve"] if weather["curve"]["min_c"] > -40.0 else {},
        "coat_s": random.choice([0.0, 3600.0, 9000.0]),
        "area_m2": random.choice([None, 12.5]),
    }
    if random.random() < 0.85:
        data["below"] = below(draw, now_at)
    if random.random() < 0.15:
        data["owed"] = [owed(draw, now_at) for _ in range(random.randint(1, 2))]
    data["kind"] = random.choice([None, "coat", "laminate", "fillet"])
    data["spray"] = random.random() < 0.5
    data["tack"] = random.random() < 0.4
    if data["tack"] and random.random() < 0.5:
        data["over"] = random.choice(USUAL[:2])
    if random.random() < 0.04:
        data["held_reason"] = "weather"
    return {"fn": "may_coat_now", "input": data}


def readings(draw, now_at):
    random = draw.random
    earlier = [
        {**one, "rh_pct": random.choice([None, 55.0])}
        for one in draw.readings(now_at - timedelta(hours=40))
        if one.get("air_c", 20.0) < 60.0
    ]
    air_c = random.uniform(4.0, 30.0)
    last = {
        "at": iso_of(now_at - timedelta(minutes=random.choice([0, 5, 30, 119, 121, 400]))),
        "air_c": round(air_c, 1),
        "surface_c": round(air_c + random.gauss(0.5, 2.0), 1),
        "rh_pct": random.choice([0, 30, 45, 60, 75, 88, 99]),
    }
    for name in ("air_c", "surface_c", "rh_pct"):
        if random.random() < 0.04:
            last[name] = None
    late = {**last, "at": iso_of(now_at + timedelta(hours=1)), "surface_c": 44.0}
    return [*earlier, last, late]


def below(draw, now_at):
    random = draw.random
    material = random.choice([None, *USUAL * 5, *GROUNDS])
    bare = material is not None and material.startswith("bare")
    state = "bare" if bare else random.choice([None] * 6 + ["keyed", "washed", "contaminated"])
    if random.random() < 0.15:  # a ground on which nothing was laid
        return {"material": material, "state": random.choice(["glossy", "washed", "keyed"])}
    opens_at = now_at + timedelta(hours=random.choice([-30, -3, -1, 2, 14, 60]))
    return {
        "material": material,
        "state": state,
        "ended": random.random() < 0.93,
        "touch_dry_at": random.choice([None, iso_of(opens_at + timedelta(hours=1))]),
        "opens_at": random.choice([iso_of(opens_at)] * 3 + [None]),
        "closes_at": random.choice([iso_of(opens_at + timedelta(hours=20)), None]),
        "sand_minutes_per_m2": random.choice([None, 8]),
    }


def owed(draw, now_at):
    until_at = draw.random.choice([None, iso_of(now_at + timedelta(hours=5)), iso_of(now_at)])
    return {"step_id": "s1", "kind": draw.random.choice(["sand", "coat"]), "until_at": until_at}


def test_server_and_phone_agree_on_whether_a_coat_may_go_on():
    draw = Cases(20260413)
    cases = [case(draw) for _ in range(CASES_N)]
    ours = [answer(one) for one in cases]
    found = [
        f"{line}\n  {one['input']}"
        for one, our, their in zip(cases, ours, ask(cases), strict=True)
        for line in (differences(their, our) or differences(our, their))[:1]
    ]
    assert found == [], f"{len(found)} differ"
    given = [one["output"] for one in ours if "output" in one]
    assert len(given) >= 500
    answers = Counter(one["answer"] for one in given)
    assert min(answers[kind] for kind in ("yes", "not_yet", "no")) >= 25, answers
    told = Counter(rule["code"] for one in given for rule in one["rules"])
    wanted = ["held", "preparation_owed", "step_owed", "before_curing", "nothing_owed"]
    wanted += ["no_reading", "stale_reading", "fresh_reading", "too_near_dew_point"]
    wanted += ["dew_margin_kept", "dew_before_dry", "too_cold_before_dry", "warm_enough"]
    wanted += ["touch_dry_not_given", "too_cold", "too_hot", "temperature_in_range", "too_humid"]
    wanted += ["humidity_in_range", "humidity_not_given", "nothing_below", "coat_not_ended"]
    wanted += ["prepared", "window_not_open", "window_missed", "window_open", "material_unknown"]
    wanted += ["no_window", "tack_coat"]
    wanted += ["laminating_too_cold", "laminating_swing", "laminating_not_covered"]
    wanted += ["laminating_humidity_kept", "laminating_too_humid", "laminating_too_dry"]
    assert [code for code in wanted if told[code] < 5] == []
    assert sum(one["until_at"] is not None for one in given if one["answer"] == "not_yet") >= 10
    assert sum(one["until_at"] is not None for one in given if one["answer"] == "yes") >= 10
    assert sum(bool(one["do_first"]) for one in given) >= 50
