"""What a drying chart shows, and the same in words."""

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Final, Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

ReadingKind = Literal["value", "low", "high"]
Format = Literal["svg", "png"]

# Within this time from now an hour means something; beyond it a day is as much as a forecast knows.
HOURS_COUNT_WITHIN: Final = timedelta(days=3)


@dataclass(frozen=True)
class ReadingMark:
    """One reading: mc_pct [% of dry mass], or the end of the meter's scale where the wood lies beyond it."""

    at: datetime
    mc_pct: float
    kind: ReadingKind = "value"

    def __post_init__(self) -> None:
        _check_aware("at", self.at)
        _check_mc("mc_pct", self.mc_pct)
        if self.kind not in ("value", "low", "high"):
            raise ValueError(f"kind must be 'value', 'low' or 'high', got {self.kind!r}")


@dataclass(frozen=True)
class CurvePoint:
    """A moment of the fitted curve or the forecast [% of dry mass]: median, and the ends of the 80 % band."""

    at: datetime
    low_pct: float
    median_pct: float
    high_pct: float

    def __post_init__(self) -> None:
        _check_aware("at", self.at)
        for name in ("low_pct", "median_pct", "high_pct"):
            _check_mc(name, getattr(self, name))
        if not self.low_pct <= self.median_pct <= self.high_pct:
            raise ValueError(f"low_pct, median_pct and high_pct must rise, got {self!r}")


@dataclass(frozen=True)
class DryerSpan:
    """Blowers or the like at work: since when, until when (None: still), in words such as "2 blowers"."""

    start_at: datetime
    end_at: datetime | None
    words: str

    def __post_init__(self) -> None:
        _check_aware("start_at", self.start_at)
        if self.end_at is not None:
            _check_aware("end_at", self.end_at)
            if self.end_at < self.start_at:
                raise ValueError(f"end_at must not be before start_at, got {self!r}")


@dataclass(frozen=True)
class DryingChart:
    """What a drying chart shows. Times are aware; time_zone names the shop's clock, on which they are printed.

    curve: rising times; up to `now` it is drawn as fitted, after it as forecast. limit_pct: the close-in limit.
    equilibrium_pct: what the wood comes to in this air. dry_even_at, dry_safe_at: under the limit with even odds
    and with 80 %. All moisture in % of dry mass, 0 to 1000. Raises ValueError for anything else.
    """

    station: str
    readings: tuple[ReadingMark, ...]
    now: datetime
    limit_pct: float
    time_zone: str
    curve: tuple[CurvePoint, ...] = ()
    equilibrium_pct: float | None = None
    dryers: tuple[DryerSpan, ...] = ()
    dry_even_at: datetime | None = None
    dry_safe_at: datetime | None = None

    def __post_init__(self) -> None:
        for name in ("now", "dry_even_at", "dry_safe_at"):
            if getattr(self, name) is not None:
                _check_aware(name, getattr(self, name))
        for name in ("limit_pct", "equilibrium_pct"):
            if getattr(self, name) is not None:
                _check_mc(name, getattr(self, name))
        if any(after.at <= before.at for before, after in pairwise(self.curve)):
            raise ValueError("curve must have rising times")
        try:
            ZoneInfo(self.time_zone)
        except (ZoneInfoNotFoundError, ValueError, OSError) as error:
            raise ValueError(f"time_zone must name a time zone, got {self.time_zone!r}") from error

    @property
    def title(self) -> str:
        return f"Drying of {self.station}"

    def day_words(self, at: datetime) -> str:
        """A day on the shop's clock, with the hour where it is near: Thu, Dec 3, or Thu, Dec 3, 2 PM."""
        local = at.astimezone(ZoneInfo(self.time_zone))
        day = f"{local:%a, %b} {local.day}"
        return f"{day}, {local:%I %p}".replace(", 0", ", ") if abs(at - self.now) <= HOURS_COUNT_WITHIN else day


def chart_words(chart: DryingChart) -> str:
    """The chart in two sentences: first and latest reading; the limit and by when the wood is under it."""
    readings = sorted(chart.readings, key=lambda each: each.at)
    if not readings:
        said = f"{chart.station} has not been read yet."
    elif len(readings) == 1:
        said = f"{chart.station} read {_reading_words(chart, readings[0])}."
    else:
        said = (
            f"{chart.station} first read {_reading_words(chart, readings[0])}, and the latest of "
            f"{len(readings)} readings was {_reading_words(chart, readings[-1])}."
        )
    return f"{said} The close-in limit is {chart.limit_pct:.3g} %; {_dry_words(chart)}."


def _reading_words(chart: DryingChart, reading: ReadingMark) -> str:
    beyond = {"value": "", "low": "under ", "high": "over "}[reading.kind]
    return f"{beyond}{reading.mc_pct:.3g} % on {chart.day_words(reading.at)}"


def _dry_words(chart: DryingChart) -> str:
    even, safe = chart.dry_even_at, chart.dry_safe_at
    said = [f"{chart.day_words(even)} with even odds"] if even else []
    said += [f"{chart.day_words(safe)} with 80 % odds"] if safe else []
    return f"the wood should be under it by {' and '.join(said)}" if said else "there is no date for it yet"


def utc(at: datetime) -> datetime:
    """A time in UTC."""
    # Two times of one zone subtract by the clock on the wall, wrong across a clock change.
    return at.astimezone(UTC)


def _check_aware(name: str, at: datetime) -> None:
    if at.utcoffset() is None:
        raise ValueError(f"{name} must have a time zone, got {at!r}")


def _check_mc(name: str, mc_pct: float) -> None:
    if not 0 <= mc_pct <= 1000:
        raise ValueError(f"{name} must be 0 to 1000, got {mc_pct!r}")
