"""Working days against NumPy's business-day functions, working time against the wall clock minute by minute.

Sources: numpy.busday_count and numpy.busday_offset (NumPy 2.4); the IANA time zone data as Python's zoneinfo reads it.
"""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.workdays import ShopCalendar

DAYS = st.dates(date(2025, 1, 1), date(2029, 12, 31))
WEEKMASKS = st.lists(st.booleans(), min_size=7, max_size=7).filter(any)
HOLIDAYS = st.lists(DAYS, max_size=20)
# Both clock changes of each zone, from the last full hour before to a time when all is over (local dates).
CHANGES = [
    ("America/Chicago", date(2026, 3, 8), timedelta(hours=1)),
    ("America/Chicago", date(2026, 11, 1), timedelta(hours=-1)),
    ("Europe/Berlin", date(2026, 3, 29), timedelta(hours=1)),
    ("Europe/Berlin", date(2026, 10, 25), timedelta(hours=-1)),
    ("Australia/Lord_Howe", date(2026, 10, 4), timedelta(minutes=30)),
    ("Australia/Lord_Howe", date(2026, 4, 5), timedelta(minutes=-30)),
]
# None of these opens or closes at a time that the clock skips or shows twice.
HOURS = (time(0), time(0, 30)), (time(0, 45), time(3, 10)), (time(4), time(12)), (time(13), time(21, 15))
MINUTE = timedelta(minutes=1)


def calendar_of(weekmask, holidays):
    weekly = tuple((weekday, time(8), time(16)) for weekday, opens in enumerate(weekmask) if opens)
    return ShopCalendar("America/Chicago", weekly, tuple((day, day) for day in holidays))


@given(WEEKMASKS, HOLIDAYS, DAYS, DAYS)
def test_workdays_agree_with_numpys_count_of_business_days(weekmask, holidays, one, other):
    first_on, until_on = sorted([one, other])

    counted = np.busday_count(first_on, until_on, weekmask=weekmask, holidays=holidays)

    assert calendar_of(weekmask, holidays).workdays_between(first_on, until_on) == counted


@given(WEEKMASKS, HOLIDAYS, DAYS, st.integers(0, 60))
def test_whole_days_of_work_end_on_numpys_business_day(weekmask, holidays, start_on, workdays):
    calendar = calendar_of(weekmask, holidays)
    start_at = datetime.combine(start_on, time(8), tzinfo=ZoneInfo("America/Chicago"))

    # A little more than so many 8-hour days: the rest falls on the day that many business days on.
    end_at = calendar.add_working(start_at, workdays * timedelta(hours=8) + MINUTE)

    expected = np.busday_offset(start_on, workdays, roll="forward", weekmask=weekmask, holidays=holidays)
    assert calendar.local_date(end_at) == expected.astype(date)


@pytest.mark.parametrize(("zone", "change_on", "forward"), CHANGES)
def test_the_zone_data_hold_the_clock_change_that_the_test_is_about(zone, change_on, forward):
    before = datetime.combine(change_on, time(0), tzinfo=ZoneInfo(zone))
    after = datetime.combine(change_on, time(12), tzinfo=ZoneInfo(zone))

    assert after.utcoffset() - before.utcoffset() == forward


@pytest.mark.parametrize(("zone", "change_on", "forward"), CHANGES)
def test_working_time_over_a_clock_change_is_what_the_wall_clock_shows_minute_by_minute(zone, change_on, forward):
    calendar = ShopCalendar(zone, tuple((weekday, *span) for weekday in range(7) for span in HOURS))
    begin = datetime.combine(change_on - timedelta(days=1), time(18), tzinfo=ZoneInfo(zone)).astimezone(UTC)
    wall = [(begin + minute * MINUTE).astimezone(ZoneInfo(zone)).time() for minute in range(48 * 60)]

    is_open = [any(opens <= shown < closes for opens, closes in HOURS) for shown in wall]

    shifts = calendar.shifts(begin, begin + timedelta(hours=48))
    worked = [any(opens <= begin + minute * MINUTE < closes for opens, closes in shifts) for minute in range(48 * 60)]
    assert worked == is_open
    assert calendar.working_between(begin, begin + timedelta(hours=48)) == sum(is_open) * MINUTE


@pytest.mark.parametrize(("zone", "change_on", "forward"), CHANGES)
def test_every_amount_added_over_a_clock_change_lands_where_the_wall_clock_says(zone, change_on, forward):
    calendar = ShopCalendar(zone, tuple((weekday, *span) for weekday in range(7) for span in HOURS))
    begin = datetime.combine(change_on, time(0), tzinfo=ZoneInfo(zone)).astimezone(UTC)
    moments = (begin + minute * MINUTE for minute in range(30 * 60))
    open_minutes = [
        moment
        for moment in moments
        if any(opens <= moment.astimezone(ZoneInfo(zone)).time() < closes for opens, closes in HOURS)
    ]

    for number, moment in enumerate(open_minutes[:1200], start=1):
        assert calendar.add_working(begin, number * MINUTE) == moment + MINUTE
