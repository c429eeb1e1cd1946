"""Equilibrium of wood with the air around it."""

from typing import overload

import numpy as np
from numpy.typing import NDArray

FloatArray = NDArray[np.float64]

# What is accepted; the equation was fitted to less.
TEMP_MIN_C, TEMP_MAX_C = -30.0, 80.0
RH_STEP_PCT = 0.5


@overload
def emc_pct(air_temp_c: float, rh_pct: float) -> float: ...
@overload
def emc_pct(air_temp_c: FloatArray, rh_pct: FloatArray) -> FloatArray: ...
def emc_pct(air_temp_c: float | FloatArray, rh_pct: float | FloatArray) -> float | FloatArray:
    """Moisture content at which wood neither dries nor takes up water [% of oven-dry mass].

    air_temp_c: air temperature [C], -30 to 80. rh_pct: relative humidity [%], 0 to 100.
    Floats, or arrays of one shape. Checked from -1 to 54 C (30 to 130 F) and 5 to 90 % RH: there within 0.1 point
    of the printed table. Outside it the equation is carried on, not refused, because the logs of cold shops, hot
    cavities and soaked ones must not stop a forecast: at 60 C it is about 0.4 point too high, and from 95 to 100 %
    RH it climbs from about 24 to 29 %, near fibre saturation, where wood is seldom in equilibrium with real air.
    It holds for solid wood of any species on average; panels, treated wood and wood that dries for the first
    time sit a point or two off.

    Raises ValueError for a temperature or humidity outside the accepted range.
    Source: Wood Handbook FPL-GTR-190 (2010) ch. 4, Celsius constants (Simpson 1973, model of Hailwood and
    Horrobin 1946); checked against Table 4-2, tests/reference/data/moisture/emc_wood_handbook_table.csv.
    """
    temp, rh = np.asarray(air_temp_c, dtype=np.float64), np.asarray(rh_pct, dtype=np.float64)
    require_within("air_temp_c", temp, TEMP_MIN_C, TEMP_MAX_C)
    require_within("rh_pct", rh, 0.0, 100.0)
    molar = 349.0 + 1.29 * temp + 0.0135 * temp**2
    k = 0.805 + 0.000736 * temp - 0.00000273 * temp**2
    k1 = 6.27 - 0.00938 * temp - 0.000303 * temp**2
    k2 = 1.91 + 0.0407 * temp - 0.000293 * temp**2
    kh = k * rh / 100.0
    hydrated = (k1 * kh + 2.0 * k1 * k2 * kh**2) / (1.0 + k1 * kh + k1 * k2 * kh**2)
    emc: FloatArray = 1800.0 / molar * (kh / (1.0 - kh) + hydrated)
    return float(emc) if emc.ndim == 0 else emc


def rh_holding_pct(air_temp_c: float, mc_pct: float) -> float | None:
    """Highest relative humidity, in steps of 0.5 %, at which air holds wood at or below a moisture content [%].

    air_temp_c: air temperature [C], -30 to 80. mc_pct: moisture content [% of oven-dry mass], at least 0.
    None if even saturated air does. The inverse of emc_pct, which rises with humidity. Raises as emc_pct does.
    """
    if not mc_pct >= 0:
        raise ValueError(f"mc_pct must be at least 0, got {mc_pct!r}")
    rh = np.arange(0.0, 100.0 + RH_STEP_PCT, RH_STEP_PCT)
    emc = emc_pct(np.full_like(rh, air_temp_c), rh)
    holding = rh[emc <= mc_pct]
    return None if holding.size == rh.size else float(holding[-1])


def require_within(name: str, values: float | FloatArray, low: float, high: float) -> None:
    """Raise ValueError, naming argument, first bad value and range, unless all values are numbers in low..high."""
    array = np.atleast_1d(np.asarray(values, dtype=np.float64))
    bad = array[~((array >= low) & (array <= high))]
    if bad.size:
        raise ValueError(f"{name} must be {low:g} to {high:g}, got {float(bad[0])!r}")
