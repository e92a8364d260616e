"""The planner on published instances, on the command line."""

from __future__ import annotations

import os
import time
from pathlib import Path

import click
from psplib import parse

from tackwatch.plan.check import check
from tackwatch.plan.instances import LOOK, InstanceError, look_through, project_of
from tackwatch.plan.model import Project
from tackwatch.work.planning.compiled_code import keep_compiled

_FORMATS = {".sm": "psplib", ".sch": "rcpsp_max"}
_EXIT_WORDS = """\b
Exit status: 0 each file has an answer; 1 of some file no plan was found in time;
2 wrong usage; 65 a file is not valid; 66 a file cannot be read; 70 the checker
found a plan wrong, which is a fault of this program.
"""


class NotValidError(click.ClickException):
    """A file that is no instance."""

    exit_code = os.EX_DATAERR


class NotReadError(click.ClickException):
    """A file that cannot be read."""

    exit_code = os.EX_NOINPUT


class WrongPlanError(click.ClickException):
    """A plan that breaks rules."""

    exit_code = os.EX_SOFTWARE


@click.command("plan-benchmark", epilog=_EXIT_WORDS)
@click.argument(
    "files", metavar="FILE...", nargs=-1, required=True, type=click.Path(path_type=Path)
)
@click.option(
    "--seconds",
    type=click.FloatRange(0.01, 86_400),
    default=10.0,
    show_default=True,
    help="For each file.",
)
@click.option(
    "--workers", type=click.IntRange(1, 64), default=2, show_default=True, help="Threads."
)
@click.option(
    "--seed",
    type=click.IntRange(0, 2**31),
    default=0,
    show_default=True,
    help="Of the search's chance.",
)
def plan_benchmark(files: tuple[Path, ...], seconds: float, workers: int, seed: int) -> None:
    """Plan published instances: PSPLIB (.sm) and RCPSP/max (.sch).

    Prints a line for each file: makespan, proven lower bound, seconds, and whether that is optimal, feasible,
    infeasible (proven), or unknown (nothing was found in time).
    """
    projects = [(path, read_instance(path)) for path in files]
    width = max(len(path.name) for path in files)
    found = True
    for path, project in projects:
        answer = _answer(project, seconds, workers, seed)
        click.echo(f"{path.name:{width}}  {answer}")
        found = found and not answer.endswith("unknown")
        if answer.endswith("wrong"):
            raise WrongPlanError(f"{path}: the plan breaks rules")
    if not found:
        raise SystemExit(1)


def read_instance(path: Path) -> Project:
    """Read an instance, by the suffix of its file.

    Raises
    ------
    NotValidError
        Naming the file, and the line where one is wrong.
    NotReadError
        When it cannot be opened.
    """
    suffix = path.suffix.lower()
    if suffix not in LOOK:
        raise NotValidError(f"{path}: must be a .sm or a .sch file")
    try:
        look_through(path.read_text(encoding="ascii"), suffix)
        return project_of(parse(path, _FORMATS[suffix]))
    except InstanceError as error:
        raise NotValidError(f"{path}:{error.line}: {error.message}") from None
    except UnicodeDecodeError as error:
        line = error.object[: error.start].count(b"\n") + 1
        raise NotValidError(f"{path}:{line}: not plain text") from None
    except OSError as error:
        raise NotReadError(f"{path}: {error.strerror}") from None


def _answer(project: Project, seconds: float, workers: int, seed: int) -> str:
    # The engine's compiler takes a second to load and much memory: only this command pays for it.
    keep_compiled(_kept_in())
    from tackwatch.plan.engine import Budget, CannotPlaceError, InfeasibleError, solve

    began = time.monotonic()
    proved = False
    try:
        plan = solve(project, Budget(seconds, workers, seed), clock=time.monotonic)
    except CannotPlaceError as error:
        proved = error.code != "horizon"
    except InfeasibleError as error:
        proved = error.proved
    else:
        status = "optimal" if plan.late_bound == plan.score.late else "feasible"
        status = "wrong" if check(project, plan) else status
        bound = "-" if plan.late_bound is None else str(plan.late_bound)
        return _line(str(plan.score.late), bound, time.monotonic() - began, status)
    return _line("-", "-", time.monotonic() - began, "infeasible" if proved else "unknown")


def _kept_in() -> Path:
    """Give where compiled code is kept if it cannot be beside the program: with the server's, else with the user's."""
    if data_dir := os.environ.get("TACKWATCH_DATA_DIR"):
        return Path(data_dir) / "compiled"
    return Path(os.environ.get("XDG_CACHE_HOME") or Path("~/.cache").expanduser()) / "tackwatch"


def _line(makespan: str, bound: str, seconds: float, status: str) -> str:
    return f"makespan {makespan:>6}  bound {bound:>6}  {seconds:7.2f} s  {status}"


COMMANDS = (plan_benchmark,)
