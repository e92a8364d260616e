"""The forecast as a whole: what it must say whatever the numbers."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from tools.bench.forecast_refits import refit_of

from tackwatch.plan.engine.solve import Budget, solve
from tackwatch.plan.forecast import (
    DayDone,
    FoundWhile,
    Record,
    RecordError,
    Took,
    Weather,
    forecast,
)
from tackwatch.plan.forecast import durations as duration_model
from tackwatch.plan.forecast import found as found_model
from tackwatch.plan.forecast.dispatch import play
from tackwatch.plan.forecast.future import Future, quantile
from tackwatch.plan.model import (
    NEVER,
    Grid,
    Link,
    Person,
    Placed,
    Plan,
    Project,
    Score,
    Step,
    Told,
    Window,
)
from tests.support.random_refits import random_project

DAY = 96
SCORE = Score(0, 0, 0, 0, 0)
SURE = tuple(Took(f"sure {n}", 10.0, 10.0) for n in range(400))
NOTHING_FOUND = tuple(FoundWhile(f"none {n}", 0) for n in range(3_000))


def small(
    steps: list[Step], links: list[Link] = (), launch: int = 10 * DAY, people: int = 1, **more
) -> Project:
    crew = tuple(
        Person(f"p{n}", tuple((day * DAY + 32, day * DAY + 68) for day in range(30)))
        for n in range(people)
    )
    return Project(Grid(0.0, 900, 30 * DAY), launch, tuple(steps), tuple(links), crew, **more)


def at(step: str, start: int, end: int, *people: str) -> Placed:
    return Placed(step, start, end, people)


def no_chance(monkeypatch) -> None:
    """Let every piece of work take what it is reckoned to, and nothing be found."""
    monkeypatch.setattr(duration_model, "COMMON_MEAN", 0.0)
    monkeypatch.setattr(duration_model, "COMMON_SD", 1e-9)
    monkeypatch.setattr(duration_model, "DRIFT_SD", 0.0)
    monkeypatch.setattr(duration_model, "OWN_MEDIAN", 1e-9)
    monkeypatch.setattr(duration_model, "JOB_MEDIAN", 1e-9)
    monkeypatch.setattr(found_model, "RATE_LOW", 1e-7)
    monkeypatch.setattr(found_model, "RATE_HIGH", 2e-7)


@pytest.mark.parametrize("seed", range(40))
def test_without_chance_the_end_is_that_of_the_plan(seed):
    refit = refit_of(seed, 0.1, 0)
    future = Future(refit.project, refit.plan, refit.record)
    assert future.without_chance() == max(one.end for one in refit.plan.placed)


def test_with_next_to_no_chance_the_median_is_the_plans_end(monkeypatch):
    no_chance(monkeypatch)
    refit = refit_of(3, 0.1, 0)
    record = replace(refit.record, outdoors=frozenset())
    said = forecast(refit.project, refit.plan, record, samples=400, seed=1)
    assert said.p50 == max(one.end for one in refit.plan.placed)


def test_the_same_seed_gives_the_same_answer_and_another_a_like_one():
    refit = refit_of(5, 0.2, 8)
    first, again, other = (
        forecast(refit.project, refit.plan, refit.record, samples=2_000, seed=seed)
        for seed in (1, 1, 2)
    )
    assert first == again
    assert first != other
    assert abs(first.p_launch - other.p_launch) < 0.06


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000), st.integers(0, 4 * DAY))
def test_a_later_launch_is_never_less_likely(seed, later):
    refit = refit_of(seed, 0.3, 8)
    now, then = (
        forecast(
            replace(refit.project, launch=refit.project.launch + more),
            refit.plan,
            refit.record,
            samples=300,
            seed=seed,
        )
        for more in (0, later)
    )
    assert then.p_launch >= now.p_launch


@settings(max_examples=12, deadline=None)
@given(st.integers(0, 10_000))
def test_dropping_a_job_never_makes_a_sample_later(seed):
    refit = refit_of(seed, 0.3, 8)
    future = Future(refit.project, refit.plan, refit.record)
    samples = future.samples(200, seed)
    before = samples.ends(frozenset())
    for job in range(len(future.jobs.ids)):
        assert (samples.ends(frozenset({job})) <= before).all()
        assert samples.p(frozenset({job})) >= samples.p(frozenset())


@settings(max_examples=10, deadline=None)
@given(st.integers(0, 10_000))
def test_what_is_asked_beside_the_ends_does_not_change_them(seed):
    refit = refit_of(seed, 0.3, 8)
    future = Future(refit.project, refit.plan, refit.record)
    draws = future.draw(200, seed)
    bare = play(future.net, draws, floor=future.floor)
    full = play(future.net, draws, floor=future.floor, criticality=True, labour=True, starts=True)
    few = play(future.net, draws, floor=future.floor, chosen=np.arange(0, 200, 3))
    assert (bare.end == full.end).all()
    assert (bare.end[::3] == few.end).all()


def test_nobody_does_two_things_at_once_or_outside_their_hours():
    refit = refit_of(8, 0.2, 0)
    record = replace(refit.record, outdoors=frozenset())
    future = Future(refit.project, refit.plan, record)
    draws = future.draw(64, 4)
    played = play(future.net, draws, labour=True)
    a_day = 36 + 36 + 28
    assert played.labour.max() <= a_day
    whole = draws.work * np.array([step.crew for step in future.drawn.steps])
    found = np.add.reduceat(np.append(draws.found_work, 0), draws.trees.start[:-1])
    found[np.diff(draws.trees.start) == 0] = 0
    done = ~draws.trees.endless & (played.end < future.net.day.size - 1)
    total = played.labour.sum(axis=1)[done]
    assert (total >= (whole.sum(axis=1) + found)[done]).all()  # more where a window was missed


def test_three_activities_in_a_row_add_up_as_normals_do(monkeypatch):
    # Source: PERT's normal chance (textbook, from memory): critical path of 44 weeks with variance 9, so
    # that 47 weeks are made with Phi(1) = 0.84. Here: a chain of independent parts with that mean and variance.
    no_chance(monkeypatch)
    weeks, var, parts = 44, 9.0, 11
    each = weeks / parts * 100
    sd = np.sqrt(var / parts) * 100 / each
    log_sd = float(np.sqrt(np.log1p(sd**2)))
    monkeypatch.setattr(duration_model, "COMMON_MEAN", -(log_sd**2) / 2)
    monkeypatch.setattr(duration_model, "OWN_MEDIAN", log_sd)
    monkeypatch.setattr(duration_model, "OWN_LOG_SD", 0.0)
    steps = [Step(f"s{n}", int(each), 1, ("p0",)) for n in range(parts)]
    links = [Link(f"s{n}", f"s{n + 1}") for n in range(parts - 1)]
    always = (Person("p0", ((0, 6_000),)),)
    project = Project(Grid(0.0, 900, 6_000), 4_700, tuple(steps), tuple(links), always)
    plan = Plan(
        tuple(at(f"s{n}", int(n * each), int((n + 1) * each), "p0") for n in range(parts)), SCORE
    )
    said = forecast(project, plan, Record(), samples=20_000, seed=2)
    assert said.p_launch == pytest.approx(0.8413, abs=0.015)
    assert said.p50 == pytest.approx(4_400, abs=25)


def test_of_two_paths_the_longer_is_critical_and_its_end_is_the_end(monkeypatch):
    # Source: the critical path of a textbook network (from memory): A-C-E-G-H beside B-D-G, 15 weeks.
    no_chance(monkeypatch)
    weeks = {"A": 2, "B": 3, "C": 2, "D": 4, "E": 4, "F": 3, "G": 5, "H": 2}
    before = {"C": "A", "D": "B", "E": "C", "F": "C", "G": "DE", "H": "FG"}
    steps = [Step(name, length * 4, 0) for name, length in weeks.items()]
    links = [Link(one, name) for name, all_ in before.items() for one in all_]
    ends: dict[str, int] = {}
    for name, length in weeks.items():
        ends[name] = max((ends[one] for one in before.get(name, "")), default=0) + 4 * length
    plan = Plan(tuple(at(n, ends[n] - 4 * weeks[n], ends[n]) for n in weeks), SCORE)
    said = forecast(small(steps, links), plan, Record(), samples=50, seed=1)
    assert said.p50 == 15 * 4
    critical = {one.job_id: one.p_critical for one in said.criticality}
    assert {name for name, p in critical.items() if p == 1.0} == set("ACEGH")
    assert {name for name, p in critical.items() if p == 0.0} == set("BDF")


def test_of_two_like_jobs_each_is_critical_about_half_the_time():
    steps = [Step("a", 20, 1, ("p0",)), Step("b", 20, 1, ("p1",))]
    plan = Plan((at("a", 32, 52, "p0"), at("b", 32, 52, "p1")), SCORE)
    said = forecast(
        small(steps, people=2), plan, Record(found_while=NOTHING_FOUND), samples=4_000, seed=3
    )
    for one in said.criticality:
        assert one.p_critical == pytest.approx(0.5, abs=0.06)


def test_an_overrun_goes_on_the_next_morning(monkeypatch):
    no_chance(monkeypatch)
    monkeypatch.setattr(duration_model, "COMMON_MEAN", float(np.log(1.5)))
    plan = Plan((at("a", 32, 64, "p0"),), SCORE)
    said = forecast(small([Step("a", 32, 1, ("p0",))]), plan, Record(), samples=20, seed=1)
    assert said.p50 == DAY + 32 + (48 - 36)


def test_a_missed_window_costs_its_work(monkeypatch):
    no_chance(monkeypatch)
    steps = [
        Step("coat", 8, 1, ("p0",)),
        Step("next", 8, 1, ("p0",)),
        Step("other", 34, 1, ("p0",)),
    ]
    window = Link("coat", "next", max_gap=4, missed_work=6)
    # the plan puts a long job in between, and misses the window as it says
    placed = (
        at("coat", 32, 40, "p0"),
        Placed("next", 2 * DAY + 32, 2 * DAY + 46, ("p0",), ("coat",)),
        at("other", DAY + 32, DAY + 66, "p0"),
    )
    project = small(steps, [window, Link("other", "next")])
    said = forecast(project, Plan(placed, SCORE), Record(), samples=20, seed=1)
    assert said.p50 == 2 * DAY + 32 + 8 + 6


def test_a_coat_waits_where_the_next_would_fall_outside_its_window(monkeypatch):
    no_chance(monkeypatch)
    monkeypatch.setattr(duration_model, "COMMON_MEAN", float(np.log(1.3)))
    ends = np.arange(30 * DAY + 1)
    window = Window(ready=ends + 40, last=ends + 70)
    steps = [Step("prep", 10, 1, ("p0",)), Step("coat", 8, 1, ("p0",)), Step("next", 8, 1, ("p0",))]
    links = [Link("prep", "coat"), Link("coat", "next", window_id="w", missed_work=9)]
    # the plan coats late in the day, since next morning is inside the window then
    placed = (
        at("prep", 32, 42, "p0"),
        at("coat", 52, 60, "p0"),
        at("next", DAY + 32, DAY + 40, "p0"),
    )
    future = Future(small(steps, links, windows={"w": window}), Plan(placed, SCORE), Record())
    played = play(future.net, future.draw(30, 1), floor=future.floor, starts=True)
    assert (played.missed == 0).all()
    assert (played.start[:, 1] == 50).all()


def test_nothing_is_done_outdoors_on_a_wet_day(monkeypatch):
    no_chance(monkeypatch)
    plan = Plan((at("a", 32, 62, "p0"),), SCORE)
    record = Record(outdoors=frozenset({"a"}), weather=Weather(4_000, 4_000))
    future = Future(small([Step("a", 30, 1, ("p0",))]), plan, record)
    draws = future.draw(500, 1)
    played = play(future.net, draws, starts=True)
    days = future.net.day[played.start[:, 0]]
    began = played.start[:, 0] < future.net.day.size - 1
    assert not draws.wet[np.arange(500), np.minimum(days, draws.wet.shape[1] - 1)][began].any()
    dry = Future(
        small([Step("a", 30, 1, ("p0",))]), plan, replace(record, weather=Weather(4_000, 0))
    )
    assert quantile(play(dry.net, dry.draw(500, 1)).end, 0.5) == 62


def test_what_is_under_way_keeps_its_start_and_what_is_done_is_left_alone():
    steps = [
        Step("done", 8, 1, ("p0",), fixed=Told(32, ("p0",))),
        Step("now", 20, 1, ("p0",), fixed=Told(40, ("p0",))),
        Step("next", 8, 1, ("p0",)),
    ]
    placed = (at("done", 32, 40, "p0"), at("now", 40, 60, "p0"), at("next", 60, 68, "p0"))
    record = Record(now=50, found_while=NOTHING_FOUND)
    future = Future(small(steps), Plan(placed, SCORE), record)
    draws = future.draw(1_000, 1)
    played = play(future.net, draws, starts=True)
    assert (draws.work[:, 0] == 0).all()
    assert (draws.work[:, 1] >= 1).all()
    assert (played.start[:, 0] == 32).all()
    assert (played.start[:, 1] == 40).all()
    assert (played.start[:, 2] >= 51).all()
    assert list(future.jobs.share_left) == [0.0, 0.5, 1.0]


def test_more_found_makes_the_date_less_likely_and_work_without_end_is_said():
    steps = [Step(f"s{n}", 20, 1, ("p0",)) for n in range(8)]
    placed = tuple(at(f"s{n}", n * DAY + 32, n * DAY + 52, "p0") for n in range(8))
    project, plan = small(steps, launch=12 * DAY), Plan(placed, SCORE)
    chances = []
    for tenths in (0, 3, 6, 12):
        found = tuple(
            FoundWhile(f"j{n}", tenths // 10 + (n % 10 < tenths % 10)) for n in range(200)
        )
        said = forecast(project, plan, Record(took=SURE, found_while=found), samples=1_500, seed=1)
        chances.append(said.p_launch)
        assert said.found.never_ends == ("never_ends" in said.says) == (tenths == 12)
        assert said.found.r == pytest.approx(tenths / 10, abs=0.1)
    assert chances == sorted(chances, reverse=True)
    assert chances[0] > 0.9 > chances[2]
    assert said.found.p_endless > 0.5
    assert said.p90 == NEVER
    assert "beyond_horizon" in said.says


def test_priors_are_said_while_there_is_no_record():
    refit = refit_of(4, 0.2, 0)
    said = forecast(refit.project, refit.plan, refit.record, samples=200, seed=1)
    assert {"durations_from_prior", "found_from_prior"} <= set(said.says)
    assert not said.found.from_record
    known = refit_of(4, 0.2, 12)
    said = forecast(known.project, known.plan, known.record, samples=200, seed=1)
    assert not {"durations_from_prior", "found_from_prior", "weather_from_prior"} & set(said.says)
    assert said.overrun.from_record


def test_the_burn_up_begins_with_all_that_is_left_and_ends_with_nothing():
    refit = refit_of(6, 0.2, 12)
    done = (DayDone(-2 * DAY, 40.0), DayDone(-DAY, 30.0))
    said = forecast(
        refit.project, refit.plan, replace(refit.record, done=done), samples=1_000, seed=1
    ).burn_up
    assert said.done == ((-2 * DAY, 40.0), (-DAY, 70.0))
    assert all(one.p10 <= one.p50 <= one.p90 for one in said.left)
    for earlier, later in zip(said.left, said.left[1:], strict=False):
        assert later.p50 <= earlier.p50
        assert later.p90 <= earlier.p90
    assert said.left[-1].p90 == 0
    assert said.scope > 70.0 + said.left[0].p50
    assert said.left[0].done[0] >= 70.0
    for earlier, later in zip(said.left, said.left[1:], strict=False):
        assert all(one <= other for one, other in zip(earlier.done, later.done, strict=True))
        assert later.done[0] <= later.done[1] <= later.done[2]
    assert abs(said.left[-1].done[1] - said.scope) < 0.1 * said.scope


def test_days_begin_where_the_record_says():
    refit = refit_of(6, 0.2, 12)
    days = (0, DAY, 2 * DAY, 3 * DAY, 4 * DAY, 5 * DAY - 4, 6 * DAY - 4)  # a clock goes forward
    record = replace(refit.record, days=days)
    said = forecast(refit.project, refit.plan, record, samples=300, seed=1).burn_up
    assert [one.day for one in said.left[4:8]] == [4 * DAY, 5 * DAY - 4, 6 * DAY - 4, 7 * DAY - 4]


def test_what_need_not_be_done_by_the_launch_does_not_decide_it():
    steps = [Step("must", 8, 1, ("p0",)), Step("may", 30, 1, ("p0",), by_launch=False)]
    plan = Plan((at("must", DAY + 32, DAY + 40, "p0"), at("may", 32, 62, "p0")), SCORE)
    future = Future(small(steps), plan, Record())
    assert [step.id for step in future.drawn.steps] == ["must"]


def test_what_comes_before_it_must_be_done_as_well():
    steps = [Step("must", 8, 1, ("p0",)), Step("first", 8, 1, ("p0",), by_launch=False)]
    plan = Plan((at("must", 40, 48, "p0"), at("first", 32, 40, "p0")), SCORE)
    future = Future(small(steps, [Link("first", "must")]), plan, Record())
    assert [step.id for step in future.drawn.steps] == ["first", "must"]


@pytest.mark.parametrize(
    ("field", "wrong"),
    [
        ("took[0]", {"took": (Took("a", 0.0, 1.0),)}),
        ("found_while[1]", {"found_while": (FoundWhile("a", 1), FoundWhile("b", -1))}),
        ("found_labour", {"found_labour": (0.0,)}),
        ("weather", {"weather": Weather(2, 3)}),
        ("days", {"days": (96, 96)}),
    ],
)
def test_a_record_that_cannot_be_is_refused_with_its_field(field, wrong):
    with pytest.raises(RecordError) as refused:
        Record(**wrong)
    assert refused.value.field == field


def test_a_project_in_which_nothing_is_left_is_made_for_sure():
    said = forecast(small([]), Plan((), SCORE), Record(), samples=100, seed=1)
    assert said.p_launch == 1.0
    assert said.burn_up.scope == 0.0


@pytest.mark.parametrize("seed", [0, 3, 4, 6, 13])
def test_without_chance_a_plan_with_places_and_windows_ends_no_later_than_it_says(seed):
    project = random_project(seed, 60, under_way=seed % 3 == 0, launch_share=0.5)
    plan = solve(project, Budget(20.0, rounds=1), clock=lambda: 0.0)
    future = Future(project, plan, Record())
    last = max(one.end for one, s in zip(plan.placed, project.steps, strict=True) if s.by_launch)
    assert last - 2 * DAY <= future.without_chance() <= last
