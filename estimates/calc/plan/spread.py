"""How sure a duration is: distributions of the factor by which the real one differs from the planned."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import betainc, betaincinv, ndtr, ndtri, stdtr, stdtrit

Floats = NDArray[np.float64]

# Quantiles of a three-point spread are read from a table: inverting the beta distribution a million times is slow.
TABLE_POINTS = 2049
# The mean of exp(t) does not exist: the ends of Student's t must be cut somewhere.
STUDENT_ENDS = (0.001, 0.999)


@dataclass(frozen=True)
class ThreePoint:
    """Optimistic, likely and pessimistic factor of the planned duration, as a PERT distribution.

    The beta distribution on [low, high] with shape 4; its mean is (low + 4 likely + high) / 6.
    Source: Malcolm, Roseboom, Clark and Fazar 1959, Operations Research 7 (from memory); mean and variance are
    checked against printed networks, tests/reference/data/forecast/pert_activities.csv.
    """

    low: float
    likely: float
    high: float

    def __post_init__(self) -> None:
        if not 0 <= self.low <= self.likely <= self.high:
            raise ValueError(f"low, likely and high must rise from 0 on, got {self.low}, {self.likely}, {self.high}")

    @property
    def mean(self) -> float:
        return (self.low + 4 * self.likely + self.high) / 6

    @property
    def variance(self) -> float:
        """The classic (high - low)² / 36; the beta distribution's own differs by its skew."""
        return (self.high - self.low) ** 2 / 36

    def at(self, chance: Floats) -> Floats:
        """The factors that these chances (0 to 1) fall to."""
        if self.high == self.low:
            return np.full_like(chance, self.low)
        width = self.high - self.low
        rise = 4 * (self.likely - self.low) / width
        return self.low + width * _between(chance, 0.0, 1.0, _beta_table(1 + rise, 5 - rise))

    def chance_below(self, factor: Floats) -> Floats:
        """The chance of a factor no greater than this."""
        if self.high == self.low:
            return (factor > self.low).astype(np.float64)
        width = self.high - self.low
        rise = 4 * (self.likely - self.low) / width
        chance: Floats = betainc(1 + rise, 5 - rise, np.clip((factor - self.low) / width, 0, 1))
        return chance


@dataclass(frozen=True)
class LogNormal:
    """The factor's median, and the standard deviation of its logarithm."""

    median: float
    sigma: float

    def __post_init__(self) -> None:
        if not self.median > 0 or self.sigma < 0:
            raise ValueError(f"median must be above 0 and sigma not below, got {self.median} and {self.sigma}")

    @property
    def mean(self) -> float:
        return float(self.median * np.exp(self.sigma**2 / 2))

    def at(self, chance: Floats) -> Floats:
        """The factors that these chances (0 to 1) fall to."""
        factors: Floats = self.median * np.exp(self.sigma * ndtri(chance))
        return factors

    def chance_below(self, factor: Floats) -> Floats:
        """The chance of a factor no greater than this."""
        if self.sigma == 0:
            return (factor > self.median).astype(np.float64)
        with np.errstate(divide="ignore"):
            chance: Floats = ndtr(np.log(factor / self.median) / self.sigma)
        return chance


@dataclass(frozen=True)
class LogStudent:
    """As LogNormal, with the wider tails of a short record: Student's t for the logarithm."""

    median: float
    scale: float
    freedom: float

    def __post_init__(self) -> None:
        if not (self.median > 0 and self.scale > 0 and self.freedom > 0):
            raise ValueError(f"all must be above 0, got {self.median}, {self.scale} and {self.freedom}")

    def at(self, chance: Floats) -> Floats:
        """The factors that these chances (0 to 1) fall to; none beyond the thousandth at either end."""
        t = _between(np.clip(chance, *STUDENT_ENDS), *STUDENT_ENDS, _student_table(self.freedom))
        factors: Floats = self.median * np.exp(self.scale * t)
        return factors

    def chance_below(self, factor: Floats) -> Floats:
        """The chance of a factor no greater than this."""
        with np.errstate(divide="ignore"):
            chance = stdtr(self.freedom, np.log(factor / self.median) / self.scale)
        return np.asarray(chance, dtype=np.float64)


Spread = ThreePoint | LogNormal | LogStudent
SURE = LogNormal(1.0, 0.0)


def _between(chance: Floats, low: float, high: float, table: Floats) -> Floats:
    """Read a table of evenly spaced chances, straight between its points: a third of the time of a search in it."""
    place = (chance - low) * ((TABLE_POINTS - 1) / (high - low))
    below = np.minimum(place.astype(np.int32), TABLE_POINTS - 2)
    place -= below
    read: Floats = np.take(np.diff(table), below)
    read *= place
    read += np.take(table, below)
    return read


@lru_cache(maxsize=64)
def _beta_table(alpha: float, beta: float) -> Floats:
    return np.asarray(betaincinv(alpha, beta, np.linspace(0, 1, TABLE_POINTS)), dtype=np.float64)


@lru_cache(maxsize=64)
def _student_table(freedom: float) -> Floats:
    return np.asarray(stdtrit(freedom, np.linspace(*STUDENT_ENDS, TABLE_POINTS)), dtype=np.float64)
