"""The rules beyond people and bays: own hours, overtime, lags, equipment, parking, starts given out; and refusals."""

from dataclasses import replace
from datetime import UTC, datetime, time, timedelta
from zoneinfo import ZoneInfo

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.plan import Change, HorizonTooShort, PlanJob, Problem, Task, Worker, plan, prepare
from estimates.calc.plan.checker import violations

MONDAY = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
SHIFTS = tuple((MONDAY + n * DAY, MONDAY + n * DAY + 8 * HOUR) for n in range(120) if (MONDAY + n * DAY).weekday() < 5)
ANN = Worker("ann", frozenset({"body"}))
LATE_SHIFT = tuple((begin + 4 * HOUR, end + 4 * HOUR) for begin, end in SHIFTS)
CY = Worker("cy", frozenset({"skin", "body"}), hours=LATE_SHIFT)


def labour(key, hours, *after, crew=(("body", 1),), **fields):
    return Task(key, key, "labour", hours * HOUR, crew, after, **fields)


def wait(key, hours, *after, **fields):
    return Task(key, key, "wait", hours * HOUR, (), after, **fields)


def job(key, *tasks, **fields):
    return PlanJob(key=key, tasks=tasks, **{"priority": 5, "release_at": MONDAY, "bay_choices": ("bay1",)} | fields)


def problem(*jobs, workers=(ANN,), now=MONDAY, bays=("bay1",), shifts=SHIFTS, **fields):
    return Problem(now, shifts, workers, bays, jobs, **fields)


def planned(*jobs, **fields):
    asked = problem(*jobs, **fields)
    schedule = plan(asked)
    assert violations(asked, schedule) == []
    return {(key, task.key): task for key, made in schedule.jobs.items() for task in made.tasks}, schedule


def test_somebody_with_hours_of_their_own_works_in_those():
    tasks, _ = planned(job("one", labour("bond", 10, crew=(("skin", 1),))), workers=(ANN, CY))

    assert tasks["one", "bond"].start_at == MONDAY + 4 * HOUR
    assert tasks["one", "bond"].end_at == MONDAY + DAY + 6 * HOUR


def test_a_crew_of_two_shifts_works_while_both_are_there():
    tasks, _ = planned(job("one", labour("lift", 6, crew=(("body", 1), ("skin", 1)))), workers=(ANN, CY))

    assert tasks["one", "lift"].start_at == MONDAY + 4 * HOUR
    assert tasks["one", "lift"].end_at == MONDAY + DAY + 6 * HOUR  # four hours a day together


def test_of_two_who_can_the_one_who_is_done_first_does_it():
    tasks, _ = planned(job("one", labour("a", 6), release_at=MONDAY + 4 * HOUR), workers=(ANN, CY))

    assert tasks["one", "a"].workers == ("cy",)
    assert tasks["one", "a"].end_at == MONDAY + 10 * HOUR


def test_overtime_ends_a_job_sooner_and_is_the_persons_alone():
    saturday = MONDAY + 5 * DAY
    with_overtime = replace(ANN, overtime=((saturday, saturday + 4 * HOUR),))
    long = job("one", labour("a", 44))

    tasks, schedule = planned(long, workers=(with_overtime,))

    assert tasks["one", "a"].end_at == saturday + 4 * HOUR
    # Nobody hands a coach over on a Saturday on which the shop is closed.
    assert schedule.jobs["one"].ready_at == MONDAY + 7 * DAY


def test_a_lag_runs_on_the_clock_from_the_end_of_what_came_before():
    tasks, _ = planned(job("one", labour("seal", 2), labour("test", 1, lags=(("seal", 7 * HOUR),))))

    assert tasks["one", "test"].start_at == MONDAY + DAY
    tasks, _ = planned(job("one", labour("seal", 2), labour("test", 1, lags=(("seal", 3 * HOUR),))))
    assert tasks["one", "test"].start_at == MONDAY + 5 * HOUR


def test_counted_equipment_is_never_used_more_often_than_there_is_of_it():
    jobs = [job(f"j{n}", wait("dry", 20, equipment=(("blower", 2),)), priority=n) for n in (1, 2, 3)]

    tasks, _ = planned(*jobs, equipment=(("blower", 4),))

    starts = sorted(task.start_at for task in tasks.values())
    # Free again in the middle of the night, and carried over when somebody is there.
    assert starts == [MONDAY, MONDAY, MONDAY + DAY]


