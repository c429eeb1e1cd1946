"""How wood answers the air around it: one step of drying, and the air as a series of steps.

Moisture content M falls toward the equilibrium E of the air, dM/dt = -k (M - E), with what single-rate fits miss on
measured drying: warm wood dries faster, wet wood dries faster, and above fibre saturation the speed no longer grows,
because the surface cannot be wetter than wet. Panels such as plywood are treated as wood; that is approximate.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from jobs.calc.moisture.drying.inputs import AirSample
from jobs.calc.moisture.wood import emc_pct, require_within

FloatArray = NDArray[np.float64]

REFERENCE_TEMP_C = 20.0
REFERENCE_MC_PCT = 20.0
DAY_H = 24.0
LOOKS_PER_STEP = 4


@dataclass(frozen=True)
class WoodSettings:
    """What is taken for granted about wood, meter and everything the model leaves out.

    Set on reasons before the back-test was run and left alone after it, but for the spread of the air to come (see
    the method page). The published ones are named; the others are planning assumptions without a source.
    """

    # Rate in proportion to saturation vapour pressure to this power. Vapour leaving a surface would be 1; bound water
    # moving in wood has a little less activation energy than evaporation has heat (from memory: 36 to 43 kJ/mol).
    warmth_power: float = 0.85
    # The rate grows by about this share for each point of moisture content (bound water moves more easily in wet wood).
    wetness_per_pct: float = 0.04
    wetness_sd: float = 0.03
    # The wood at hand may sit this much off the equation [points], and wander [points] around that for some hours.
    offset_sd_pct: float = 1.5
    wander_sd_pct: float = 1.5
    # Blowers are moved, sun and wind come and go: the rate wanders by about this share.
    rate_wander_sd: float = 0.3
    wander_h: float = 12.0
    # Wood Handbook ch. 14: average 30 %.
    fibre_saturation_pct: float = 30.0
    # Pin meters are within 2 points mostly (FPInnovations 16773: -2 to +2), taken as two standard deviations; above
    # fibre saturation they are "approximate only" (their manuals), taken as a quarter point more for each point.
    meter_sd_pct: float = 1.0
    meter_sd_above: float = 0.25
    # The air of a coming day differs from the last one's, hour by hour, by this share of that day's own swing: 0.9
    # in the air of the back-test's episodes. At least a point; how long it stays off is a planning assumption.
    air_spread_share: float = 1.0
    air_spread_min_pct: float = 1.0
    air_spread_h: float = 48.0

    def __post_init__(self) -> None:
        require_within("meter_sd_pct", self.meter_sd_pct, 1e-4, 20.0)

    def meter_sd_at(self, mc_pct: float) -> float:
        """Standard deviation of a meter value [points]."""
        return float(np.hypot(self.meter_sd_pct, self.meter_sd_above * max(0.0, mc_pct - self.fibre_saturation_pct)))


@dataclass(frozen=True)
class AirSteps:
    """Consecutive steps of time with the mean of the air in each.

    edges_h: one more than steps [h]. equilibrium_pct: of wood in that air. warmth: factor of the rate, 1 at 20 C.
    is_repeated: beyond the log, so the last logged day stands in.
    """

    edges_h: FloatArray
    equilibrium_pct: FloatArray
    warmth: FloatArray
    is_repeated: NDArray[np.bool_]


class AirLog:
    """The logged air: straight lines between samples, the last day repeated after the log, the first value before."""

    def __init__(self, samples: Sequence[AirSample]) -> None:
        self._at_h = np.array([sample.at_h for sample in samples])
        self._temp_c = np.array([sample.temp_c for sample in samples])
        self._rh_pct = np.array([sample.rh_pct for sample in samples])
        self.end_h = float(self._at_h[-1])
        self._pattern_h = DAY_H if self.end_h - self._at_h[0] >= DAY_H else 0.0

    def at(self, at_h: FloatArray) -> tuple[FloatArray, FloatArray]:
        """Temperature [C] and humidity [%] at any times; with less than a day of log its mean stands for the future."""
        beyond = at_h > self.end_h
        if self._pattern_h:
            at_h = np.where(beyond, self.end_h - DAY_H + np.mod(at_h - self.end_h, DAY_H), at_h)
        temp_c, rh_pct = np.interp(at_h, self._at_h, self._temp_c), np.interp(at_h, self._at_h, self._rh_pct)
        if self._pattern_h:
            return temp_c, rh_pct
        mean_temp_c, mean_rh_pct = self._mean()
        return np.where(beyond, mean_temp_c, temp_c), np.where(beyond, mean_rh_pct, rh_pct)

    def _mean(self) -> tuple[float, float]:
        at_h = np.linspace(self._at_h[0], self.end_h, 25)
        temp_c, rh_pct = np.interp(at_h, self._at_h, self._temp_c), np.interp(at_h, self._at_h, self._rh_pct)
        return float(temp_c.mean()), float(rh_pct.mean())

    def half_hourly(self, from_h: float, until_h: float) -> tuple[FloatArray, FloatArray]:
        """Temperature [C] and humidity [%] between two times, or from the start of the log if that is later."""
        from_h = max(from_h, min(float(self._at_h[0]), until_h))
        return self.at(np.linspace(from_h, until_h, int(2.0 * (until_h - from_h)) + 1))

    def steps(self, edges_h: FloatArray, settings: WoodSettings) -> AirSteps:
        """The air between these times, averaged over a few looks into each step."""
        within = (np.arange(LOOKS_PER_STEP) + 0.5) / LOOKS_PER_STEP
        looks_h = edges_h[:-1, None] + np.diff(edges_h)[:, None] * within
        temp_c, rh_pct = self.at(looks_h)
        warmth = (saturation_pressure_share(temp_c) ** settings.warmth_power).mean(axis=1)
        return AirSteps(edges_h, emc_pct(temp_c, rh_pct).mean(axis=1), warmth, edges_h[1:] > self.end_h + 1e-9)


def saturation_pressure_share(temp_c: FloatArray) -> FloatArray:
    """Saturation vapour pressure over water, over that at 20 C. Magnus form (17.27 and 237.3 C, from memory)."""
    exponent = 17.27 * temp_c / (temp_c + 237.3) - 17.27 * REFERENCE_TEMP_C / (REFERENCE_TEMP_C + 237.3)
    share: FloatArray = np.exp(exponent)
    return share


def dried(
    mc_pct: FloatArray,
    equilibrium_pct: FloatArray,
    rate_per_h: FloatArray,
    span_h: float,
    fibre_saturation_pct: float,
) -> FloatArray:
    """Moisture content after a span of steady air, exactly: straight above fibre saturation, exponential below.

    All in % and 1/h, element by element; equilibrium must lie under fibre saturation. Below fibre saturation it is
    the Lewis (Newton) equation, tests/reference/data/moisture/drying_worked_examples.csv.
    """
    speed_above = rate_per_h * (fibre_saturation_pct - equilibrium_pct)
    above_h = np.minimum(np.maximum((mc_pct - fibre_saturation_pct) / speed_above, 0.0), span_h)
    start = mc_pct - speed_above * above_h
    below: FloatArray = equilibrium_pct + (start - equilibrium_pct) * np.exp(-rate_per_h * (span_h - above_h))
    return below
