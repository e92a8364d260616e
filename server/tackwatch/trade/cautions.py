"""What can hurt a person, said where the work is, in the person's language.

Rules
-----
* A caution names the harm and the first thing to do about it, and then gives way: the product's
  data sheet, the local codes and licensed practice always govern. Every text ends with that.
* A profile names its cautions by id; an id without a text is refused when a profile is read.
* A language without a text falls back to English, never to silence.

Source
------
US Navy training manual, reinforced plastic repair, safety precautions (catalyst and promoter, dust);
MIL-HDBK-1110 2.3.6 (isocyanate); 29 CFR 1915.35 (spraying in confined spaces); OSHA letter of
4 September 1996 on 29 CFR 1910.146 (10 % of the lower flammable limit). The rest is common
practice, no source.
"""

from collections.abc import Mapping
from typing import Final

from tackwatch.trade.errors import TradeError

FALLBACK: Final = "en"

DEFERENCE: Final[Mapping[str, str]] = {
    "en": "The product's data sheet, local codes and licensed practice govern.",
    "es": "Mandan la ficha técnica del producto, las normas locales y la práctica autorizada.",
}

CAUTIONS: Final[Mapping[str, Mapping[str, str]]] = {
    "pot_heat": {
        "en": "A pot of mixed resin heats itself and can smoke or burn. Mix small, spread it out "
        "soon, and carry a pot that gets hot outside.",
        "es": "La resina mezclada se calienta sola y puede humear o arder. Mezcla poco, extiéndela "
        "pronto y saca afuera el bote que se caliente.",
    },
    "peroxide": {
        "en": "Peroxide catalyst blinds and burns: goggles and gloves. Never let it meet the "
        "promoter undiluted: the mixture can explode. Wipe spills with water, not with rags.",
        "es": "El catalizador de peróxido ciega y quema: gafas y guantes. Nunca lo juntes con el "
        "acelerador sin diluir: la mezcla puede explotar. Limpia con agua, no con trapos.",
    },
    "isocyanate": {
        "en": "Isocyanate can cause asthma for life. Brush or roll only with the respirator that "
        "the sheet names; spray only with supplied air and a permit.",
        "es": "El isocianato puede causar asma de por vida. Brocha o rodillo solo con el "
        "respirador que indica la ficha; a pistola, solo con aire suministrado y permiso.",
    },
    "solvents": {
        "en": "Solvent vapour burns and stupefies. Move the air, keep flames and sparks away, and "
        "stay out of closed spaces that nobody has tested.",
        "es": "El vapor de disolvente arde y aturde. Ventila, aleja llamas y chispas, y no entres "
        "en espacios cerrados que nadie haya medido.",
    },
    "dust": {
        "en": "Sanding dust harms lungs, eyes and skin. Wear mask, goggles and sleeves, and take "
        "the dust away at the tool.",
        "es": "El polvo de lijado daña pulmones, ojos y piel. Usa mascarilla, gafas y mangas, y "
        "aspira el polvo en la herramienta.",
    },
    "biocide_dust": {
        "en": "Antifouling is poison by design. Never sand it dry; wear mask and gloves, and catch "
        "everything that comes off.",
        "es": "La patente es veneno a propósito. Nunca la lijes en seco; usa mascarilla y guantes, "
        "y recoge todo lo que se desprenda.",
    },
    "skin_sensitising": {
        "en": "Uncured resin and hardener can make the skin allergic for good. Gloves; wash with "
        "soap and water, never with solvent.",
        "es": "La resina sin curar y el endurecedor pueden volver alérgica la piel para siempre. "
        "Guantes; lava con agua y jabón, nunca con disolvente.",
    },
    "styrene": {
        "en": "Styrene vapour is heavy, burns, and harms nerves and lungs. Move the air low down "
        "and wear the mask that the sheet names.",
        "es": "El vapor de estireno es pesado, arde y daña nervios y pulmones. Ventila por abajo y "
        "usa la mascarilla que indica la ficha.",
    },
    "heat_stress": {
        "en": "Heat kills. Drink before thirst, rest in the shade, work in pairs. Confused or no "
        "longer sweating: cool the person at once and call for help.",
        "es": "El calor mata. Bebe antes de tener sed, descansa a la sombra, trabaja en pareja. Si "
        "alguien está confuso o ya no suda: enfríalo enseguida y pide ayuda.",
    },
    "spray_mist": {
        "en": "Spray mist reaches the deepest lung and burns in the air. Supplied air in closed "
        "spaces, nobody downwind, no sparks; never point the gun at skin.",
        "es": "La niebla de la pistola llega a lo más hondo del pulmón y arde en el aire. Aire "
        "suministrado en espacios cerrados, nadie a sotavento, sin chispas; nunca apuntes a la "
        "piel.",
    },
    "closed_space": {
        "en": "Tanks, lockers and bilges can hold air that kills in a breath. Have it tested, keep "
        "air moving, and never enter without somebody outside.",
        "es": "Tanques, pañoles y sentinas pueden tener un aire que mata de un respiro. Haz que lo "
        "midan, ventila y nunca entres sin alguien fuera.",
    },
    "heights": {
        "en": "A boat on stands is high and can shift. Tie the ladder, never move a stand, and let "
        "nobody work beneath you.",
        "es": "Un barco en puntales es alto y puede moverse. Amarra la escalera, nunca muevas un "
        "puntal y que nadie trabaje debajo de ti.",
    },
    "warming": {
        "en": "Lamps and heaters set fire to vapour, covers and dust. Never leave them alone, and "
        "let solvent go first.",
        "es": "Lámparas y calefactores prenden vapores, lonas y polvo. Nunca los dejes solos, y "
        "deja que antes se vaya el disolvente.",
    },
    "glass_fibre": {
        "en": "Glass fibre pricks eyes, skin and throat. Goggles, mask, sleeves closed at the wrist.",
        "es": "La fibra de vidrio pincha ojos, piel y garganta. Gafas, mascarilla y mangas cerradas.",
    },
    "power_tools": {
        "en": "Discs burst and blades catch. Guard on, both hands, eyes and ears covered, no water "
        "near the plug.",
        "es": "Los discos revientan y las hojas se traban. Con protector, a dos manos, ojos y oídos "
        "cubiertos, sin agua cerca del enchufe.",
    },
    "rags": {
        "en": "Rags with oil or solvent can take fire by themselves. Spread them flat outside or "
        "drown them in a lidded tin.",
        "es": "Los trapos con aceite o disolvente pueden arder solos. Extiéndelos fuera o ahógalos "
        "en una lata con tapa.",
    },
}


def caution_text(caution_id: str, language: str) -> str:
    """Give the text of a caution, ending with what governs.

    Raises
    ------
    TradeError
        When no caution has that id.

    Source
    ------
    See the head of the module.
    """
    texts = CAUTIONS.get(caution_id)
    if texts is None:
        raise TradeError("cautions", f"there is no caution named {caution_id!r}")
    spoken = language if language in texts else FALLBACK
    return f"{texts[spoken]} {DEFERENCE[spoken]}"
