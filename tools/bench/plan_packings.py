"""Random packings in the manner of the published sets, and with largest gaps of known span.

Rules
-----
* Those without largest gaps have the parameters of the published generator: arcs a step (NC), share of
  places that a step uses (RF), strength of the places between what one step needs and what all need who
  begin as soon as may be (RS).
* Those with largest gaps are cut from a schedule that fills one place without a hole, so that no span
  can be shorter; or they contradict themselves by gaps, or by gaps and places together.

Source
------
Kolisch, Sprecher, Drexl: Characterization and generation of a general class of resource-constrained
project scheduling problems, Management Science 41 (1995), for the parameters.
"""

from random import Random

from tackwatch.plan.model import Grid, Link, Place, Project, Step, Use

PLACES = 4


def packing(seed: int, n: int, nc: float, rf: float, rs: float) -> Project:
    """Draw a packing of `n` steps by the parameters of the published sets."""
    chance = Random(f"packing {seed} {n} {nc} {rf} {rs}")
    work = [chance.randint(1, 10) for _ in range(n)]
    demand = [
        [chance.randint(1, 10) if chance.random() < rf else 0 for _ in range(PLACES)]
        for _ in range(n)
    ]
    arcs = _arcs(chance, n, nc)
    holds = _holds(work, demand, arcs, rs)
    return _project(work, demand, holds, [Link(str(a), str(b)) for a, b in sorted(arcs)])


def _arcs(chance: Random, n: int, nc: float) -> set[tuple[int, int]]:
    """Give each step a step before it, then arcs until there are enough; none has more than three at a side."""
    into, out, arcs = [0] * n, [0] * n, set()
    for b in range(3, n):
        free = [a for a in range(b) if out[a] < 3]
        a = chance.choice(free[-25:])
        arcs.add((a, b))
        into[b] += 1
        out[a] += 1
    tries = 0
    while len(arcs) < nc * n and tries < 50 * n:
        tries += 1
        a, b = sorted(chance.sample(range(n), 2))
        if (a, b) not in arcs and out[a] < 3 and into[b] < 3:
            arcs.add((a, b))
            into[b] += 1
            out[a] += 1
    return arcs


def _holds(
    work: list[int], demand: list[list[int]], arcs: set[tuple[int, int]], rs: float
) -> list[int]:
    start = [0] * len(work)
    for a, b in sorted(arcs, key=lambda arc: arc[1]):
        start[b] = max(start[b], start[a] + work[a])
    holds = []
    for k in range(PLACES):
        least = max(one[k] for one in demand)
        peak = max(
            sum(demand[i][k] for i in range(len(work)) if start[i] <= t < start[i] + work[i])
            for t in range(max(start) + 11)
        )
        holds.append(least + round(rs * max(0, peak - least)))
    return holds


def packing_with_gaps(seed: int, n: int) -> tuple[Project, int]:
    """Draw a packing with largest gaps whose least span is known; give it and the span."""
    chance = Random(f"gaps {seed} {n}")
    holds, span = 12, 6 * n // 3
    start, work, use = _full_schedule(chance, n, holds, span)
    links = []
    for b in range(len(work)):
        before = [a for a in range(len(work)) if start[a] + work[a] <= start[b]]
        for a in chance.sample(before, min(len(before), 2)):
            slack = start[b] - start[a] - work[a]
            lag = chance.randint(0, min(slack, 5))
            most = slack + chance.randint(0, 4) if chance.random() < 0.5 else None
            links.append(Link(str(a), str(b), min_gap=lag, max_gap=most))
    demand = [[n_, *(chance.randint(0, 2) for _ in range(PLACES - 1))] for n_ in use]
    return _project(work, demand, [holds, *_room(start, work, demand)], links), span


def _full_schedule(
    chance: Random, n: int, holds: int, span: int
) -> tuple[list[int], list[int], list[int]]:
    """Cut a rectangle of `span` slots and `holds` units into pieces: lanes of units, cut across."""
    start, work, use = [], [], []
    left = holds
    lanes = []
    while left:
        lanes.append(min(left, chance.randint(2, 5)))
        left -= lanes[-1]
    for lane in lanes:
        cuts = sorted(chance.sample(range(1, span), max(1, n // len(lanes) - 1)))
        for begin, end in zip([0, *cuts], [*cuts, span], strict=True):
            start.append(begin)
            work.append(end - begin)
            use.append(lane)
    return start, work, use


def _room(start: list[int], work: list[int], demand: list[list[int]]) -> list[int]:
    rooms = []
    for k in range(1, PLACES):
        rooms.append(
            max(
                sum(one[k] for one, s, w in zip(demand, start, work, strict=True) if s <= t < s + w)
                for t in range(max(start) + 1)
            )
        )
    return rooms


def contradiction(seed: int, n: int, by_places: bool) -> Project:
    """Draw a packing that has no schedule: by its gaps alone, or because two steps would have to share a place."""
    project, _ = packing_with_gaps(seed, n)
    chance = Random(f"contradiction {seed}")
    if by_places:
        one, two = (Step(name, 5, crew=0, uses=(Use("0", 7),)) for name in ("left", "right"))
        near = (Link("left", "right", min_gap=-7, max_gap=-2), Link("right", "left", min_gap=-9))
        return Project(
            project.grid,
            0,
            (*project.steps, one, two),
            (*project.links, *near),
            places=project.places,
        )
    a, b = chance.sample(range(n // 2), 2)
    circle = (Link(str(a), str(b), min_gap=3), Link(str(a), str(b), max_gap=1))
    return Project(project.grid, 0, project.steps, (*project.links, *circle), places=project.places)


def _project(
    work: list[int], demand: list[list[int]], holds: list[int], links: list[Link]
) -> Project:
    steps = tuple(
        Step(str(i), w, crew=0, uses=tuple(Use(str(k), n) for k, n in enumerate(one) if n))
        for i, (w, one) in enumerate(zip(work, demand, strict=True))
    )
    slots = sum(work) + sum(max(0, link.min_gap) for link in links)
    places = tuple(Place(str(k), n) for k, n in enumerate(holds))
    return Project(Grid(0.0, 900, slots), 0, steps, tuple(links), places=places)
