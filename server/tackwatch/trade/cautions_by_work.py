"""Which cautions belong beside a class of product, and beside an action.

Rules
-----
* A profile names its own cautions; these are for the class when there is no profile yet, and for
  what is done with it. Both together are shown, each once, the class first.
* A class that is not known gets the cautions of uncured resin and solvent: the careful side.

Source
------
MIL-HDBK-1110 2.3.6 (isocyanate), 29 CFR 1915.35 (spraying in confined spaces), US Navy training
manual on reinforced plastic repair (dust, catalyst); the rest is common practice, no source.
"""

from collections.abc import Mapping
from typing import Final, Literal, get_args

Action = Literal[
    "mix",
    "brush_or_roll",
    "spray",
    "laminate",
    "sand",
    "grind",
    "wipe_with_solvent",
    "warm_to_cure",
    "work_in_closed_space",
    "work_at_height",
    "work_in_heat",
]
ACTIONS: Final[tuple[Action, ...]] = get_args(Action)

OF_UNKNOWN: Final = ("skin_sensitising", "solvents")
OF_CLASS: Final[Mapping[str, tuple[str, ...]]] = {
    "laminating_epoxy": ("skin_sensitising", "pot_heat", "dust"),
    "epoxy_fillet": ("skin_sensitising", "pot_heat", "dust"),
    "epoxy_barrier_primer": ("skin_sensitising", "solvents", "dust"),
    "polyester_laminating": ("peroxide", "styrene", "pot_heat", "dust"),
    "polyester_waxed": ("peroxide", "styrene", "pot_heat", "dust"),
    "vinylester": ("peroxide", "styrene", "pot_heat", "dust"),
    "gelcoat": ("peroxide", "styrene", "dust"),
    "topcoat_one_part": ("solvents",),
    "topcoat_two_part_pu": ("isocyanate", "solvents"),
    "antifouling_hard": ("biocide_dust", "solvents"),
    "antifouling_self_polishing": ("biocide_dust", "solvents"),
    "sealant": ("isocyanate", "solvents"),
}
OF_ACTION: Final[Mapping[Action, tuple[str, ...]]] = {
    "mix": ("skin_sensitising", "pot_heat"),
    "brush_or_roll": ("solvents",),
    "spray": ("spray_mist", "solvents"),
    "laminate": ("skin_sensitising", "glass_fibre"),
    "sand": ("dust",),
    "grind": ("dust", "glass_fibre", "power_tools"),
    "wipe_with_solvent": ("solvents", "rags"),
    "warm_to_cure": ("warming",),
    "work_in_closed_space": ("closed_space", "solvents"),
    "work_at_height": ("heights",),
    "work_in_heat": ("heat_stress",),
}


def cautions_for(product_class: str | None, action: Action | None) -> tuple[str, ...]:
    """Give the ids of the cautions for a class of product and an action, each once.

    Source
    ------
    See the head of the module.
    """
    of_class = OF_CLASS.get(product_class, OF_UNKNOWN) if product_class is not None else ()
    of_action = OF_ACTION[action] if action is not None else ()
    return tuple(dict.fromkeys((*of_class, *of_action)))
