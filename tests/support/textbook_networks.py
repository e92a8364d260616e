"""Networks of activities from textbooks, with the answers that the books print.

Each activity has three estimates (optimistic, most likely, pessimistic) and those before it. The time of a
network is that of its longest path of means, (o + 4 m + p) / 6; its variance is the sum of ((p - o) / 6)^2
along that path.

Source
------
`HOUSE`: Hillier and Lieberman, Introduction to Operations Research, the chapter on projects; from memory.
`FOUNDRY`: Render, Stair and Hanna, Quantitative Analysis for Management, the chapter on projects; from memory.
"""

from dataclasses import dataclass

from tackwatch.plan.model import Grid, Link, Project, Step


@dataclass(frozen=True)
class Network:
    """A network in weeks, with the answers that the book prints."""

    activities: dict[str, tuple[tuple[float, float, float], str]]
    weeks: float
    variance: float
    critical: str
    asked_weeks: float
    p_by_then: float

    def mean(self, name: str) -> float:
        """Give the mean of an activity in weeks."""
        (low, likely, high), _ = self.activities[name]
        return (low + 4.0 * likely + high) / 6.0

    def variance_of(self, name: str) -> float:
        """Give the variance of an activity in weeks squared."""
        (low, _, high), _ = self.activities[name]
        return ((high - low) / 6.0) ** 2

    def project(self) -> Project:
        """Give the network as a project of slots of a week, with room for everybody."""
        steps = tuple(Step(name, round(self.mean(name)), crew=0) for name in self.activities)
        links = tuple(
            Link(before, name) for name, (_, all_) in self.activities.items() for before in all_
        )
        slots = sum(step.work for step in steps)
        return Project(Grid(0.0, 604_800, slots), launch=0, steps=steps, links=links)


HOUSE = Network(
    {
        "A": ((1, 2, 3), ""),  # excavate
        "B": ((2, 3.5, 8), "A"),  # foundation
        "C": ((6, 9, 18), "B"),  # rough wall
        "D": ((4, 5.5, 10), "C"),  # roof
        "E": ((1, 4.5, 5), "C"),  # exterior plumbing
        "F": ((4, 4, 10), "E"),  # interior plumbing
        "G": ((5, 6.5, 11), "D"),  # exterior siding
        "H": ((5, 8, 17), "EG"),  # exterior painting
        "I": ((3, 7.5, 9), "C"),  # electrical work
        "J": ((3, 9, 9), "FI"),  # wallboard
        "K": ((4, 4, 4), "J"),  # flooring
        "L": ((1, 5.5, 7), "J"),  # interior painting
        "M": ((1, 2, 3), "H"),  # exterior fixtures
        "N": ((5, 5.5, 9), "KL"),  # interior fixtures
    },
    weeks=44,
    variance=9.0,
    critical="ABCEFJLN",
    asked_weeks=47,
    p_by_then=0.8413,
)
FOUNDRY = Network(
    {
        "A": ((1, 2, 3), ""),  # internal components
        "B": ((2, 3, 4), ""),  # roof and floor
        "C": ((1, 2, 3), "A"),  # collection stack
        "D": ((2, 4, 6), "B"),  # concrete and frame
        "E": ((1, 4, 7), "C"),  # burner
        "F": ((1, 2, 9), "C"),  # control system
        "G": ((3, 4, 11), "DE"),  # pollution device
        "H": ((1, 2, 3), "FG"),  # inspection and test
    },
    weeks=15,
    variance=3.11,
    critical="ACEGH",
    asked_weeks=16,
    p_by_then=0.716,
)