def test_a_wait_with_equipment_begins_while_somebody_is_there_and_goes_on_whatever_the_hour():
    sealing = job("one", labour("open", 8), wait("dry", 30, "open", equipment=(("blower", 1),)), wait("cure", 9, "dry"))
    again = job("two", wait("flash", 10), wait("dry", 5, "flash", equipment=(("blower", 1),)))

    tasks, schedule = planned(sealing, again, equipment=(("blower", 3),))

    # At closing time somebody is still there; at midnight nobody is.
    assert tasks["one", "dry"].start_at == MONDAY + 8 * HOUR
    assert tasks["one", "cure"].start_at == MONDAY + 38 * HOUR
    assert tasks["two", "dry"].start_at == MONDAY + DAY
    at_night = replace(tasks["two", "dry"], start_at=MONDAY + 10 * HOUR, end_at=MONDAY + 15 * HOUR)
    jobs = {**schedule.jobs, "two": replace(schedule.jobs["two"], tasks=(tasks["two", "flash"], at_night))}
    faults = violations(problem(sealing, again, equipment=(("blower", 3),)), replace(schedule, jobs=jobs))
    assert faults == ["two/dry: begins while nobody is there to set its equipment up"]


def test_what_runs_may_hold_more_than_was_counted_but_nothing_is_given_out_meanwhile():
    begun = [
        job(f"j{n}", wait("dry", 10, equipment=(("blower", 2),), started_at=MONDAY - n * HOUR), priority=n)
        for n in (1, 2, 3)
    ]
    one = job("new", wait("dry", 5, equipment=(("blower", 1),)))
    asked = problem(*begun, one, equipment=(("blower", 4),))

    tasks, schedule = planned(*begun, one, equipment=(("blower", 4),))

    # Six are out until the coach begun three hours ago is dry; then four, all there are, until the next is.
    assert tasks["new", "dry"].start_at == MONDAY + 8 * HOUR
    too_soon = replace(tasks["new", "dry"], start_at=MONDAY, end_at=MONDAY + 5 * HOUR)
    jobs = {**schedule.jobs, "new": replace(schedule.jobs["new"], tasks=(too_soon,))}
    assert any("7 of 4 blower are in use" in fault for fault in violations(asked, replace(schedule, jobs=jobs)))


def test_labour_with_equipment_holds_it_over_night():
    first = job("one", labour("a", 10, equipment=(("lift", 1),)), priority=1)
    second = job("two", wait("b", 1, equipment=(("lift", 1),)))

    tasks, _ = planned(first, second, equipment=(("lift", 1),))

    assert tasks["two", "b"].start_at == MONDAY + DAY + 2 * HOUR


def test_a_coach_that_parks_outside_leaves_the_bay_between_its_bay_work():
    parking = job(
        "parks",
        labour("open", 2, needs_bay=True),
        wait("dry", 48, "open"),
        labour("close", 2, "dry", needs_bay=True),
        priority=1,
    )
    other = job("other", labour("work", 4, needs_bay=True))

    held, _ = planned(parking, other)
    shared, schedule = planned(replace(parking, parks_outside=True), other)

    assert held["other", "work"].start_at > held["parks", "close"].start_at
    assert shared["other", "work"].start_at == MONDAY + 2 * HOUR
    assert len(schedule.jobs["parks"].stays) == 2


def test_a_start_that_was_given_out_keeps_its_time_and_its_people():
    given = labour("given", 2, frozen_at=MONDAY + 3 * HOUR, fixed_workers=("bo",))
    urgent = job("urgent", labour("a", 8), priority=1)
    bo = Worker("bo", frozenset({"body"}))

    tasks, _ = planned(urgent, job("one", given, priority=9), workers=(ANN, bo))

    assert tasks["one", "given"].start_at == MONDAY + 3 * HOUR
    assert tasks["one", "given"].workers == ("bo",)


