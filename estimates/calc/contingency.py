"""What may hide behind a leak: odds and size of damage nobody can see at intake, from plan and record together.

The odds are a Beta-Binomial, the size is log-normal with a Normal-inverse-gamma prior. Both start from a planning
assumption that counts as a few jobs, and lean on the shop's closed jobs as these grow. Every figure says which it is.
A figure from here is an allowance to talk about, never a price and never an agreed amount.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from scipy.special import stdtrit

from estimates.calc.money import check_usd, check_word, decimal_quantity

SAFE = 0.8
EVEN = 0.5
PLANNED = "planning assumption, no source"

# How many closed jobs a planning assumption is worth. Planning assumptions themselves, no source.
ODDS_JOBS = 8.0
SIZE_JOBS = 4.0
SIZE_SHAPE = 3.0

FACES = {
    "roof": "roof",
    "front": "front wall",
    "rear": "rear wall",
    "road_side": "road side wall",
    "curb_side": "curb side wall",
    "floor": "floor",
}


class Leak(StrEnum):
    """Where the water came in, as far as intake can tell."""

    ROOF_SEAM = "roof_seam"
    ROOF_FITTING = "roof_fitting"
    WINDOW = "window"
    CORNER_TRIM = "corner_trim"
    LIGHT = "light"
    PLUMBING = "plumbing"
    UNKNOWN = "unknown"


LEAK_WORDS = {
    Leak.ROOF_SEAM: "a leak at a roof seam",
    Leak.ROOF_FITTING: "a leak at a roof fitting",
    Leak.WINDOW: "a leak at a window or door",
    Leak.CORNER_TRIM: "a leak at the corner trim",
    Leak.LIGHT: "a leak at a light",
    Leak.PLUMBING: "a plumbing leak",
    Leak.UNKNOWN: "a leak not yet found",
}

# Planning assumptions, no source: share of such coaches with hidden damage, and what it adds [USD] on half of those
# that have some and on four of five. They are there to be replaced by the shop's own.
_PLANNED_ODDS = {
    Leak.ROOF_SEAM: 0.55,
    Leak.ROOF_FITTING: 0.45,
    Leak.WINDOW: 0.5,
    Leak.CORNER_TRIM: 0.6,
    Leak.LIGHT: 0.35,
    Leak.PLUMBING: 0.5,
    Leak.UNKNOWN: 0.6,
}
_PLANNED_SIZE_USD = {
    "roof": (900, 2200),
    "front": (1200, 3000),
    "rear": (900, 2200),
    "road_side": (800, 2000),
    "curb_side": (800, 2000),
    "floor": (700, 1800),
}


@dataclass(frozen=True)
class Planning:
    """What is assumed before the shop has a record.

    odds: above 0 and below 1. p50_usd, p80_usd: added cost where there is damage, 0 < p50 < p80. odds_jobs and
    size_jobs: how many closed jobs the assumption is worth, above 0. Raises ValueError outside those ranges.
    """

    odds: float
    p50_usd: Decimal
    p80_usd: Decimal
    odds_jobs: float = ODDS_JOBS
    size_jobs: float = SIZE_JOBS

    def __post_init__(self) -> None:
        check_usd("p50_usd", self.p50_usd)
        check_usd("p80_usd", self.p80_usd)
        if not 0 < self.odds < 1:
            raise ValueError(f"odds must be above 0 and below 1, got {self.odds!r}")
        if not 0 < self.p50_usd < self.p80_usd:
            raise ValueError(f"p50_usd must be above 0 and below p80_usd {self.p80_usd}, got {self.p50_usd}")
        for name, value in [("odds_jobs", self.odds_jobs), ("size_jobs", self.size_jobs)]:
            if not 0 < value < math.inf:
                raise ValueError(f"{name} must be above 0 and finite, got {value!r}")


@dataclass(frozen=True)
class ClosedJob:
    """A finished job: where the leak was, and what hidden damage added [USD before tax], 0 if there was none."""

    leak: str
    face: str
    added_usd: Decimal

    def __post_init__(self) -> None:
        check_leak_and_face(self.leak, self.face)
        check_usd("added_usd", self.added_usd)


@dataclass(frozen=True)
class Contingency:
    """Odds and size of hidden damage [whole USD before tax].

    odds: 0 to 1. if_found_*: where there is damage. p50_usd, p80_usd: over all such coaches, those without damage
    counted as nothing added. jobs, found_jobs: the closed jobs behind odds and size. *_origin: which it is.
    """

    odds: float
    if_found_p50_usd: Decimal
    if_found_p80_usd: Decimal
    p50_usd: Decimal
    p80_usd: Decimal
    jobs: int
    found_jobs: int
    odds_origin: str
    size_origin: str
    words: str


@dataclass(frozen=True)
class LogSize:
    """What is believed of a size above 0 whose logarithm is normal: Normal-inverse-gamma.

    centre: mean of the log. jobs: how many observations the centre is worth. shape, scale: of the inverse gamma of
    the variance. The size itself has no mean (its log has the tails of a t), so only quantiles are given.
    Source: the conjugate prior of a normal with unknown mean and variance (textbook; from memory),
    checked against worked numbers in tests/reference/data/conjugate_vectors.csv.
    """

    centre: float
    jobs: float
    shape: float
    scale: float

    @classmethod
    def planned(cls, p50: float, p80: float, *, jobs: float = SIZE_JOBS, shape: float = SIZE_SHAPE) -> "LogSize":
        """The belief whose forecast has exactly these P50 and P80 (one unit, 0 < p50 < p80)."""
        spread = math.log(p80 / p50) / float(stdtrit(2 * shape, SAFE))
        return cls(math.log(p50), jobs, shape, spread**2 * shape / (1 + 1 / jobs))

    def updated(self, sizes: Sequence[float]) -> "LogSize":
        """The belief after seeing `sizes` (same unit). Raises ValueError for a size that is not above 0."""
        if wrong := [size for size in sizes if not 0 < size < math.inf]:
            raise ValueError(f"sizes must be above 0 and finite, got {wrong[0]!r}")
        if not sizes:
            return self
        logs = [math.log(size) for size in sizes]
        number, mean = len(logs), math.fsum(logs) / len(logs)
        jobs = self.jobs + number
        within = math.fsum((log - mean) ** 2 for log in logs)
        between = self.jobs * number * (mean - self.centre) ** 2 / jobs
        return LogSize(
            centre=(self.jobs * self.centre + number * mean) / jobs,
            jobs=jobs,
            shape=self.shape + number / 2,
            scale=self.scale + (within + between) / 2,
        )

    def quantile(self, share: float) -> float:
        """The size that the next job stays below with this probability, above 0 and below 1: Student's t of the log."""
        spread = math.sqrt(self.scale / self.shape * (1 + 1 / self.jobs))
        return math.exp(self.centre + spread * float(stdtrit(2 * self.shape, share)))


