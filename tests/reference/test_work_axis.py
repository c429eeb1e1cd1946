"""The plan's working-time axis against the shop calendar's sums, which are checked against numpy's business days."""

from datetime import UTC, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from estimates.calc.plan.calendars import moment, seconds
from estimates.calc.plan.clock import end_clock, start_clock, to_u
from estimates.calc.plan.engine import prepare
from estimates.calc.plan.model import Problem
from jobs.calc.workdays import ShopCalendar

WEEKLY = tuple((day, *span) for day in range(5) for span in ((time(7), time(12)), (time(12, 30), time(16, 30))))
# From two weeks before to six weeks after each clock change of 2026.
SPANS = [
    ("America/Chicago", datetime(2026, 2, 22, tzinfo=UTC)),
    ("America/Chicago", datetime(2026, 10, 18, tzinfo=UTC)),
    ("Europe/Berlin", datetime(2026, 3, 15, tzinfo=UTC)),
    ("Australia/Lord_Howe", datetime(2026, 9, 20, tzinfo=UTC)),
]


@pytest.mark.parametrize(("zone", "begin"), SPANS, ids=[f"{zone} {begin:%B}" for zone, begin in SPANS])
@settings(max_examples=60, deadline=None)
@given(start_minutes=st.integers(0, 25 * 1440), work_minutes=st.integers(1, 60 * 60))
def test_the_axis_and_the_calendar_agree_across_clock_changes(zone, begin, start_minutes, work_minutes):
    closed = (begin + timedelta(days=9)).date()
    calendar = ShopCalendar(zone, WEEKLY, ((closed, closed),))
    shifts = tuple(calendar.shifts(begin, begin + timedelta(days=60)))
    shop = prepare(Problem(begin, shifts, (), (), ())).arena
    start_at, amount = begin + timedelta(minutes=start_minutes), timedelta(minutes=work_minutes)

    work = to_u(shop, seconds(start_at))
    end_at = moment(end_clock(shop, work + work_minutes * 60))

    assert moment(start_clock(shop, work)) == calendar.next_open(start_at)
    assert end_at == calendar.add_working(start_at, amount)
    assert calendar.working_between(start_at, end_at) == amount
