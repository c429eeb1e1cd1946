"""The plan across clock changes and holidays: waits run on the clock, labour on the shop's hours."""

from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest

from estimates.calc.plan import PlanJob, Problem, Task, Worker, plan
from estimates.calc.plan.checker import violations

ZONE = ZoneInfo("America/Denver")
HOUR = timedelta(hours=1)


def local(day, hour):
    return datetime.combine(day, time(hour), tzinfo=ZONE).astimezone(UTC)


def shifts(first_on, days, closed=()):
    """Eight to five on weekdays, by the clock on the wall."""
    every = (first_on + timedelta(days=number) for number in range(days))
    return tuple((local(day, 8), local(day, 17)) for day in every if day.weekday() < 5 and day not in closed)


def planned(*tasks, now, open_hours):
    asked = Problem(now, open_hours, (Worker("ann", frozenset({"body"})),), (), (PlanJob("job", 1, now, tasks=tasks),))
    schedule = plan(asked)
    assert violations(asked, schedule) == []
    return {task.key: task for task in schedule.jobs["job"].tasks}, schedule.jobs["job"]


# Clocks go forward on 8 March 2026 and back on 1 November 2026, both Sundays, at two in the morning.
@pytest.mark.parametrize(
    ("friday_on", "ends_at_hour"),
    [(date(2026, 3, 6), 17), (date(2026, 10, 30), 15)],
    ids=["an hour lost", "an hour gained"],
)
def test_a_wait_over_a_clock_change_lasts_its_hours_and_not_its_wall_clock(friday_on, ends_at_hour):
    now = local(friday_on, 16)
    wait = Task("dry", "dry", "wait", 72 * HOUR)

    tasks, _ = planned(wait, now=now, open_hours=shifts(friday_on, 10))

    assert tasks["dry"].end_at - tasks["dry"].start_at == 72 * HOUR
    assert tasks["dry"].end_at.astimezone(ZONE).hour == ends_at_hour


@pytest.mark.parametrize("friday_on", [date(2026, 3, 6), date(2026, 10, 30)])
def test_labour_over_a_clock_change_goes_on_at_opening_time_on_the_wall(friday_on):
    now = local(friday_on, 16)
    work = Task("frame", "frame", "labour", 3 * HOUR, (("body", 1),))

    tasks, _ = planned(work, now=now, open_hours=shifts(friday_on, 10))

    assert tasks["frame"].end_at == local(friday_on + timedelta(days=3), 10)


def test_labour_steps_over_a_holiday_and_a_wait_runs_through_it():
    wednesday_on, holiday_on = date(2026, 11, 25), date(2026, 11, 26)
    open_hours = shifts(wednesday_on, 10, closed={holiday_on})
    work = Task("frame", "frame", "labour", 2 * HOUR, (("body", 1),))
    cure = Task("cure", "cure", "wait", 20 * HOUR)

    tasks, whole = planned(work, cure, now=local(wednesday_on, 16), open_hours=open_hours)

    assert tasks["frame"].end_at == local(date(2026, 11, 27), 9)
    assert tasks["cure"].end_at == local(holiday_on, 12)
    assert whole.ready_at == tasks["frame"].end_at


def test_a_coach_is_not_ready_on_a_holiday():
    wednesday_on, holiday_on = date(2026, 11, 25), date(2026, 11, 26)
    cure = Task("cure", "cure", "wait", 20 * HOUR)

    _, whole = planned(cure, now=local(wednesday_on, 16), open_hours=shifts(wednesday_on, 10, closed={holiday_on}))

    assert whole.ready_at == local(date(2026, 11, 27), 8)