def planning_for(leak: str, face: str) -> Planning:
    """The planning assumption for a leak and a face; no source, until the shop states its own."""
    check_leak_and_face(leak, face)
    p50, p80 = _PLANNED_SIZE_USD[face]
    return Planning(_PLANNED_ODDS[Leak(leak)], Decimal(p50), Decimal(p80))


def contingency(
    leak: str, face: str, closed_jobs: Sequence[ClosedJob], planning: Planning | None = None
) -> Contingency:
    """What hidden damage to expect behind this kind of leak on this face.

    closed_jobs: the shop's record; only jobs of this leak and face count. planning: the shop's own assumption, else
    planning_for. With no jobs the result is the assumption itself; with many it is the record.
    A record far from the assumption first widens the spread, also downwards: that is doubt, not an error.
    Raises ValueError for an unknown leak or face.
    """
    assumed = planning or planning_for(leak, face)
    check_leak_and_face(leak, face)
    added = [float(job.added_usd) for job in closed_jobs if (job.leak, job.face) == (leak, face)]
    found = [usd for usd in added if usd > 0]
    odds = (assumed.odds * assumed.odds_jobs + len(found)) / (assumed.odds_jobs + len(added))
    planned = LogSize.planned(float(assumed.p50_usd), float(assumed.p80_usd), jobs=assumed.size_jobs)
    size = planned.updated(found)
    figures = [size.quantile(EVEN), size.quantile(SAFE), added_at(EVEN, odds, size), added_at(SAFE, odds, size)]
    if_p50, if_p80, p50, p80 = (decimal_quantity(usd, 0) for usd in figures)
    odds_origin = origin(len(added), assumed.odds_jobs)
    size_origin = origin(len(found), assumed.size_jobs)
    words = (
        f"Behind {LEAK_WORDS[Leak(leak)]} on the {FACES[face]}, about {round(odds * 100)} of 100 coaches hide more "
        f"damage ({odds_origin}). Where there is some, half of them add up to ${if_p50:,} and four of five up to "
        f"${if_p80:,} before tax ({size_origin}). Over all such coaches, {_allowance_words(p80)}."
    )
    return Contingency(odds, if_p50, if_p80, p50, p80, len(added), len(found), odds_origin, size_origin, words)


def added_at(share: float, odds: float, size: LogSize) -> float:
    """What is added at most on this share of all coaches, in the unit of size; 0 where so many add nothing.

    Source: quantile of a mixture of nothing (1 - odds) and the size (odds); pure arithmetic.
    """
    nothing = 1 - odds
    return 0.0 if share <= nothing else size.quantile((share - nothing) / odds)


def origin(jobs: int, worth: float) -> str:
    """Which a figure is: planning, planning moved by a few jobs, or the record once it outweighs the assumption."""
    if jobs == 0:
        return PLANNED
    counted = f"{jobs} closed job{'' if jobs == 1 else 's'}"
    return f"from {counted}" if jobs >= worth else f"{PLANNED}; moved by {counted}"


def check_leak_and_face(leak: str, face: str) -> None:
    """Raises ValueError naming an unknown leak or face."""
    check_word("leak", leak, list(Leak))
    check_word("face", face, list(FACES))


def _allowance_words(p80: Decimal) -> str:
    return f"${p80:,} covers four of five" if p80 else "four of five add nothing"
