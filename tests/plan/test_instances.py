"""Published instances become projects, and a file that is none is refused with its line."""

from dataclasses import replace
from pathlib import Path

import pytest
from click.testing import CliRunner, Result
from psplib import parse

from tackwatch.cli import main
from tackwatch.plan.check import check
from tackwatch.plan.engine import Budget, solve
from tackwatch.plan.instances import InstanceError, look_through, project_of
from tackwatch.plan.model import Grid, Link, Place, Project, Step, Use
from tests.support.simple_plan import simple_plan

# Job, duration, units of the one resource it asks for, successors: instance 1 of the first set with 30 jobs of
# Kolisch and Sprecher, PSPLIB (1997). Its longest path is 38 by its own file, its least makespan 43 by PSPLIB's list
# of optima for 30 jobs (from memory).
J301_1 = """
1 0 - 2,3,4; 2 8 1:4 6,11,15; 3 4 1:10 7,8,13; 4 6 4:3 5,9,10; 5 3 1:3 20; 6 8 4:8 30; 7 5 1:4 27;
8 9 2:1 12,19,27; 9 2 1:6 14; 10 7 4:1 16,25; 11 9 2:5 20,26; 12 2 2:7 14; 13 6 1:4 17,18;
14 3 2:8 17; 15 9 1:3 25; 16 10 4:5 21,22; 17 6 4:8 22; 18 5 4:7 20,22; 19 3 2:1 24,29;
20 7 2:10 23,25; 21 2 4:6 28; 22 7 1:2 23; 23 2 1:3 24; 24 3 2:9 30; 25 3 1:4 30; 26 7 3:4 31;
27 8 4:7 28; 28 3 2:8 31; 29 7 2:7 32; 30 2 2:7 32; 31 2 3:2 32; 32 0 - -
"""
CAPACITIES = (12, 13, 4, 12)
SM = """\
****
file with basedata            : small.bas
jobs (incl. supersource/sink ):  5
****
PRECEDENCE RELATIONS:
jobnr.    #modes  #successors   successors
   1        1          2           2   3
   2        1          1           4
   3        1          1           5
   4        1          1           5
   5        1          0
****
REQUESTS/DURATIONS:
jobnr. mode duration  R 1  R 2
------------------------------
  1      1     0       0    0
  2      1     3       2    0
  3      1     4       2    1
  4      1     2       1    0
  5      1     0       0    0
****
RESOURCEAVAILABILITIES:
  R 1  R 2
    3    1
****
"""
SCH = """\
2\t1\t0\t0
0\t1\t1\t1\t[0]
1\t1\t2\t2\t3\t[4]\t[6]
2\t1\t2\t1\t3\t[-5]\t[2]
3\t1\t0
0\t1\t0\t0
1\t1\t3\t1
2\t1\t2\t1
3\t1\t0\t0
1
"""


def run(path: Path, *options: str) -> Result:
    return CliRunner().invoke(main, ["plan-benchmark", str(path), "--seconds", "1", *options])


def written(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text)
    return path


def test_an_instance_of_psplib_becomes_places_steps_and_links(tmp_path: Path) -> None:
    project = project_of(parse(written(tmp_path, "small.sm", SM), "psplib"))
    assert [step.work for step in project.steps] == [0, 3, 4, 2, 0]
    assert project.steps[2].uses == (Use("0", 2), Use("1", 1))
    assert [place.holds for place in project.places] == [3, 1]
    assert Link("1", "3") in project.links
    assert (project.launch, len(project.links)) == (0, 5)
    plan = simple_plan(project)
    assert check(project, plan) == ()
    assert plan.score.late == 7  # the two longer jobs ask for 4 of 3 units: worked by hand


def test_lags_of_rcpsp_max_become_gaps_after_the_end(tmp_path: Path) -> None:
    project = project_of(parse(written(tmp_path, "small.sch", SCH), "rcpsp_max"))
    assert set(project.links) == {
        Link("0", "1", 0),
        Link("1", "2", 4 - 3),
        Link("1", "3", 6 - 3),
        Link("2", "1", -5 - 2),
        Link("2", "3", 2 - 2),
    }


def test_the_command_finds_the_makespan_worked_by_hand(tmp_path: Path) -> None:
    answer = run(written(tmp_path, "small.sm", SM))
    assert answer.exit_code == 0, answer.output
    assert answer.output.split()[:3] == ["small.sm", "makespan", "7"]
    both = run(written(tmp_path, "small.sch", SCH))
    assert both.exit_code == 0, both.output
    assert both.output.split()[:3] == ["small.sch", "makespan", "6"]


def changed(text: str, line: int, to: str | None) -> str:
    lines = text.splitlines()
    lines[line - 1 : line] = [] if to is None else [to]
    return "\n".join(lines) + "\n"


