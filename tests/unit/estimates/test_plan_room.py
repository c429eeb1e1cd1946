"""How much later each task could end, and what sets the date, against the shop planned anew in the same order."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.plan import Change, PlanJob, Problem, Task, Worker, prepare

pytestmark = pytest.mark.one_database

MONDAY = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
HOUR, DAY = timedelta(hours=1), timedelta(days=1)
SHIFTS = tuple((MONDAY + n * DAY, MONDAY + n * DAY + 8 * HOUR) for n in range(200) if (MONDAY + n * DAY).weekday() < 5)
SHORT_DAYS = tuple((begin + HOUR, end - 3 * HOUR) for begin, end in SHIFTS)
SKILLS = ("body", "skin", "wires")


@st.composite
def shops(draw, *, is_chain=False):
    """Two or three coaches, and the days on which one of the people is away. is_chain: step after step."""
    jobs = tuple(draw(coaches(number, is_chain=is_chain)) for number in range(draw(st.integers(2, 3))))
    return jobs, draw(st.sets(st.integers(1, 9), max_size=2))


def shop_of(shop):
    """Three people, one for each skill, so that nobody else can take work over."""
    jobs, days = shop
    away = tuple((MONDAY + n * DAY, MONDAY + (n + 1) * DAY) for n in days)
    workers = (
        Worker("ann", frozenset({"body"}), away=tuple(sorted(away))),
        Worker("bo", frozenset({"skin"})),
        Worker("cy", frozenset({"wires"}), hours=SHORT_DAYS),
    )
    return Problem(MONDAY, SHIFTS, workers, (), jobs, equipment=(("blower", 2),))


@st.composite
def coaches(draw, number, *, is_chain):
    tasks = []
    for index in range(draw(st.integers(2, 6))):
        after = draw(st.sets(st.sampled_from([task.key for task in tasks]), max_size=2)) if tasks else set()
        before = tuple(sorted(after)) if not is_chain else tuple(task.key for task in tasks[-1:])
        tasks.append(draw(steps(f"t{index}", before)))
    return PlanJob(f"job{number}", 5, MONDAY, tasks=tuple(tasks))


@st.composite
def steps(draw, key, after):
    kind = draw(st.sampled_from(["labour", "labour", "labour", "wait", "event"]))
    if kind == "event":
        hours = draw(st.integers(0, 60))
        if draw(st.booleans()):
            return Task(key, key, kind, timedelta(0), after=after, not_before=MONDAY + hours * HOUR)
        return Task(key, key, kind, timedelta(0), after=after, in_shop_hours=True)
    if kind == "wait":
        held = (("blower", draw(st.integers(1, 2))),) if draw(st.booleans()) else ()
        return Task(key, key, kind, draw(st.integers(1, 40)) * HOUR, after=after, equipment=held)
    one_shift = draw(st.booleans())
    hours = draw(st.integers(1, 4 if one_shift else 10)) * HOUR
    skill = draw(st.sampled_from(SKILLS))
    return Task(key, key, kind, hours, ((skill, 1),), after, in_one_shift=one_shift)


def works_at(asked, task, moment):
    """Whether the one person who can do the task works in the hour that begins at a moment."""
    worker = next(each for each in asked.workers if task.crew[0][0] in each.skills)
    hours = worker.hours or asked.shifts
    is_away = any(begin <= moment < end for begin, end in worker.away)
    return any(begin <= moment < end for begin, end in hours) and not is_away


def start_for(asked, task, end_at):
    """When labour of whole hours starts to be over at a moment, counted back hour by hour."""
    moment, left = end_at, task.duration
    while left:
        moment -= HOUR
        left -= HOUR if works_at(asked, task, moment) else timedelta(0)
    return moment


def delayed(asked, schedule, placed, by):
    """When its coach is ready if a task ends later by so much, planned anew in the order as it stood."""
    task = next(each for job in asked.jobs if job.key == placed.job_key for each in job.tasks if each.key == placed.key)
    key = (placed.job_key, placed.key)
    end_at = placed.end_at + by
    start_at = start_for(asked, task, end_at) if task.kind == "labour" else end_at - task.duration
    same_order = prepare(replace(asked, turns=schedule.turns))
    return same_order.ready(Change(not_before={key: start_at}))


def tasks_of(schedule):
    return [placed for job in schedule.jobs.values() for placed in job.tasks]


COUNTS = settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.too_slow])


@given(shop=shops())
@COUNTS
def test_delayed_by_its_room_no_task_makes_its_coach_later(shop):
    asked = shop_of(shop)
    schedule = prepare(asked).plan()

    for placed in tasks_of(schedule):
        later = delayed(asked, schedule, placed, placed.slack)
        # Sooner it may be: of steps side by side another may go first meanwhile.
        assert later[placed.job_key] <= schedule.jobs[placed.job_key].ready_at, placed


@given(shop=shops(is_chain=True))
@COUNTS
def test_what_sets_the_date_moves_it_when_it_takes_an_hour_longer(shop):
    """In a chain: of steps side by side another may take the gap of one that has grown out of it."""
    asked = shop_of(shop)
    schedule = prepare(asked).plan()
    same_order = prepare(replace(asked, turns=schedule.turns))

    for job in asked.jobs:
        for task in job.tasks:
            if task.key in schedule.jobs[job.key].critical and task.kind != "event":
                longer = same_order.ready(Change(durations={(job.key, task.key): task.duration + HOUR}))
                assert longer[job.key] > schedule.jobs[job.key].ready_at, task


@given(shop=shops())
@COUNTS
def test_what_sets_the_date_has_no_room(shop):
    schedule = prepare(shop_of(shop)).plan()

    for job in schedule.jobs.values():
        placed = {task.key: task for task in job.tasks}
        assert all(placed[key].slack == timedelta(0) for key in job.critical)


def test_an_answer_that_may_come_over_night_does_not_set_the_date_and_the_work_after_it_does():
    answer = Task("answer", "answer", "event", timedelta(0), not_before=MONDAY + 13 * HOUR)
    first = Task("first", "first", "labour", 2 * HOUR, (("body", 1),), ("answer",))
    last = Task("last", "last", "labour", 1 * HOUR, (("skin", 1),), ("first",))
    check = Task("check", "check", "event", timedelta(0), after=("last",), in_shop_hours=True)

    job = prepare(shop_of(((PlanJob("one", 5, MONDAY, tasks=(answer, first, last, check)),), ()))).plan().jobs["one"]

    assert job.critical == ("first", "last", "check")
    assert [task.slack for task in job.tasks] == [11 * HOUR, timedelta(0), timedelta(0), timedelta(0)]


def test_work_that_other_work_follows_on_the_same_person_has_no_room_but_does_not_set_the_date():
    body = (("body", 1),)
    drying = Task("dry", "dry", "wait", 4 * HOUR)
    one = PlanJob("one", 1, MONDAY, tasks=(Task("a", "a", "labour", 2 * HOUR, body), drying))
    two = PlanJob("two", 5, MONDAY, tasks=(Task("b", "b", "labour", 2 * HOUR, body),))

    jobs = prepare(shop_of(((one, two), ()))).plan().jobs

    assert jobs["one"].tasks[0].slack == timedelta(0)
    assert jobs["one"].critical == ("dry",)
    assert jobs["two"].critical == ("b",)
