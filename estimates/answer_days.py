"""What “answered on a day” means, everywhere: the answer is here when the shop closes that day."""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from estimates.inputs import Snapshot


def answered_at(snapshot: Snapshot, day: date) -> datetime:
    """When an answer on that day is here: at closing time, on a day without hours by its end; never before now."""
    shifts = snapshot.calendar.day_shifts(day)
    after = datetime.combine(day + timedelta(days=1), time.min, tzinfo=ZoneInfo(snapshot.shop.time_zone))
    return max(snapshot.now, shifts[-1][1] if shifts else after)


def workdays(snapshot: Snapshot, *, until: date) -> Iterator[date]:
    """Days on which the shop is open, from today on; today counts also once it has closed."""
    day = snapshot.today
    while day <= until:
        if snapshot.calendar.day_shifts(day):
            yield day
        day += timedelta(days=1)
