"""Whether the dates that were said came true: how often coaches were ready by them, and by how many days they missed.

What is scored is what was said at the time, at moments that do not hang on how it ended: booking, arrival, opening up,
and each whole week after arrival. "Half way" or "three days before the end" are known only afterwards; a coach that
runs late would be asked late, and every forecast would look better than it was.
"""

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from scipy.special import betaincinv

EVEN, SAFE = 0.5, 0.8
# How sure the range of a share is.
SURE = 0.95
# What was first said later than this after a moment was not said at it (the record began later, or no plan was made).
MOST_DAYS_AFTER = 3
MOST_WEEKS = 8


@dataclass(frozen=True)
class Said:
    """What was said of a coach on a day. even_on, safe_on: None where no odds could be given; promised_on: the promise
    then in force, None before the first."""

    on: date
    planned_on: date
    even_on: date | None
    safe_on: date | None
    promised_on: date | None


@dataclass(frozen=True)
class Course:
    """One coach: the days it was booked, arrived, was opened up and was ready on, None where that has not happened, and
    what was said of it, oldest first."""

    booked_on: date
    arrived_on: date | None
    opened_on: date | None
    ready_on: date | None
    said: tuple[Said, ...]


@dataclass(frozen=True)
class Share:
    """Of so many coaches whose date is over, so many were ready by it; expected: the share that it was said for."""

    ready: int
    of: int
    expected: float

    @property
    def expected_ready(self) -> float:
        return self.of * self.expected

    @property
    def range(self) -> tuple[float, float]:
        """Between which the shop's true share lies, 19 times in 20."""
        return share_range(self.ready, self.of)

    @property
    def verdict(self) -> str:
        """few: the range cannot tell even odds from four in five. Else fits, early (dates too early) or late."""
        low, high = self.range
        if high < self.expected:
            return "early"
        if low > self.expected:
            return "late"
        others = (SAFE, 1 - SAFE) if self.expected == EVEN else (EVEN,)
        return "few" if any(low <= other <= high for other in others) else "fits"


@dataclass(frozen=True)
class Misses:
    """One kind of date: what its misses cost as a date at even odds and at four in five, and how late the coaches were
    beside it on average, all in days. A cost is None where the kind is not meant for those odds."""

    even_cost_days: float | None
    safe_cost_days: float | None
    mean_late_days: float


@dataclass(frozen=True)
class Scores:
    """The kinds of date side by side, over the same coaches: those that are done and had all four."""

    of: int
    even: Misses
    safe: Misses
    plan: Misses
    promise: Misses


@dataclass(frozen=True)
class Row:
    """One moment. coaches: all of whom something was said then; undated: those of them without odds.

    still_here: coaches past their safe date and not ready, whose misses are not known yet and stand in no cost.
    """

    moment: str
    weeks: int
    coaches: int
    undated: int
    still_here: int
    even: Share
    safe: Share
    scores: Scores | None


def pinball_loss_days(pairs: Iterable[tuple[date, date]], share: float) -> float:
    """Mean pinball loss [days] of dates said for the share of coaches ready by then: (real, said) in, lower is better.

    A day that the coach is late by costs `share`, a day that it is early by 1 - share; the date that really holds for
    that share costs least. Raises ValueError for no pairs, or a share not between 0 and 1.
    Source: Koenker and Bassett 1978 (from memory); checked against printed values, tests/reference/test_backtest.py.
    """
    return pinball_loss([((real - said).days, 0.0) for real, said in pairs], share)


def pinball_loss(pairs: Sequence[tuple[float, float]], share: float) -> float:
    """The same of numbers: (real, said)."""
    if not pairs:
        raise ValueError("pairs must hold at least one real and one said value")
    if not 0 < share < 1:
        raise ValueError(f"share must be between 0 and 1, got {share}")
    return sum(max(share * (real - said), (share - 1) * (real - said)) for real, said in pairs) / len(pairs)


