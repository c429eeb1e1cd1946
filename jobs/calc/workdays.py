"""Working-time sums across nights, weekends, closures and clock changes.

Shop hours are wall-clock times, so they become UTC day by day and a shift that a clock change falls into has the
length it really has. Every moment that comes back is in UTC.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from itertools import count, takewhile
from zoneinfo import ZoneInfo

# A shop that does not open within this span has no hours at all.
SEARCH_DAYS = 731

Shift = tuple[datetime, datetime]


@dataclass(frozen=True)
class ShopCalendar:
    """When a shop works: hours by weekday (0 is Monday) in its own time zone, closures with both days included.

    A weekday may have several spans; those that touch or overlap count as one. A time that the clock skips is taken
    as if the clock had not been changed yet (2:30 becomes 3:30), one that it shows twice is the first of the two.
    Raises ValueError if a weekday is not 0 to 6, a span closes before it opens, or a closure ends before it starts.
    """

    time_zone: str
    weekly: tuple[tuple[int, time, time], ...]
    closures: tuple[tuple[date, date], ...] = ()

    def __post_init__(self) -> None:
        for weekday, opens, closes in self.weekly:
            if weekday not in range(7):
                raise ValueError(f"weekly: the weekday must be 0 to 6, got {weekday!r}")
            if not opens < closes:
                raise ValueError(f"weekly: a span must close after it opens, got {opens} to {closes}")
        for first_on, last_on in self.closures:
            if first_on > last_on:
                raise ValueError(f"closures: the last day must not be before the first, got {first_on} to {last_on}")

    def local_date(self, at: datetime) -> date:
        """The calendar day at the shop."""
        return _utc(at).astimezone(ZoneInfo(self.time_zone)).date()

    def is_workday(self, day: date) -> bool:
        opens = any(weekday == day.weekday() for weekday, _, _ in self.weekly)
        return opens and not any(first_on <= day <= last_on for first_on, last_on in self.closures)

    def workday_from(self, day: date) -> date:
        """The day itself if the shop works then, else the next on which it does.

        Raises ValueError if the shop does not open within two years.
        """
        midnight = datetime.combine(day, time.min, tzinfo=ZoneInfo(self.time_zone))
        return self.local_date(self.next_open(midnight))

    def day_shifts(self, day: date) -> list[Shift]:
        """The shifts of one of the shop's calendar days, in order."""
        if not self.is_workday(day):
            return []
        zone = ZoneInfo(self.time_zone)
        spans = sorted((opens, closes) for weekday, opens, closes in self.weekly if weekday == day.weekday())
        return _joined(
            (
                datetime.combine(day, opens, tzinfo=zone).astimezone(UTC),
                datetime.combine(day, closes, tzinfo=zone).astimezone(UTC),
            )
            for opens, closes in spans
        )

    def closing_of(self, at: datetime) -> datetime:
        """When the shop closes for the day that the moment is of; the moment itself if it is closed by then."""
        return max([_utc(at), *(closes for _, closes in self.day_shifts(self.local_date(at)))])

    def shifts(self, from_at: datetime, until_at: datetime) -> list[Shift]:
        """The shifts between two moments, clipped to them; none when the second is not later."""
        begin, end = _utc(from_at), _utc(until_at)
        last_on = self.local_date(end)
        days = takewhile(lambda day: day <= last_on, self._days_from(begin))
        found = ((max(opens, begin), min(closes, end)) for day in days for opens, closes in self.day_shifts(day))
        return [(opens, closes) for opens, closes in found if opens < closes]

    def working_between(self, start_at: datetime, end_at: datetime) -> timedelta:
        """Working time from start to end; zero when end is not later."""
        return sum((closes - opens for opens, closes in self.shifts(start_at, end_at)), timedelta(0))

    def next_open(self, at: datetime) -> datetime:
        """The moment itself if the shop is open then, else when it next opens.

        Raises ValueError if the shop does not open within two years.
        """
        return next(self._shifts_after(_utc(at)))[0]

    def add_working(self, start_at: datetime, amount: timedelta) -> datetime:
        """When `amount` of working time is over; it starts at the next open moment.

        An amount that just fills a shift is over when the shift closes, not when the next one opens.
        Raises ValueError if amount is negative, or for two years on end the shop does not open.
        """
        if amount < timedelta(0):
            raise ValueError(f"amount must not be negative, got {amount!r}")
        left = amount
        for opens, closes in self._shifts_after(_utc(start_at)):
            if left <= closes - opens:
                return opens + left
            left -= closes - opens
        raise AssertionError("shifts go on until they raise")

    def workdays_between(self, first_on: date, until_on: date) -> int:
        """Workdays from the first day, counted, to the other, not counted; negative the other way round."""
        if until_on < first_on:
            return -self.workdays_between(until_on, first_on)
        return sum(self.is_workday(first_on + timedelta(days=number)) for number in range((until_on - first_on).days))

    def _days_from(self, at: datetime) -> Iterator[date]:
        first_on = self.local_date(at)
        return (first_on + timedelta(days=number) for number in count())

    def _shifts_after(self, at: datetime) -> Iterator[Shift]:
        """The shifts from a moment on, the first cut off there; ValueError after two years without one."""
        days_closed = 0
        for day in self._days_from(at):
            left = [(max(opens, at), closes) for opens, closes in self.day_shifts(day) if closes > at]
            yield from left
            days_closed = 0 if left else days_closed + 1
            if days_closed > SEARCH_DAYS:
                raise ValueError("The shop has no opening hours within two years.")


def _utc(at: datetime) -> datetime:
    # In UTC first: two moments of one zone compare by the wall clock, which goes back once a year.
    if at.tzinfo is None:
        raise ValueError(f"a moment must have a time zone, got {at!r}")
    return at.astimezone(UTC)


def _joined(spans: Iterator[Shift]) -> list[Shift]:
    """The spans with those that touch or overlap made one, so that no minute counts twice."""
    joined: list[Shift] = []
    for opens, closes in spans:
        if opens >= closes:  # it opened at a time that the clock skips, and closed before that moment came
            continue
        if joined and opens <= joined[-1][1]:
            joined[-1] = (joined[-1][0], max(closes, joined[-1][1]))
        else:
            joined.append((opens, closes))
    return joined
