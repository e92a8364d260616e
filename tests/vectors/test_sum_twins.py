"""Server and phone give one answer to each sum of laminates, of the cure, and of what may go over what."""

from collections import Counter
from itertools import product

import pytest

from tackwatch.trade.compatibility_table import GROUNDS, MATERIALS, STATES
from tackwatch.trade.sums.registry import all_sums
from tests.vectors.sum_cases import SumCases
from tests.vectors.trade_compare import differences
from tests.vectors.trade_sums import answer
from tests.vectors.trade_twin import ask, put_away

FAMILIES = ("laminate", "compatibility", "cure")
NAMES = sorted(name for name, one in all_sums().items() if one.family in FAMILIES)
EACH_N = 120


@pytest.fixture(autouse=True, scope="module")
def _bundle_put_away():
    yield
    put_away()


def disagreements(cases):
    ours = [answer(case) for case in cases]
    found = [
        f"{case['fn']} {line}\n  {case['input']}"
        for case, one, other in zip(cases, ours, ask(cases), strict=True)
        for line in (differences(other, one) or differences(one, other))[:1]
    ]
    return found, ours


def test_server_and_phone_agree_on_every_sum_for_inputs_drawn_from_its_schema():
    draw = SumCases(20260411)
    cases = [draw.case(name) for name in NAMES for _ in range(EACH_N)]
    found, ours = disagreements(cases)
    assert found == []
    assert len(cases) >= 500
    answered = Counter(case["fn"] for case, one in zip(cases, ours, strict=True) if "output" in one)
    assert min(answered[name] for name in NAMES) >= EACH_N // 4, answered


def test_server_and_phone_agree_on_the_whole_table():
    cases = [
        {"fn": "may_go_over", "input": {"over": over, "under": under, "state": state}}
        for over, under, state in product(MATERIALS, GROUNDS, STATES)
    ]
    found, ours = disagreements(cases)
    assert found == []
    assert len(ours) == len(MATERIALS) * len(GROUNDS) * len(STATES)


def test_server_and_phone_find_the_same_wrong_steps():
    random = SumCases(20260412).random
    kinds = ("coat", "coat", "coat", "laminate", "bed", "sand", "grind", "clean", "wait", "inspect")
    cases = []
    for _ in range(400):
        steps = [
            {
                "step_id": str(i),
                "kind": random.choice(kinds),
                "material": random.choice(MATERIALS),
                "in_window": random.random() < 0.5,
                "tack": random.random() < 0.1,
            }
            for i in range(random.randint(1, 9))
        ]
        below = {"under": random.choice(GROUNDS), "state": random.choice(["washed", "keyed"])}
        cases.append({"fn": "job_order", "input": {"steps": steps, **below}})
    found, ours = disagreements(cases)
    assert found == []
    assert sum(len(one["output"]["findings"]) for one in ours) > 300