def share_range(hits: int, of: int, sure: float = SURE) -> tuple[float, float]:
    """The exact range of a share: those true shares under which so many hits are no rarer than (1 - sure) / 2.

    (0, 1) for none. Raises ValueError unless 0 <= hits <= of.
    Source: Clopper and Pearson 1934, by quantiles of the beta distribution; checked against another library.
    """
    if not 0 <= hits <= of:
        raise ValueError(f"hits must lie between 0 and {of}, got {hits}")
    tail = (1 - sure) / 2
    low = float(betaincinv(hits, of - hits + 1, tail)) if hits else 0.0
    high = float(betaincinv(hits + 1, of - hits, 1 - tail)) if hits < of else 1.0
    return low, high


def back_test(courses: Sequence[Course], *, today: date) -> tuple[Row, ...]:
    """A row for each moment at which something was said of at least one coach, in the order of a stay."""
    weeks = [(f"week {week}", week, _weeks_after_arrival(week)) for week in range(1, MOST_WEEKS + 1)]
    moments = [("booking", 0, _booking), ("arrival", 0, _arrival), ("opening", 0, _opening), *weeks]
    rows = (_row(moment, week, _said_at(courses, begins), today) for moment, week, begins in moments)
    return tuple(row for row in rows if row.coaches)


# A moment: the first day on which what was said counts as said then, None if the coach has not come so far.
Begins = Callable[[Course], date | None]
Spoken = tuple[Course, Said]


def _booking(course: Course) -> date | None:
    return course.booked_on


def _arrival(course: Course) -> date | None:
    """What is kept of a day is said at its beginning: of what the day brought, the next one knows."""
    return course.arrived_on + timedelta(days=1) if course.arrived_on else None


def _opening(course: Course) -> date | None:
    return course.opened_on + timedelta(days=1) if course.opened_on else None


def _weeks_after_arrival(weeks: int) -> Begins:
    return lambda course: course.arrived_on + timedelta(weeks=weeks) if course.arrived_on else None


def _said_at(courses: Sequence[Course], begins: Begins) -> Iterator[Spoken]:
    """Each coach with what was first said of it from that day on, while it was not ready."""
    for course in courses:
        begin = begins(course)
        if begin is None:
            continue
        until = min(begin + timedelta(days=MOST_DAYS_AFTER), course.ready_on or date.max)
        first = next((said for said in course.said if begin <= said.on <= until), None)
        if first:
            yield course, first


def _row(moment: str, weeks: int, spoken: Iterator[Spoken], today: date) -> Row:
    told = list(spoken)
    return Row(
        moment=moment,
        weeks=weeks,
        coaches=len(told),
        undated=sum(said.safe_on is None for _, said in told),
        still_here=sum(course.ready_on is None and _is_over(said.safe_on, today) for course, said in told),
        even=_share(((course.ready_on, said.even_on) for course, said in told), EVEN, today),
        safe=_share(((course.ready_on, said.safe_on) for course, said in told), SAFE, today),
        scores=_scores(told),
    )


def _share(pairs: Iterable[tuple[date | None, date | None]], expected: float, today: date) -> Share:
    """Over the coaches whose date is over, ready or not: counting each as soon as it is ready would count those that
    are early before those that are late."""
    over = [(real, said) for real, said in pairs if said is not None and said < today]
    return Share(sum(real is not None and real <= said for real, said in over), len(over), expected)


def _is_over(day: date | None, today: date) -> bool:
    return day is not None and day < today


def _scores(told: Sequence[Spoken]) -> Scores | None:
    done = [
        (course.ready_on, said.even_on, said.safe_on, said.planned_on, said.promised_on)
        for course, said in told
        if course.ready_on and said.even_on and said.safe_on and said.promised_on
    ]
    if not done:
        return None
    real, even, safe, plan, promise = zip(*done, strict=True)
    return Scores(
        of=len(done),
        even=_misses(real, even, [EVEN]),
        safe=_misses(real, safe, [SAFE]),
        plan=_misses(real, plan, [EVEN, SAFE]),
        promise=_misses(real, promise, [EVEN, SAFE]),
    )


def _misses(real: Sequence[date], said: Sequence[date], meant_for: Sequence[float]) -> Misses:
    pairs = list(zip(real, said, strict=True))
    return Misses(
        even_cost_days=pinball_loss_days(pairs, EVEN) if EVEN in meant_for else None,
        safe_cost_days=pinball_loss_days(pairs, SAFE) if SAFE in meant_for else None,
        mean_late_days=sum((ready - each).days for ready, each in pairs) / len(pairs),
    )
