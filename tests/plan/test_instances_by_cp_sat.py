"""Small random instances with lags through model and engine, against a model of their own in CP-SAT (OR-Tools)."""

from random import Random

import pytest
from ortools.sat.python import cp_model
from psplib.ProjectInstance import Activity, Mode, ProjectInstance, Resource
from psplib.ProjectInstance import Project as Jobs

from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, InfeasibleError, solve
from tackwatch.plan.instances import project_of
from tackwatch.plan.model import Plan, Project


def random_instance(seed: int, n: int = 8) -> ProjectInstance:
    """Make an instance with least lags forward, and some greatest lags back."""
    chance = Random(f"instance {seed}")
    resources = [Resource(chance.randint(2, 4), renewable=True) for _ in range(2)]
    activities = []
    for i in range(n):
        demands = [chance.randint(0, min(3, one.capacity)) for one in resources]
        after = [j for j in range(i + 1, n) if chance.random() < 0.3]
        lags = [chance.randint(0, 7) for _ in after]
        if i > 1 and chance.random() < 0.4:
            after.append(chance.randrange(i))
            lags.append(-chance.randint(4, 16))
        activities.append(Activity([Mode(chance.randint(1, 6), demands)], after, lags))
    return ProjectInstance(resources, activities, [Jobs(list(range(n)))])


def least_makespan(instance: ProjectInstance) -> int | None:
    """Give the least makespan straight from the definition of RCPSP/max; None when there is no plan."""
    model = cp_model.CpModel()
    ends, spans, starts = [], [], []
    for i, one in enumerate(instance.activities):
        length = one.modes[0].duration
        start = model.new_int_var(0, 200, f"start{i}")
        starts.append(start)
        spans.append(model.new_fixed_size_interval_var(start, length, f"span{i}"))
        ends.append(start + length)
    for i, one in enumerate(instance.activities):
        for j, lag in zip(one.successors, one.delays or [], strict=True):
            model.add(starts[i] + lag <= starts[j])
    for r, resource in enumerate(instance.resources):
        asked = [one.modes[0].demands[r] for one in instance.activities]
        model.add_cumulative(spans, asked, resource.capacity)
    makespan = model.new_int_var(0, 300, "makespan")
    model.add_max_equality(makespan, ends)
    model.minimize(makespan)
    solver = cp_model.CpSolver()
    solver.parameters.num_workers = 1
    status = solver.solve(model)
    assert status in (cp_model.OPTIMAL, cp_model.INFEASIBLE)
    return int(solver.objective_value) if status == cp_model.OPTIMAL else None


def planned(project: Project) -> Plan | None:
    """Give a plan; None where the engine proves that there is none."""
    try:
        return solve(project, Budget(30.0, workers=1, rounds=20), clock=lambda: 0.0)
    except InfeasibleError as error:
        if error.proved:
            return None
        raise


@pytest.mark.parametrize("seed", range(40))
def test_a_plan_is_as_short_and_a_proof_as_right_as_by_cp_sat(seed: int) -> None:
    instance = random_instance(seed)
    least = least_makespan(instance)
    project = project_of(instance)
    plan = planned(project)
    assert (plan is None) == (least is None)
    if plan is not None and least is not None:
        assert check(project, plan) == ()
        assert plan.score.late == least
        assert (plan.late_bound or 0) <= least