def test_a_start_that_was_given_out_to_somebody_who_left_goes_to_another():
    given = labour("given", 2, frozen_at=MONDAY + 3 * HOUR, fixed_workers=("gone",))

    tasks, _ = planned(job("one", given))

    assert tasks["one", "given"].workers == ("ann",)


def test_work_that_names_nobody_goes_on_in_the_shops_hours():
    tasks, _ = planned(job("one", labour("a", 10, crew=())))

    assert tasks["one", "a"].end_at == MONDAY + DAY + 2 * HOUR
    assert tasks["one", "a"].workers == ()


def test_running_work_whose_people_left_goes_on_in_the_shops_hours():
    running = labour("a", 10, started_at=MONDAY, fixed_workers=("gone",))

    tasks, _ = planned(job("one", running), now=MONDAY + 4 * HOUR)

    assert tasks["one", "a"].end_at == MONDAY + DAY + 2 * HOUR


def test_a_bay_that_fits_no_coach_but_the_short_is_left_to_the_short():
    short = job("short", labour("a", 4, needs_bay=True), bay_choices=("bay1", "bay2"))
    long = job("long", labour("b", 4, needs_bay=True), bay_choices=("bay2",), priority=1)

    _, schedule = planned(short, long, bays=("bay1", "bay2"))

    assert schedule.jobs["long"].bay == "bay2"
    assert schedule.jobs["short"].bay == "bay1"


def test_slack_is_how_much_later_a_task_could_end():
    tasks, _ = planned(job("one", labour("long", 6), wait("short", 2), labour("both", 1, "long", "short")))

    assert tasks["one", "long"].slack == timedelta(0)
    assert tasks["one", "short"].slack == 4 * HOUR


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (problem(job("one", wait("dry", 5, equipment=(("fan", 3),))), equipment=(("fan", 2),)), "needs 3 x fan"),
        (problem(job("one", wait("dry", 5, lags=(("dry", HOUR),)))), "in a circle: “dry”"),
        (problem(job("one", wait("dry", 5, lags=(("ghost", HOUR),)))), "ghost, which is not in the job"),
        (problem(job("one", labour("a", 1), labour("b", 1, lags=(("a", -HOUR),)))), "negative lag"),
        (problem(job("one", labour("a", 1, chance=1.5))), "chance of 1.5"),
        (problem(job("one"), job("one")), "two jobs of the name one"),
        (problem(job("one", labour("a", 5, crew=(("skin", 1), ("body", 1)), in_one_shift=True)), workers=(ANN, CY)),
         "“a” of one must be done in one shift and takes 5 h, but no shift of those who can do it is longer than 4 h"),
        (problem(job("one"), workers=(replace(ANN, hours=SHIFTS[::-1]),)), "The hours of ann must be in order"),
    ],
)  # fmt: skip
def test_what_can_never_be_planned_is_refused_in_words(asked, words):
    with pytest.raises(ValueError, match=words):
        plan(asked)


def test_a_person_who_never_comes_back_is_named_by_the_work_that_waits_for_them():
    for_ever = replace(ANN, away=((MONDAY, MONDAY + 10_000 * DAY),))

    with pytest.raises(HorizonTooShort, match="“a” of one cannot end by 2026-06-29"):
        plan(problem(job("one", labour("a", 1)), workers=(for_ever,)))


ZONE = ZoneInfo("America/Denver")


def wall(day, hour):
    return datetime.combine(day, time(hour), tzinfo=ZONE).astimezone(UTC)


@st.composite
def shops(draw):
    """Shops with everything at once, over one of the two clock changes of 2026."""
    first_on = draw(st.sampled_from([datetime(2026, 3, 5), datetime(2026, 10, 29)])).date()  # noqa: DTZ001
    days = [first_on + n * DAY for n in range(150)]
    shifts = tuple((wall(day, 8), wall(day, 16)) for day in days if day.weekday() < 5)
    late = tuple((wall(day, 12), wall(day, 20)) for day in days if day.weekday() < 5)
    saturday = next(day for day in days if day.weekday() == 5)
    now = wall(first_on, 8)
    workers = (
        Worker("ann", frozenset({"body"}), overtime=((wall(saturday, 8), wall(saturday, 12)),)),
        Worker("bo", frozenset({"body", "skin"}), away=((wall(days[4], 0), wall(days[6], 0)),)),
        Worker("cy", frozenset({"skin"}), hours=late),
    )
    jobs = tuple(draw(coaches(f"j{number}", now)) for number in range(draw(st.integers(1, 4))))
    return Problem(now, shifts, workers, ("bay1", "bay2"), jobs, equipment=(("blower", 2),))


