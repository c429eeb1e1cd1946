"""Moist air: pressure by altitude, vapour pressure, humidity ratio, dew point, wet bulb, enthalpy, volume.

Source: ASHRAE Handbook Fundamentals 2017, chapter 1, psychrometrics; saturation by equations 5 (over ice) and 6
(over water), Hyland and Wexler 1983. The numbers of the other equations are from memory; all of it is checked
against the handbook's printed tables and example, and a computed grid, tests/reference/test_psychrometrics.py.
"""

import math
from collections.abc import Callable

from jobs.calc.moisture.ranges import check_range

STANDARD_PRESSURE_PA = 101_325.0
GRAINS_PER_LB = 7000
# Ratio of the molar masses of water and dry air.
MASS_RATIO = 0.621945
ZERO_C_IN_K = 273.15
# Ice to water at the triple point, where the two equations meet: at 0.00 C they are 0.01 % apart.
TRIPLE_POINT_C = 0.01

TEMP_RANGE_C = (-100.0, 200.0)
RH_RANGE_PCT = (0.0, 100.0)
PRESSURE_RANGE_PA = (50_000.0, 120_000.0)
ALTITUDE_RANGE_M = (-500.0, 5500.0)
# No psychrometer is read beyond these; below 0 C the wick freezes, and ice and cold water read differently.
WET_BULB_RANGE_C = (0.0, 60.0)
WET_BULB_TOLERANCE_K = 1e-9
RATIO_RANGE = (0.0, 1.0)

GAS_CONSTANT_DRY_AIR = 287.042  # J/(kg K)
# What 1 kg of dry air, vapour and liquid water take up for each kelvin, and what evaporating at 0 C takes [J].
DRY_AIR_J_PER_KG_K, VAPOUR_J_PER_KG_K, WATER_J_PER_KG_K = 1006.0, 1860.0, 4186.0
EVAPORATION_J_PER_KG = 2_501_000.0

_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def standard_pressure_pa(altitude_m: float) -> float:
    """Pressure of the standard atmosphere [Pa]; altitude_m above the sea, -500 to 5500.

    Weather moves the real pressure some 3 % about it. Raises ValueError if altitude_m is outside.
    Source: ASHRAE Fundamentals 2017, chapter 1, equation 3.
    """
    check_range("altitude_m", altitude_m, ALTITUDE_RANGE_M)
    return STANDARD_PRESSURE_PA * float((1 - 2.25577e-5 * altitude_m) ** 5.2559)


def saturation_pressure_pa(temp_c: float) -> float:
    """Vapour pressure of saturated air [Pa], over ice below 0.01 C, over water from there; temp_c -100 to 200.

    Raises ValueError if temp_c is outside. Source: ASHRAE Fundamentals 2017, chapter 1, equations 5 and 6.
    """
    check_range("temp_c", temp_c, TEMP_RANGE_C)
    return math.exp(_log_saturation_pressure(temp_c))


def vapour_pressure_pa(temp_c: float, rh_pct: float) -> float:
    """Pressure of the water vapour in air [Pa]; temp_c -100 to 200, rh_pct 0 to 100.

    Relative humidity below freezing is taken over ice. Raises ValueError if a number is outside its range.
    """
    check_range("rh_pct", rh_pct, RH_RANGE_PCT)
    return rh_pct / 100 * saturation_pressure_pa(temp_c)


def vapour_pressure_deficit_pa(temp_c: float, rh_pct: float) -> float:
    """What the air lacks to saturation [Pa], the pull on water at its own temperature. Ranges as above."""
    return saturation_pressure_pa(temp_c) - vapour_pressure_pa(temp_c, rh_pct)


def relative_humidity_pct(temp_c: float, vapour_pa: float) -> float:
    """Relative humidity [%] of air at temp_c that holds vapour_pa; above 100 water condenses.

    Raises ValueError if vapour_pa is below 0 or temp_c outside -100 to 200.
    """
    check_range("vapour_pa", vapour_pa, (0.0, PRESSURE_RANGE_PA[1]))
    return 100 * vapour_pa / saturation_pressure_pa(temp_c)


