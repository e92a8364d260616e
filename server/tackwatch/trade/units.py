"""Units of the tin and the yard turned into the units used inside (SI, degC, minutes).

Theory
------
Every factor here is exact by definition (the inch is 25.4 mm, the pound 0.45359237 kg, the US
gallon 231 cubic inches), so turning there and back loses nothing but rounding.
"""

from typing import Final

KELVIN_AT_0_C: Final = 273.15
UM_PER_MIL: Final = 25.4
KG_PER_LB: Final = 0.45359237
L_PER_US_GAL: Final = 3.785411784
M2_PER_FT2: Final = 0.09290304
S_PER_MINUTE: Final = 60.0
S_PER_HOUR: Final = 3600.0
S_PER_DAY: Final = 86400.0


def c_of_f(temp_f: float) -> float:
    """Give degrees Fahrenheit in degrees Celsius.

    Source
    ------
    NIST SP 811, appendix B.8.
    """
    return (temp_f - 32.0) / 1.8


def f_of_c(temp_c: float) -> float:
    """Give degrees Celsius in degrees Fahrenheit."""
    return temp_c * 1.8 + 32.0


def k_of_f_span(span_f: float) -> float:
    """Give a difference in degrees Fahrenheit in kelvin (5 degF apart is 2.78 K apart)."""
    return span_f / 1.8


def k_of_c(temp_c: float) -> float:
    """Give degrees Celsius in kelvin."""
    return temp_c + KELVIN_AT_0_C


def minutes_of_hours(hours: float) -> float:
    """Give hours in minutes."""
    return hours * 60.0


def minutes_of_days(days: float) -> float:
    """Give days in minutes."""
    return days * 1440.0


def um_of_mil(film_mil: float) -> float:
    """Give thousandths of an inch in micrometres."""
    return film_mil * UM_PER_MIL


def kg_of_lb(mass_lb: float) -> float:
    """Give pounds in kilograms."""
    return mass_lb * KG_PER_LB


def l_of_us_gal(volume_gal: float) -> float:
    """Give US gallons in litres."""
    return volume_gal * L_PER_US_GAL


def m2_of_ft2(area_ft2: float) -> float:
    """Give square feet in square metres."""
    return area_ft2 * M2_PER_FT2