@st.composite
def coaches(draw, key, now):
    crews = [(("body", 1),), (("skin", 1),), (("body", 1), ("skin", 1)), (("skin", 2),)]
    tasks = []
    for index in range(draw(st.integers(1, 6))):
        is_wait = draw(st.booleans())
        hours = draw(st.integers(1, 30)) / 2
        before = [f"t{each}" for each in range(index) if draw(st.booleans())]
        lags = ((before.pop(), draw(st.integers(0, 9)) * HOUR),) if before and draw(st.booleans()) else ()
        # Both together are at work for four hours of a day.
        crew = () if is_wait else draw(st.sampled_from(crews))
        is_short = hours <= (4 if sum(people for _, people in crew) > 1 else 8)
        tasks.append(
            Task(
                f"t{index}",
                f"t{index}",
                "wait" if is_wait else "labour",
                hours * HOUR,
                crew,
                tuple(before),
                lags=lags,
                needs_bay=draw(st.booleans()),
                in_one_shift=not is_wait and is_short and draw(st.booleans()),
                equipment=(("blower", draw(st.integers(1, 2))),) if draw(st.booleans()) else (),
                part=draw(st.sampled_from(["", "finding"])),
                until=now + draw(st.integers(0, 90)) * HOUR if is_wait and draw(st.booleans()) else None,
            )
        )
    return PlanJob(
        key,
        draw(st.integers(1, 9)),
        now + draw(st.integers(0, 60)) * HOUR,
        bay_choices=draw(st.sampled_from([("bay1",), ("bay2", "bay1")])),
        tasks=tuple(tasks),
        parks_outside=draw(st.booleans()),
    )


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(shops())
def test_no_plan_breaks_a_rule_with_and_without_the_findings(asked):
    prepared = prepare(asked)

    assert violations(asked, prepared.plan()) == []
    without = frozenset({"finding"})
    assert violations(asked, prepared.plan(Change(left_out=without)), without) == []


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(shops())
def test_waits_cross_nights_and_one_shift_work_crosses_no_shifts_end(asked):
    schedule = plan(asked)

    tasks = {(each.key, task.key): task for each in asked.jobs for task in each.tasks}
    for made in schedule.jobs.values():
        for placed in made.tasks:
            task = tasks[made.key, placed.key]
            if task.kind == "wait":
                assert placed.end_at == max(placed.start_at + task.duration, task.until or placed.start_at)
            if task.in_one_shift and task.duration:
                local = placed.start_at.astimezone(ZONE), placed.end_at.astimezone(ZONE)
                assert local[0].date() == local[1].date()


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(shops(), st.integers(1, 30), st.data())
def test_without_shared_means_more_work_never_makes_a_coach_ready_sooner(asked, hours, data):
    """The honest form of "more work, no earlier": for one coach by itself, whose work takes turns in one fixed chain.

    With people, bays or equipment shared between tasks, serial plans have anomalies (Graham 1966, for lists): a longer
    task may push another out of a gap, and what follows fits better. In a chain every start is the end before it, moved
    to the next moment the crew is there, and that is monotone in every duration.
    """
    one = replace(asked.jobs[0], parks_outside=False)
    tasks = tuple(
        replace(task, after=(f"t{n - 1}",) if n else (), lags=(), part="") for n, task in enumerate(one.tasks)
    )
    chosen = data.draw(st.integers(0, len(tasks) - 1))
    more = tuple(
        replace(task, duration=task.duration + hours * HOUR, in_one_shift=False) if n == chosen else task
        for n, task in enumerate(tasks)
    )
    less = tuple(replace(task, in_one_shift=False) if n == chosen else task for n, task in enumerate(tasks))

    before, after = (plan(replace(asked, jobs=(replace(one, tasks=each),))).jobs[one.key] for each in (less, more))

    assert after.ready_at >= before.ready_at