def humidity_ratio(temp_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Mass of water vapour per mass of dry air [kg/kg]; pressure_pa 50 000 to 120 000.

    Ideal gas: ASHRAE's own tables, with the interaction of air and vapour, are 0.4 to 0.6 % higher (-5 to 50 C).
    Raises ValueError if a number is outside its range, or the vapour alone would reach pressure_pa (boiling).
    Source: ASHRAE Fundamentals 2017, chapter 1, equation 20.
    """
    check_range("pressure_pa", pressure_pa, PRESSURE_RANGE_PA)
    vapour_pa = vapour_pressure_pa(temp_c, rh_pct)
    if vapour_pa >= pressure_pa:
        raise ValueError(f"temp_c and rh_pct must give less vapour than pressure_pa {pressure_pa!r}, got {vapour_pa!r}")
    return MASS_RATIO * vapour_pa / (pressure_pa - vapour_pa)


def humidity_ratio_by_wet_bulb(temp_c: float, wet_bulb_c: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Humidity ratio [kg/kg] of air at temp_c in which a wet wick, aired well, stands at wet_bulb_c (0 to 60 C).

    Raises ValueError if a number is outside its range, the wick is warmer than the air, or so much colder that
    even dry air would not cool it so far. Source: ASHRAE Fundamentals 2017, chapter 1, equation 33.
    """
    check_range("temp_c", temp_c, TEMP_RANGE_C)
    check_range("wet_bulb_c", wet_bulb_c, WET_BULB_RANGE_C)
    if wet_bulb_c > temp_c:
        raise ValueError(f"wet_bulb_c must not be above temp_c {temp_c!r}, got {wet_bulb_c!r}")
    ratio = _ratio_by_wet_bulb(temp_c, wet_bulb_c, pressure_pa)
    if ratio < 0:
        raise ValueError(f"wet_bulb_c must be what some air at temp_c {temp_c!r} could cool it to, got {wet_bulb_c!r}")
    return ratio


def relative_humidity_by_wet_bulb_pct(
    temp_c: float, wet_bulb_c: float, pressure_pa: float = STANDARD_PRESSURE_PA
) -> float:
    """Relative humidity [%] of that air, 0 to 100. Arguments and errors as humidity_ratio_by_wet_bulb."""
    ratio = humidity_ratio_by_wet_bulb(temp_c, wet_bulb_c, pressure_pa)
    # A wick as warm as the air means saturated air; the last digit of the sum may stand above 100.
    return min(relative_humidity_pct(temp_c, pressure_pa * ratio / (MASS_RATIO + ratio)), RH_RANGE_PCT[1])


def wet_bulb_c(temp_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Where a wet wick, aired well, stands in this air [C]; temp_c 0 to 60. Solved to 1e-9 K.

    Raises ValueError if a number is outside its range, or the wick would stand below 0 C.
    Source: the inverse of ASHRAE Fundamentals 2017, chapter 1, equation 33.
    """
    check_range("temp_c", temp_c, WET_BULB_RANGE_C)
    wanted = humidity_ratio(temp_c, rh_pct, pressure_pa)
    if rh_pct == RH_RANGE_PCT[1]:
        return float(temp_c)
    coldest_c = WET_BULB_RANGE_C[0]
    if _ratio_by_wet_bulb(temp_c, coldest_c, pressure_pa) > wanted:
        raise ValueError(
            f"temp_c and rh_pct must keep a wet wick at {coldest_c:g} C or above, got {temp_c!r}, {rh_pct!r}"
        )
    return _root(
        lambda guess_c: _ratio_by_wet_bulb(temp_c, guess_c, pressure_pa) - wanted,
        coldest_c,
        temp_c,
        tolerance=WET_BULB_TOLERANCE_K,
    )


def enthalpy_j_per_kg(temp_c: float, ratio: float) -> float:
    """Heat in moist air for each kilogram of its dry air [J/kg], above dry air and liquid water at 0 C.

    ratio: humidity ratio [kg/kg], 0 to 1. Raises ValueError if a number is outside its range.
    Source: ASHRAE Fundamentals 2017, chapter 1, equation 30.
    """
    check_range("temp_c", temp_c, TEMP_RANGE_C)
    check_range("ratio", ratio, RATIO_RANGE)
    return DRY_AIR_J_PER_KG_K * temp_c + ratio * (EVAPORATION_J_PER_KG + VAPOUR_J_PER_KG_K * temp_c)


def volume_m3_per_kg(temp_c: float, ratio: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Volume of moist air for each kilogram of its dry air [m3/kg]; ratio and errors as above.

    Source: ASHRAE Fundamentals 2017, chapter 1, equation 26.
    """
    check_range("temp_c", temp_c, TEMP_RANGE_C)
    check_range("ratio", ratio, RATIO_RANGE)
    check_range("pressure_pa", pressure_pa, PRESSURE_RANGE_PA)
    return GAS_CONSTANT_DRY_AIR * (temp_c + ZERO_C_IN_K) * (1 + ratio / MASS_RATIO) / pressure_pa


def grains_per_lb(temp_c: float, rh_pct: float, pressure_pa: float = STANDARD_PRESSURE_PA) -> float:
    """Humidity ratio in grains of water per pound of dry air (7000 grains to the pound). As humidity_ratio."""
    return GRAINS_PER_LB * humidity_ratio(temp_c, rh_pct, pressure_pa)


def dew_point_c(temp_c: float, rh_pct: float) -> float:
    """Temperature [C] of a surface on which this air begins to leave dew, or below 0.01 C frost.

    Solved from the saturation equations to 1e-9 K. At 100 % it is temp_c itself.
    Raises ValueError if a number is outside its range, or the air is so dry that the answer lies below -100 C.
    """
    vapour_pa = vapour_pressure_pa(temp_c, rh_pct)
    coldest_c = TEMP_RANGE_C[0]
    if vapour_pa < saturation_pressure_pa(coldest_c):
        raise ValueError(f"rh_pct must be high enough for a dew point above {coldest_c:g} C, got {rh_pct!r}")
    if rh_pct == RH_RANGE_PCT[1]:
        return float(temp_c)
    wanted = math.log(vapour_pa)
    # In logarithms the curve is nearly straight, so the search takes few steps.
    return _root(lambda guess_c: _log_saturation_pressure(guess_c) - wanted, coldest_c, temp_c, tolerance=1e-9)


def _root(function: Callable[[float], float], low: float, high: float, *, tolerance: float) -> float:
    from scipy.optimize import brentq  # heavy: nothing else here needs it, and every process reads this file

    return float(brentq(function, low, high, xtol=tolerance))


def _ratio_by_wet_bulb(temp_c: float, wick_c: float, pressure_pa: float) -> float:
    """Equation 33 with its own rounded numbers; below 0 where no air could cool the wick so far."""
    saturated = humidity_ratio(wick_c, RH_RANGE_PCT[1], pressure_pa)
    given_up = (EVAPORATION_J_PER_KG - 2326.0 * wick_c) * saturated - DRY_AIR_J_PER_KG_K * (temp_c - wick_c)
    return given_up / (EVAPORATION_J_PER_KG + VAPOUR_J_PER_KG_K * temp_c - WATER_J_PER_KG_K * wick_c)


def _log_saturation_pressure(temp_c: float) -> float:
    kelvin = temp_c + ZERO_C_IN_K
    inverse, constant, linear, square, cube, fourth, logarithm = _ICE if temp_c < TRIPLE_POINT_C else _WATER
    series = constant + kelvin * (linear + kelvin * (square + kelvin * (cube + kelvin * fourth)))
    return inverse / kelvin + series + logarithm * math.log(kelvin)
