"""What must be true of any project before somebody searches for its plan."""

from collections.abc import Iterator

from tackwatch.plan.model import Project, Step


def faults_of(project: Project) -> list[str]:
    """Name all that contradicts itself in a project."""
    return list(_faults(project))


def _faults(project: Project) -> Iterator[str]:
    ids = [step.id for step in project.steps]
    if len(set(ids)) != len(ids):
        yield "two steps have one id"
    places = {place.id: place.holds for place in project.places}
    for person in project.people:
        ends = [end for span in person.open for end in span]
        if ends != sorted(ends) or any(begin >= end for begin, end in person.open):
            yield f"{person.id}: spans out of order"
        if ends and not 0 <= ends[0] <= ends[-1] <= project.grid.slots:
            yield f"{person.id}: open outside the grid"
    for step in project.steps:
        yield from (f"{step.id}: {fault}" for fault in _of_step(project, step, places))
    for link in project.links:
        if link.before not in ids or link.after not in ids or link.before == link.after:
            yield f"a link from {link.before} to {link.after}"
        if link.window_id is not None and link.window_id not in project.windows:
            yield f"{link.window_id} is no window"
    for name, table in (
        *project.tables.items(),
        *((name, window.ready) for name, window in project.windows.items()),
        *((name, one.last) for name, one in project.windows.items() if one.last is not None),
    ):
        if len(table) != project.grid.slots + 1 or table.dtype.name != "int64":
            yield f"{name}: {len(table)} entries of {table.dtype}"
        elif (table[1:] < table[:-1]).any():
            yield f"{name}: a later end gives an earlier instant"


def _of_step(project: Project, step: Step, places: dict[str, int]) -> Iterator[str]:
    if step.fixed is None:
        if step.work < 0 or (step.crew == 0) != (not step.able):
            yield "work, crew and people do not go together"
        extra = sum(link.missed_work or 0 for link in project.links if link.after == step.id)
        long_enough = [
            id_
            for id_ in step.able
            if any(end - begin >= step.work + extra for begin, end in project.person_of[id_].open)
        ]
        if len(long_enough) < step.crew:
            yield "nobody's day is long enough"
        if any(use.units > places[use.place_id] for use in step.uses):
            yield "it does not go into its place"
    if step.dry_id is not None and step.dry_id not in project.tables:
        yield "its table of drying is not there"
