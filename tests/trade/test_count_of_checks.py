import json

import pytest
from tools.count_checks import PLACE, counted, report, run_by_a_test

from tests.trade.samples import outside

CHECKS = json.loads(PLACE.read_text("utf-8"))


def test_more_than_a_hundred_values_from_outside_are_neither_remembered_nor_only_common():
    count = counted(run_by_a_test(CHECKS))
    witnesses = count["published"] + count["library"] + count["weather-record"]
    assert count.total() <= len(CHECKS) == len(outside())
    assert witnesses > 100
    assert f"{count.total()} outside checks" in report(count)


def test_the_count_refuses_a_check_without_source_a_second_id_and_an_unknown_status():
    for change in ({"source": ""}, {"status": "rumour"}):
        with pytest.raises(ValueError, match=CHECKS[0]["id"]):
            counted([{**CHECKS[0], **change}])
    with pytest.raises(ValueError, match="one id"):
        counted([CHECKS[0], CHECKS[0]])


def test_a_check_that_no_test_runs_is_not_counted():
    idle = {**CHECKS[0], "id": "a check nobody runs"[::-1]}
    idle.pop("sum", None)
    assert idle not in run_by_a_test([idle])
    assert len(run_by_a_test([*CHECKS, idle])) == len(run_by_a_test(CHECKS)) > 100