@pytest.mark.parametrize(
    ("text", "suffix", "line", "words"),
    [
        (changed(SM, 8, "   2   1   2   4"), ".sm", 8, "2 successors are announced"),
        (changed(SM, 8, "   2   1   1   6"), ".sm", 8, "successors are jobs 1 to 5"),
        (changed(SM, 8, "   2   3   1   4"), ".sm", 8, "3 modes"),
        (changed(SM, 8, "   2   1   x"), ".sm", 8, "'x' is not a whole number"),
        (changed(SM, 8, "   7   1   1   4"), ".sm", 8, "job 2 with its modes"),
        (changed(SM, 17, "  2      1     3       2"), ".sm", 17, "2 requests are wanted"),
        (changed(SM, 17, "  2      1    -3   2   0"), ".sm", 17, "its duration"),
        (changed(SM, 17, None), ".sm", 13, "4 durations for 5 jobs"),
        (changed(SM, 23, "  R 1  N 1"), ".sm", 23, "only renewable"),
        (changed(SM, 24, "    3"), ".sm", 24, "an availability for each"),
        (changed(SM, 5, "ORDER:"), ".sm", 25, "no part PRECEDENCE RELATIONS"),
        ("\n".join(SM.splitlines()[:23]), ".sm", 23, "ends before the availabilities"),
        ("\n \n", ".sm", 1, "empty"),
        (changed(SCH, 1, "2"), ".sch", 1, "numbers of activities and resources"),
        (changed(SCH, 3, "1\t1\t2\t2\t3\t[4]"), ".sch", 3, "as many lags"),
        (changed(SCH, 3, "1\t1\t1\t2\t4"), ".sch", 3, "as many lags"),
        (changed(SCH, 3, "1\t1\t1\t9\t[4]"), ".sch", 3, "activities 0 to 3"),
        (changed(SCH, 3, "1\t2\t1\t2\t[4]"), ".sch", 3, "2 modes"),
        (changed(SCH, 3, "5\t1\t1\t2\t[4]"), ".sch", 3, "activity 1 with"),
        (changed(SCH, 7, "1\t1\t3"), ".sch", 7, "1 demands are wanted"),
        (changed(SCH, 10, "1\t1"), ".sch", 10, "1 capacities"),
        (changed(SCH, 10, None), ".sch", 9, "ends before 4 activities"),
    ],
)  # fmt: skip
def test_the_first_line_that_is_wrong_is_named(
    text: str, suffix: str, line: int, words: str
) -> None:
    with pytest.raises(InstanceError) as caught:
        look_through(text, suffix)
    assert caught.value.line == line
    assert words in caught.value.message


def test_the_command_names_file_and_line_and_ends_with_its_status(tmp_path: Path) -> None:
    wrong = run(written(tmp_path, "wrong.sm", changed(SM, 8, "   2   1   x")))
    assert wrong.exit_code == 65
    assert f"{tmp_path / 'wrong.sm'}:8: 'x' is not a whole number" in wrong.output
    other = run(written(tmp_path, "plan.txt", SM))
    assert (other.exit_code, "must be a .sm or a .sch file" in other.output) == (65, True)
    gone = run(tmp_path / "gone.sm")
    assert (gone.exit_code, "gone.sm" in gone.output) == (66, True)
    folder = tmp_path / "folder.sm"
    folder.mkdir()
    assert run(folder).exit_code == 66
    binary = tmp_path / "binary.sm"
    binary.write_bytes(b"****\n\xff\xfe")
    assert f"{binary}:2: not plain text" in run(binary).output
    assert CliRunner().invoke(main, ["plan-benchmark"]).exit_code == 2
    assert run(written(tmp_path, "fine.sm", SM), "--seconds", "0").exit_code == 2


def test_nothing_is_planned_when_one_of_several_files_is_wrong(tmp_path: Path) -> None:
    fine, wrong = written(tmp_path, "fine.sm", SM), written(tmp_path, "wrong.sm", "x")
    answer = CliRunner().invoke(main, ["plan-benchmark", str(fine), str(wrong)])
    assert (answer.exit_code, "makespan" in answer.output) == (65, False)


def test_a_job_that_asks_for_more_than_there_is_makes_an_instance_infeasible(
    tmp_path: Path,
) -> None:
    answer = run(written(tmp_path, "much.sm", changed(SM, 17, "  2      1     3       9    0")))
    assert answer.exit_code == 0
    assert answer.output.strip().endswith("infeasible")


def j301_1() -> Project:
    steps, links = [], []
    for row in J301_1.replace("\n", " ").split(";"):
        job, duration, asks, after = row.split()
        resource, _, units = asks.partition(":")
        uses = (Use(resource, int(units)),) if units else ()
        steps.append(Step(job, int(duration), crew=0, uses=uses))
        links += [Link(job, one) for one in after.split(",") if one != "-"]
    slots = sum(step.work for step in steps)
    places = tuple(Place(str(i), holds) for i, holds in enumerate(CAPACITIES, 1))
    return Project(Grid(0.0, 900, slots), 0, tuple(steps), tuple(links), places=places)


def test_the_longest_path_of_j301_1_is_that_of_its_file_by_psplib() -> None:
    project = j301_1()
    free = replace(project, places=tuple(replace(one, holds=99) for one in project.places))
    plan = simple_plan(free)
    assert (len(project.steps), plan.score.late) == (32, 38)


def test_j301_1_takes_no_less_and_no_more_than_its_optimum_by_psplib() -> None:
    project = j301_1()
    plan = solve(project, Budget(60.0, workers=1, rounds=400), clock=lambda: 0.0)
    assert check(project, plan) == ()
    assert plan.score.late == 43
