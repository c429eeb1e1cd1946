"""What goes into a drying forecast and what comes out of it."""

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum
from itertools import pairwise
from typing import Literal

import numpy as np

from jobs.calc.moisture.wood import TEMP_MAX_C, TEMP_MIN_C, require_within

MC_MAX_PCT = 200.0


@dataclass(frozen=True)
class AirSample:
    """Air at the station at one time [h, C, % RH]."""

    at_h: float
    temp_c: float
    rh_pct: float


@dataclass(frozen=True)
class MoistureReading:
    """One corrected meter value [% of oven-dry mass].

    range: "low" or "high" if the meter showed no number because the wood lay beyond an end of its range; mc_pct is
    then that end (about 7 % below, 30 to 40 % above).
    """

    at_h: float
    mc_pct: float
    range: Literal["value", "low", "high"] = "value"


@dataclass(frozen=True)
class RatePrior:
    """How fast such a layer dries, before it is read: a log-normal rate at 20 C and 20 % moisture content.

    median_per_h: share of the distance to equilibrium that goes each hour. log_sd: spread of its logarithm.
    origin: in words, for people.
    """

    median_per_h: float
    log_sd: float
    origin: str

    def __post_init__(self) -> None:
        require_within("median_per_h", self.median_per_h, 1e-5, 10.0)
        require_within("log_sd", self.log_sd, 0.0, 3.0)


class Outcome(StrEnum):
    """What the readings say about waiting."""

    DRY = "dry"  # the latest reading is at or under the limit
    DATE = "date"  # drying, and a date can be given
    TOO_FEW = "too_few"  # no reading with a number yet
    NEAR_EQUILIBRIUM = "near_equilibrium"  # this air will not bring the wood under the limit
    RISING = "rising"  # getting wetter by more than the meter's error
    STALLED = "stalled"  # far above equilibrium and not falling, or far too slowly


@dataclass(frozen=True)
class CurvePoint:
    """Moisture content at one time: 10, 50 and 90 % of what it may be [%]."""

    at_h: float
    low_pct: float
    median_pct: float
    high_pct: float


@dataclass(frozen=True)
class DryingForecast:
    """When a station will be under its limit; times in the hours of the readings.

    rate_*: 10, 50 and 90 % of the drying rate at 20 C and 20 % moisture content [1/h].
    dry_even_h, dry_safe_h: even odds and 80 % odds to be under the limit; None without a date. Safe alone is None
    if less than 80 % come under within the horizon. equilibrium_pct: what the air of the last day holds wood at.
    curve: over the readings and on into the forecast, at most 60 points. reason: for a technician.
    """

    outcome: Outcome
    rate_low_per_h: float
    rate_median_per_h: float
    rate_high_per_h: float
    dry_even_h: float | None
    dry_safe_h: float | None
    equilibrium_pct: float
    curve: tuple[CurvePoint, ...]
    reason: str


def require_series(
    readings: Sequence[MoistureReading], air: Sequence[AirSample], now_h: float, limit_pct: float
) -> None:
    """Raise ValueError, naming what is wrong, unless a forecast can be made of these."""
    if not air:
        raise ValueError("air must hold at least 1 sample, got 0")
    _require_rising_times("air", [sample.at_h for sample in air])
    _require_rising_times("readings", [reading.at_h for reading in readings])
    require_within("limit_pct", limit_pct, 1.0, MC_MAX_PCT)
    require_within("temp_c", np.array([sample.temp_c for sample in air]), TEMP_MIN_C, TEMP_MAX_C)
    require_within("rh_pct", np.array([sample.rh_pct for sample in air]), 0.0, 100.0)
    require_within("mc_pct", np.array([reading.mc_pct for reading in readings]), 0.0, MC_MAX_PCT)
    for reading in readings:
        if reading.range not in {"value", "low", "high"}:
            raise ValueError(f"range must be value, low or high, got {reading.range!r}")
    last_h = readings[-1].at_h if readings else float("-inf")
    if not last_h <= now_h < float("inf"):
        raise ValueError(f"now_h must be finite and not before the latest reading at {last_h:g}, got {now_h!r}")


def _require_rising_times(name: str, times_h: Sequence[float]) -> None:
    require_within(f"at_h of {name}", np.array(times_h), -1e7, 1e7)
    for earlier_h, later_h in pairwise(times_h):
        if not earlier_h < later_h:
            raise ValueError(f"at_h of {name} must rise, got {later_h!r} after {earlier_h!r}")
