"""Moist air: vapour pressure, humidity ratio, dew point.

Source: ASHRAE Handbook Fundamentals 2017, chapter 1, psychrometrics; saturation by equations 5 (over ice) and 6
(over water), Hyland and Wexler 1983. Checked against its tables and a computed grid,
tests/reference/test_psychrometrics.py.
"""

import math

from scipy.optimize import brentq

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

_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


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
    return float(brentq(lambda guess_c: _log_saturation_pressure(guess_c) - wanted, coldest_c, temp_c, xtol=1e-9))


def _log_saturation_pressure(temp_c: float) -> float:
    kelvin = temp_c + ZERO_C_IN_K
    inverse, constant, linear, square, cube, fourth, logarithm = _ICE if temp_c < TRIPLE_POINT_C else _WATER
    series = constant + kelvin * (linear + kelvin * (square + kelvin * (cube + kelvin * fourth)))
    return inverse / kelvin + series + logarithm * math.log(kelvin)
