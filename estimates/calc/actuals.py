"""Standard hours as the shop's own finished work suggests them, and how far estimates were off.

Nothing here changes a standard: a suggestion is shown, and a person takes it over or leaves it.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median

from estimates.calc.takeoff import labour_hours

# How many finished jobs the catalogue's hours are worth. Planning assumption, no source.
CATALOGUE_JOBS = 6
# A job counts for no more than this many times the middle one, nor less than that part. Common practice, no source.
MOST_TIMES = 2.5
MOST_HOURS = 10_000.0
DECIMALS = 4


@dataclass(frozen=True)
class Standard:
    """Standard hours of an operation for its planned crew [h]: once for setting up, and for each unit.

    Raises ValueError below zero, above MOST_HOURS, or if both are zero.
    """

    setup_hours: float
    hours_per_unit: float

    def __post_init__(self) -> None:
        _check_hours("setup_hours", self.setup_hours)
        _check_hours("hours_per_unit", self.hours_per_unit)
        if self.setup_hours == self.hours_per_unit == 0:
            raise ValueError("setup_hours or hours_per_unit must be above 0, got 0 for both")


@dataclass(frozen=True)
class Finished:
    """One finished operation: how many units, and the hours of all its people together [person-hours, above 0].

    crew: people the standard hours are meant for, 1 or more. is_redo: done again because a check failed; such work
    says nothing of a first run and does not count. Raises ValueError outside those ranges.
    """

    units: float
    person_hours: float
    crew: int = 1
    is_redo: bool = False

    def __post_init__(self) -> None:
        _check_hours("person_hours", self.person_hours)
        if self.person_hours == 0:
            raise ValueError("person_hours must be above 0, got 0")
        if not 0 <= self.units < math.inf:
            raise ValueError(f"units must be at least 0 and finite, got {self.units!r}")
        if self.crew < 1:
            raise ValueError(f"crew must be at least 1, got {self.crew!r}")


@dataclass(frozen=True)
class Suggestion:
    """Hours to consider instead of the standard [h], rounded to four decimals; `was` is the standard itself.

    n: finished jobs behind it. times: by what the standard is multiplied. weight: share of the record in it, 0 to 1.
    held_back: how many jobs were too far out to count in full.
    """

    hours_per_unit: float
    setup_hours: float
    n: int
    was: Standard
    times: float
    weight: float
    held_back: int
    words: str


@dataclass(frozen=True)
class Worked:
    """Estimated and clocked hours of one operation on one job [person-hours, at least 0]."""

    operation: str
    estimated_hours: float
    clocked_hours: float

    def __post_init__(self) -> None:
        _check_hours("estimated_hours", self.estimated_hours)
        _check_hours("clocked_hours", self.clocked_hours)


@dataclass(frozen=True)
class Variance:
    """How far the estimates of an operation were off over n jobs [person-hours]; above zero is over the estimate."""

    operation: str
    n: int
    estimated_hours: float
    clocked_hours: float

    @property
    def over_hours(self) -> float:
        return self.clocked_hours - self.estimated_hours

    @property
    def over_pct(self) -> float | None:
        """Percent of the estimate, None where nothing was estimated."""
        return 100 * self.over_hours / self.estimated_hours if self.estimated_hours else None

    @property
    def words(self) -> str:
        jobs = _jobs(self.n)
        if self.over_pct is None:
            return f"{self.operation}: {self.clocked_hours:.1f} h clocked on {jobs}, none estimated."
        side = "over" if self.over_hours >= 0 else "under"
        return (
            f"{self.operation}: {self.clocked_hours:.1f} h clocked on {jobs} against {self.estimated_hours:.1f} h "
            f"estimated, {abs(self.over_hours):.1f} h ({abs(self.over_pct):.0f} %) {side}."
        )


def suggest(standard: Standard, finished: Sequence[Finished], *, catalogue_jobs: int = CATALOGUE_JOBS) -> Suggestion:
    """Standard hours drawn from the catalogue toward the shop's record.

    Each finished job gives the ratio of its hours to the standard for its size. Ratios further than MOST_TIMES from
    the middle one are held at that distance (winsorised), the middle one being the median of the record and of
    `catalogue_jobs` jobs at the standard, so that one wild job cannot set it while the record is short. Their mean
    then counts by n / (n + catalogue_jobs), the standard by the rest. The mean, not the middle, so that hours add up
    over many jobs. Set-up and pace are multiplied alike: totals of a few jobs do not tell them apart.
    Redone work, and work of a size for which the standard is zero, does not count.
    Raises ValueError if catalogue_jobs is below 1.
    Source: shrinkage by n / (n + k), and winsorising, are textbook methods (from memory); the constants are
    planning assumptions.
    """
    if catalogue_jobs < 1:
        raise ValueError(f"catalogue_jobs must be at least 1, got {catalogue_jobs!r}")
    ratios = _ratios(standard, finished)
    held = _held(ratios, catalogue_jobs)
    times = (catalogue_jobs + math.fsum(held)) / (catalogue_jobs + len(held))
    held_back = sum(ratio != kept for ratio, kept in zip(ratios, held, strict=True))
    per_unit = round(standard.hours_per_unit * times, DECIMALS)
    setup = round(standard.setup_hours * times, DECIMALS)
    return Suggestion(
        hours_per_unit=per_unit,
        setup_hours=setup,
        n=len(ratios),
        was=standard,
        times=times,
        weight=len(held) / (catalogue_jobs + len(held)),
        held_back=held_back,
        words=_words(standard, ratios, held_back, per_unit, setup),
    )


def variances(worked: Sequence[Worked]) -> tuple[Variance, ...]:
    """Estimate against clock for each operation, the most hours over first; the sums are kept."""
    by_name: dict[str, list[Worked]] = {}
    for each in worked:
        by_name.setdefault(each.operation, []).append(each)
    found = [
        Variance(
            name,
            len(rows),
            math.fsum(row.estimated_hours for row in rows),
            math.fsum(row.clocked_hours for row in rows),
        )
        for name, rows in by_name.items()
    ]
    return tuple(sorted(found, key=lambda each: (-each.over_hours, each.operation)))


def _ratios(standard: Standard, finished: Sequence[Finished]) -> list[float]:
    """Clocked over standard person-hours, job by job."""
    expected = [
        (labour_hours(standard.setup_hours, standard.hours_per_unit, job.units) * job.crew, job)
        for job in finished
        if not job.is_redo
    ]
    return [job.person_hours / hours for hours, job in expected if hours > 0]


def _held(ratios: Sequence[float], catalogue_jobs: int) -> list[float]:
    middle = median([1.0] * catalogue_jobs + list(ratios))
    return [min(max(ratio, middle / MOST_TIMES), middle * MOST_TIMES) for ratio in ratios]


def _words(standard: Standard, ratios: Sequence[float], held_back: int, per_unit: float, setup: float) -> str:
    if not ratios:
        return "No finished job on record: the catalogue's hours stand."
    held = f" {_jobs(held_back)} far out {'was' if held_back == 1 else 'were'} held back." if held_back else ""
    parts = [
        f"{new:.4g} h {what} (now {was:.4g})"
        for new, what, was in [
            (per_unit, "per unit", standard.hours_per_unit),
            (setup, "for setting up", standard.setup_hours),
        ]
        if was
    ]
    return (
        f"{_jobs(len(ratios))} took {math.fsum(ratios) / len(ratios):.2f} times the catalogue's hours on average."
        f"{held} Suggested: {' and '.join(parts)}. Nothing changes until you take it over."
    )


def _jobs(number: int) -> str:
    return f"{number} finished job{'' if number == 1 else 's'}"


def _check_hours(name: str, value: float) -> None:
    if not 0 <= value <= MOST_HOURS:
        raise ValueError(f"{name} must be 0 to {MOST_HOURS:g} h, got {value!r}")
