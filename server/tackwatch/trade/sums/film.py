"""The sums about a film of paint: wet and dry, coats, the comb, and measured readings.

Source
------
See `trade.film` and `trade.film_readings`.
"""

from dataclasses import dataclass, field
from math import sqrt
from typing import Final

from tackwatch.trade import film, film_readings
from tackwatch.trade.sums.sum import Basis, Sum, measured, note, quantity, several

DRY: Final = quantity("um", "Dry film of one coat", least=1.0, most=20_000.0)
WET: Final = quantity("um", "Wet film of one coat", least=1.0, most=50_000.0)
SOLIDS: Final = quantity("%", "Solids by volume, from the data sheet", least=1.0, most=100.0)
THINNING: Final = quantity(
    "%", "Thinner by volume of paint (10: a tenth of the paint)", least=0.0, most=100.0
)
TEETH: Final = several(
    quantity("um", "Tooth", above=0.0, most=50_000.0), "Teeth of the comb, rising", fewest=1
)
READINGS: Final = several(
    quantity("um", "Reading", least=0.0, most=50_000.0),
    "Dry film readings (for sspc_pa_2: means of spots)",
    fewest=1,
    at_most=2000,
)
HANDBOOK: Final = "UFC 3-190-06 (MIL-HDBK-1110), 2.1.5"


@dataclass(frozen=True, slots=True)
class WetFilmTakes:
    """A dry film to reach, and the paint."""

    dry_film_um: float = field(metadata=DRY)
    solids_by_volume_pct: float = field(metadata=SOLIDS)
    thinning_pct: float = field(default=0.0, metadata=THINNING)


@dataclass(frozen=True, slots=True)
class WetFilmGives:
    """The wet film to lay."""

    wet_film_um: float = field(metadata=measured("um", "Wet film to lay"))
    solids_thinned_pct: float = field(metadata=measured("%", "Solids by volume after thinning"))


@dataclass(frozen=True, slots=True)
class DryFilmTakes:
    """A wet film that was measured, and the paint."""

    wet_film_um: float = field(metadata=WET)
    solids_by_volume_pct: float = field(metadata=SOLIDS)
    thinning_pct: float = field(default=0.0, metadata=THINNING)


@dataclass(frozen=True, slots=True)
class DryFilmGives:
    """The dry film that it leaves."""

    dry_film_um: float = field(metadata=measured("um", "Dry film that is left"))
    solids_thinned_pct: float = field(metadata=measured("%", "Solids by volume after thinning"))


@dataclass(frozen=True, slots=True)
class CombTakes:
    """A dry film to reach, the paint, and the comb at hand."""

    dry_film_um: float = field(metadata=DRY)
    solids_by_volume_pct: float = field(metadata=SOLIDS)
    thinning_pct: float = field(default=0.0, metadata=THINNING)
    teeth_um: tuple[float, ...] = field(default=film.COMB_UM, metadata=TEETH)


@dataclass(frozen=True, slots=True)
class CombGives:
    """The wet film to aim for, and how it shows on the comb."""

    wet_film_um: float = field(metadata=measured("um", "Wet film to aim for"))
    must_be_wet_um: float = field(metadata=measured("um", "Tooth that the paint must reach"))
    should_stay_dry_um: float | None = field(metadata=measured("um", "Next tooth above"))


@dataclass(frozen=True, slots=True)
class CoatsTakes:
    """A total film to build, and what one coat gives."""

    total_film_um: float = field(
        metadata=quantity("um", "Dry film of all coats", least=1.0, most=100_000.0)
    )
    film_per_coat_um: float = field(metadata=DRY)


@dataclass(frozen=True, slots=True)
class CoatsGives:
    """How many coats, and how thick each has to be at least."""

    coats: int = field(metadata=measured("1", "Coats to lay"))
    least_per_coat_um: float = field(metadata=measured("um", "Least dry film of each coat"))
    built_film_um: float = field(
        metadata=measured("um", "Film when each coat is as thick as meant")
    )


@dataclass(frozen=True, slots=True)
class FilmReadingsTakes:
    """Measured readings, what was specified, and the rule of acceptance."""

    readings_um: tuple[float, ...] = field(metadata=READINGS)
    specified_um: float = field(
        metadata=quantity("um", "Dry film that was specified", least=1.0, most=50_000.0)
    )
    rule: film_readings.FilmRule = field(default="iso_19840", metadata=note("Rule of acceptance"))
    most_um: float | None = field(
        default=None,
        metadata=quantity("um", "Thickest that is allowed", least=1.0, most=100_000.0),
    )


