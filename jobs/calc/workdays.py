"""Working-time sums across nights, weekends, closures and clock changes."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

# A shop that opens on no day within this span has no hours at all.
SEARCH_DAYS = 731

Shift = tuple[datetime, datetime]


@dataclass(frozen=True)
class ShopCalendar:
    """When a shop works: hours by weekday (0 is Monday) in its own time zone, closures inclusive."""

    time_zone: str
    weekly: tuple[tuple[int, time, time], ...]
    closures: tuple[tuple[date, date], ...] = ()

    def local_date(self, at: datetime) -> date:
        """The calendar day at the shop."""
        return at.astimezone(ZoneInfo(self.time_zone)).date()

    def is_workday(self, day: date) -> bool:
        opens = any(weekday == day.weekday() for weekday, _, _ in self.weekly)
        return opens and not any(first <= day <= last for first, last in self.closures)

    def day_shifts(self, day: date) -> list[Shift]:
        """The day's shifts in UTC, so that one across a clock change has its real length."""
        if not self.is_workday(day):
            return []
        zone = ZoneInfo(self.time_zone)
        spans = sorted((opens, closes) for weekday, opens, closes in self.weekly if weekday == day.weekday())
        return [
            (
                datetime.combine(day, opens, tzinfo=zone).astimezone(UTC),
                datetime.combine(day, closes, tzinfo=zone).astimezone(UTC),
            )
            for opens, closes in spans
        ]

    def shifts(self, from_at: datetime, until_at: datetime) -> list[Shift]:
        """The shifts between two aware moments, in UTC, clipped to them."""
        begin, end = from_at.astimezone(UTC), until_at.astimezone(UTC)
        found = []
        for opens, closes in self._from(begin, (end - begin).days + 3):
            if opens >= end:
                break
            if closes > begin:
                found.append((max(opens, begin), min(closes, end)))
        return found

    def working_between(self, start_at: datetime, end_at: datetime) -> timedelta:
        """Working time from start to end; zero when end is not later."""
        if end_at <= start_at:
            return timedelta(0)
        return sum((closes - opens for opens, closes in self.shifts(start_at, end_at)), timedelta(0))

    def next_open(self, at: datetime) -> datetime:
        """The moment itself if the shop is open then, else when it next opens [UTC].

        Raises ValueError if the shop has no hours within two years.
        """
        at = at.astimezone(UTC)
        for opens, closes in self._from(at, SEARCH_DAYS):
            if closes > at:
                return max(opens, at)
        raise ValueError("The shop has no opening hours within two years.")

    def add_working(self, start_at: datetime, amount: timedelta) -> datetime:
        """When `amount` of working time after start is over [UTC]; the start counts from the next open moment.

        Raises ValueError if amount is negative or the shop has too few hours within two years.
        """
        if amount < timedelta(0):
            raise ValueError(f"amount must not be negative, got {amount!r}")
        at = self.next_open(start_at)
        left = amount
        for opens, closes in self._from(at, SEARCH_DAYS):
            if closes <= at:
                continue
            begin = max(opens, at)
            if left <= closes - begin:
                return begin + left
            left -= closes - begin
        raise ValueError(f"The shop has less than {amount} of opening hours within two years.")

    def workdays_between(self, first: date, until: date) -> int:
        """Workdays from `first`, counted, up to `until`, not counted; negative the other way round."""
        if until < first:
            return -self.workdays_between(until, first)
        return sum(self.is_workday(first + timedelta(days=number)) for number in range((until - first).days))

    def _from(self, at: datetime, days: int) -> Iterator[Shift]:
        # A day early: a shift of the shop's yesterday may reach into this UTC day.
        first = self.local_date(at) - timedelta(days=1)
        for number in range(days + 1):
            yield from self.day_shifts(first + timedelta(days=number))
