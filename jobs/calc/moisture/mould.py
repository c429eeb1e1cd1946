"""Mould growth index, 0 (none) to 6 (covered), from hourly temperature and humidity at a surface.

Source: Hukka and Viitanen 1999, Wood Science and Technology 33:475-485; classes of sensitivity as revised in
Viitanen and Ojanen 2007. The curve of critical humidity has the term -3.13 T; one public program prints +3.13,
which is wrong. Checked in tests/reference/test_mould_index.py.

Limits: fitted in the laboratory on clean, sound material of one class; the air at the very surface counts, not
that of the room. It knows no flood, dirt, paint or earlier growth and says nothing about health. What is seen
decides, never the index.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Final

import numpy as np
from numpy.typing import ArrayLike, NDArray

from jobs.calc.moisture.ranges import check_range

TEMP_RANGE_C = (-60.0, 100.0)
RH_RANGE_PCT = (0.0, 100.0)
INDEX_RANGE = (0.0, 6.0)
# Longer steps would hide the change of day and night, and the first stage of decline is six hours.
STEP_RANGE_HOURS = (0.01, 6.0)
GROWTH_TEMPS_C = (0.0, 50.0)

# Decline in index points a day: while dry for up to 6 h, none from 6 to 24 h, then slower again.
EARLY_DECLINE_PER_DAY, EARLY_DECLINE_HOURS = 0.032, 6.0
LATE_DECLINE_PER_DAY, LATE_DECLINE_HOURS = 0.016, 24.0

LIMITS_NOTE = (
    "This is a laboratory model for clean material of one kind. It knows nothing of earlier growth, dirt or hidden "
    "sides, and says nothing about health. What you see decides."
)


class MaterialClass(StrEnum):
    VERY_SENSITIVE = "very sensitive"  # pine sapwood
    SENSITIVE = "sensitive"  # spruce, glued boards, paper facings
    MEDIUM_RESISTANT = "medium resistant"  # mineral wool, concrete
    RESISTANT = "resistant"


@dataclass(frozen=True)
class _Class:
    """k1 below and from index 1; the highest index is a + b x - c x^2; no growth below least_rh_pct."""

    k1_below_1: float
    k1_from_1: float
    a: float
    b: float
    c: float
    least_rh_pct: float


_CLASSES: Final = {
    MaterialClass.VERY_SENSITIVE: _Class(1, 2, 1, 7, 2, 80),
    MaterialClass.SENSITIVE: _Class(0.578, 0.386, 0.3, 6, 1, 80),
    MaterialClass.MEDIUM_RESISTANT: _Class(0.072, 0.097, 0, 5, 1.5, 85),
    MaterialClass.RESISTANT: _Class(0.033, 0.014, 0, 3, 1, 85),
}


def critical_rh_pct(temp_c: float, least_rh_pct: float = 80.0) -> float:
    """Relative humidity [%] from which mould can grow at temp_c [C]; 100 at and below freezing.

    least_rh_pct: floor of the curve, 80 or 85 by class of material, 0 for the bare curve.
    Raises ValueError if temp_c is not -60 to 100 or least_rh_pct not 0 to 100. Source: see module.
    """
    check_range("temp_c", temp_c, TEMP_RANGE_C)
    check_range("least_rh_pct", least_rh_pct, RH_RANGE_PCT)
    return float(_critical_rh_pct(np.array([temp_c]), least_rh_pct)[0])


def weeks_to_first_growth(temp_c: float, rh_pct: float) -> float:
    """Weeks in constant air until the microscope shows growth (index 1) on sawn pine sapwood.

    temp_c above 0 to 50, rh_pct from the critical humidity to 100.
    Raises ValueError if growth cannot begin there. Source: response time of Hukka and Viitanen 1999 for pine,
    resawn surface (their W and SQ both 0).
    """
    if not GROWTH_TEMPS_C[0] < temp_c <= GROWTH_TEMPS_C[1]:
        raise ValueError(f"temp_c must be above 0 to 50, got {temp_c!r}")
    check_range("rh_pct", rh_pct, (critical_rh_pct(temp_c), 100.0))
    return float(_weeks_to_index_1(np.array([temp_c]), np.array([rh_pct]))[0])


def mould_index(
    temps_c: ArrayLike,
    rhs_pct: ArrayLike,
    *,
    material_class: MaterialClass,
    hours_per_step: float = 1.0,
    start: float = 0.0,
) -> NDArray[np.float64]:
    """The index at the end of each step of a log of surface temperature [C] and relative humidity [%].

    temps_c, rhs_pct: equally long, -60 to 100 and 0 to 100. start: index before the first step, 0 to 6.
    hours_per_step: 0.01 to 6; the values count for the whole step, and growth goes with the index at its start.
    A dry spell is counted from the first step if that is dry. Between 0 (excluded) and 50 C and from the
    critical humidity up the index grows, or stands once it has reached what that air can bring about; otherwise
    it falls, at the rate measured on wood. The revised model multiplies that by a coefficient of the material,
    left at 1 here for want of figures; below 1 (from memory) it falls slower, so after a dry spell this errs low.
    Raises ValueError if lengths differ or a number is outside its range. Source: see module.
    """
    temps, rhs = _log("temps_c", temps_c, TEMP_RANGE_C), _log("rhs_pct", rhs_pct, RH_RANGE_PCT)
    if temps.size != rhs.size:
        raise ValueError(f"rhs_pct must be as long as temps_c, {temps.size}, got {rhs.size}")
    check_range("hours_per_step", hours_per_step, STEP_RANGE_HOURS)
    check_range("start", start, INDEX_RANGE)
    kind = _CLASSES[MaterialClass(material_class)]
    critical = _critical_rh_pct(temps, kind.least_rh_pct)
    grows = (temps > GROWTH_TEMPS_C[0]) & (temps <= GROWTH_TEMPS_C[1]) & (rhs >= critical)
    growth = np.zeros(temps.size)
    growth[grows] = hours_per_step / 24 / 7 / _weeks_to_index_1(temps[grows], rhs[grows])
    highest = _highest_index(rhs, critical, kind)
    return _run(start, growth.tolist(), highest.tolist(), _losses(grows, hours_per_step).tolist(), kind)


def risk_note(index: float) -> str:
    """What an index of 0 to 6 means, in plain words with the limits of the model.

    Raises ValueError if index is not 0 to 6. Source of the scale: the model's own description, 1 the first growth
    under a microscope, 3 the first that the eye sees.
    """
    check_range("index", index, INDEX_RANGE)
    if index < 1:
        words = "Going by the air at this spot, no mould growth is expected."
    elif index < 3:
        words = "Going by the air at this spot, mould may have begun that only a microscope shows. Dry it now."
    else:
        words = "Going by the air at this spot, mould may be visible. Look before you close in."
    return f"{words} {LIMITS_NOTE}"


def _run(
    start: float, growth: Sequence[float], highest: Sequence[float], losses: Sequence[float], kind: _Class
) -> NDArray[np.float64]:
    """Each step depends on the one before, so this is the only loop; all else is worked out for all steps at once."""
    index, indices = start, []
    for step_growth, step_highest, loss in zip(growth, highest, losses, strict=True):
        if loss or not step_growth:
            index = max(index - loss, 0.0)
        elif index < step_highest:
            k1 = kind.k1_below_1 if index < 1 else kind.k1_from_1
            index += step_growth * k1 * (1 - math.exp(2.3 * (index - step_highest)))
        indices.append(index)
    return np.array(indices, dtype=np.float64)


def _critical_rh_pct(temps_c: NDArray[np.float64], least_rh_pct: float) -> NDArray[np.float64]:
    curve = ((-0.00267 * temps_c + 0.160) * temps_c - 3.13) * temps_c + 100
    return np.where(temps_c > 0, np.clip(curve, least_rh_pct, 100), 100.0)


def _weeks_to_index_1(temps_c: NDArray[np.float64], rhs_pct: NDArray[np.float64]) -> NDArray[np.float64]:
    return np.asarray(np.exp(-0.68 * np.log(temps_c) - 13.9 * np.log(rhs_pct) + 66.02), dtype=np.float64)


def _highest_index(rhs_pct: NDArray[np.float64], critical: NDArray[np.float64], kind: _Class) -> NDArray[np.float64]:
    # Where the critical humidity is 100 only saturated air counts, and that is the full excess.
    excess = np.divide(critical - rhs_pct, critical - 100, out=np.ones(rhs_pct.size), where=critical < 100)
    return np.maximum(kind.a + kind.b * excess - kind.c * excess**2, 0.0)


def _losses(grows: NDArray[np.bool_], hours_per_step: float) -> NDArray[np.float64]:
    """Index points lost in each step, by how long it has been dry; exact for any length of step."""
    steps = np.arange(grows.size)
    last_growing = np.maximum.accumulate(np.where(grows, steps, -1))
    dry_steps = (steps - last_growing).astype(np.float64)
    return _lost_after(dry_steps * hours_per_step) - _lost_after(np.maximum(dry_steps - 1, 0) * hours_per_step)


def _lost_after(dry_hours: NDArray[np.float64]) -> NDArray[np.float64]:
    early = EARLY_DECLINE_PER_DAY / 24 * np.minimum(dry_hours, EARLY_DECLINE_HOURS)
    return early + LATE_DECLINE_PER_DAY / 24 * np.maximum(dry_hours - LATE_DECLINE_HOURS, 0)


def _log(name: str, values: ArrayLike, allowed: tuple[float, float]) -> NDArray[np.float64]:
    log = np.asarray(values, dtype=np.float64)
    if log.ndim != 1:
        raise ValueError(f"{name} must be one row of numbers, got {log.ndim} dimensions")
    if log.size:
        # The extremes stand for all of them; a NaN comes out of both.
        check_range(name, float(log.min()), allowed)
        check_range(name, float(log.max()), allowed)
    return log