@dataclass(frozen=True, slots=True)
class FilmReadingsGives:
    """Whether the readings are accepted, and their figures."""

    accepted: bool = field(metadata=note("Accepted by the rule"))
    count: int = field(metadata=measured("1", "Number of readings"))
    mean_um: float = field(metadata=measured("um", "Mean"))
    least_um: float = field(metadata=measured("um", "Thinnest reading"))
    greatest_um: float = field(metadata=measured("um", "Thickest reading"))
    deviation_um: float | None = field(metadata=measured("um", "Standard deviation, from two on"))
    thin_count: int = field(metadata=measured("1", "Readings below what was specified"))
    thin_pct: float = field(metadata=measured("%", "Share of those readings"))
    basis: Basis = field(metadata=note("What the rule rests on"))
    reasons: tuple[str, ...] = field(
        metadata=note(
            "Codes: mean_too_thin, reading_too_thin, too_many_thin, mean_too_thick, "
            "reading_too_thick"
        )
    )
    notes: tuple[str, ...] = field(
        metadata=note("Codes: rule_from_memory (every share of the rule, unseen in its text)")
    )


def wet_film(given: WetFilmTakes) -> WetFilmGives:
    """Give the wet film for a dry film."""
    solids, thinning = given.solids_by_volume_pct, given.thinning_pct
    return WetFilmGives(
        film.wet_film_um(given.dry_film_um, solids, thinning),
        film.solids_thinned_pct(solids, thinning),
    )


def dry_film(given: DryFilmTakes) -> DryFilmGives:
    """Give the dry film that a wet film leaves."""
    solids, thinning = given.solids_by_volume_pct, given.thinning_pct
    return DryFilmGives(
        film.dry_film_um(given.wet_film_um, solids, thinning),
        film.solids_thinned_pct(solids, thinning),
    )


def comb_target(given: CombTakes) -> CombGives:
    """Give the wet film to aim for and the teeth that show it."""
    wet_um = film.wet_film_um(given.dry_film_um, given.solids_by_volume_pct, given.thinning_pct)
    teeth = film.comb_teeth(wet_um, given.teeth_um)
    return CombGives(wet_um, teeth.must_be_wet_um, teeth.should_stay_dry_um)


def coats_to_thickness(given: CoatsTakes) -> CoatsGives:
    """Give the coats that build a total film."""
    coats = film.coats_to(given.total_film_um, given.film_per_coat_um)
    return CoatsGives(coats, given.total_film_um / coats, coats * given.film_per_coat_um)


def film_acceptance(given: FilmReadingsTakes) -> FilmReadingsGives:
    """Judge measured readings against what was specified."""
    readings, count = given.readings_um, len(given.readings_um)
    judged = film_readings.judge(readings, given.specified_um, given.rule, given.most_um)
    spread = sum((one - judged.mean_um) ** 2 for one in readings)
    return FilmReadingsGives(
        accepted=not judged.reasons,
        count=count,
        mean_um=judged.mean_um,
        least_um=judged.least_um,
        greatest_um=judged.greatest_um,
        deviation_um=sqrt(spread / (count - 1)) if count > 1 else None,
        thin_count=judged.thin_count,
        thin_pct=100.0 * judged.thin_count / count,
        basis="from_memory",
        reasons=judged.reasons,
        notes=("rule_from_memory",),
    )


SUMS: Final = (
    Sum(
        "wet_film",
        "film",
        "How thick to lay paint wet so that enough is left dry.",
        WetFilmTakes,
        WetFilmGives,
        wet_film,
        HANDBOOK,
        ("solvents",),
    ),
    Sum(
        "dry_film",
        "film",
        "How thick a wet film is when it has dried.",
        DryFilmTakes,
        DryFilmGives,
        dry_film,
        HANDBOOK,
    ),
    Sum(
        "comb_target",
        "film",
        "Which tooth of the wet-film comb the paint must reach.",
        CombTakes,
        CombGives,
        comb_target,
        f"{HANDBOOK}; teeth of the comb: common practice, no source",
    ),
    Sum(
        "coats_to_thickness",
        "film",
        "How many coats build a total dry film.",
        CoatsTakes,
        CoatsGives,
        coats_to_thickness,
        "Definition: total over film per coat, rounded up",
    ),
    Sum(
        "film_acceptance",
        "film",
        "Whether measured dry film readings meet the specification.",
        FilmReadingsTakes,
        FilmReadingsGives,
        film_acceptance,
        "ISO 19840 (80/20 rule), SSPC-PA 2, IMO MSC.215(82) (90/10 rule): every share from memory",
    ),
)
