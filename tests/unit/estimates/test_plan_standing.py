"""The plan of a shop in the middle of its work: coaches that stand in bays, work that runs, work that is done."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.plan import PlanJob, Problem, Task, Worker, plan
from estimates.calc.plan.checker import violations

MONDAY = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)  # opening time of the day
HOUR = timedelta(hours=1)
NOW = MONDAY + 2 * HOUR
DAYS = [MONDAY + timedelta(days=number) for number in range(200)]
SHIFTS = tuple((day, day + 8 * HOUR) for day in DAYS if day.weekday() < 5)
PEOPLE = (
    Worker("ann", frozenset({"body"})),
    Worker("bo", frozenset({"body", "skin"})),
    Worker("cy", frozenset({"skin"}), away=((MONDAY + timedelta(days=1), MONDAY + timedelta(days=2)),)),
)


def labour(key, hours, *after, crew=(("body", 1),), **fields):
    return Task(key, key, "labour", hours * HOUR, crew, after, **fields)


def job(key, *tasks, **fields):
    return PlanJob(key=key, tasks=tasks, **{"priority": 5, "release_at": MONDAY, "bay_choices": ("bay1",)} | fields)


def problem(*jobs, workers=PEOPLE, bays=("bay1",), now=NOW, shifts=SHIFTS):
    return Problem(now, shifts, workers, bays, jobs)


def planned(*jobs, **fields):
    asked = problem(*jobs, **fields)
    schedule = plan(asked)
    assert violations(asked, schedule) == []
    return schedule


def placed(schedule, job_key, key):
    return next(task for task in schedule.jobs[job_key].tasks if task.key == key)


def test_begun_work_outside_does_not_take_the_bay_from_the_coach_that_stands_in_it():
    begun = job(
        "begun",
        labour("strip", 3, started_at=MONDAY, fixed_workers=("ann",)),
        labour("frame", 4, "strip", needs_bay=True),
        priority=1,
    )
    standing = job("standing", labour("close", 20, needs_bay=True), bay="bay1", is_in_bay=True)

    schedule = planned(begun, standing)

    assert schedule.jobs["begun"].bay_from_at >= schedule.jobs["standing"].bay_until_at


def test_bay_work_that_runs_outside_every_bay_asks_for_one_only_for_what_is_to_come():
    standing = job("standing", labour("close", 20, needs_bay=True), bay="bay1", is_in_bay=True)
    running = labour("strip", 5, needs_bay=True, started_at=MONDAY, fixed_workers=("ann",))
    outside = job("outside", running, labour("frame", 1, "strip", needs_bay=True))

    schedule = planned(standing, outside)

    assert placed(schedule, "outside", "strip").end_at == MONDAY + 5 * HOUR
    assert schedule.jobs["outside"].bay_from_at >= schedule.jobs["standing"].bay_until_at


def test_a_coach_whose_bay_work_is_done_leaves_the_bay_to_the_next():
    done = labour("close", 1, needs_bay=True, started_at=MONDAY, finished_at=MONDAY + HOUR)
    standing = job("standing", done, labour("papers", 1), bay="bay1", is_in_bay=True)

    schedule = planned(standing, job("next", labour("open", 2, needs_bay=True)))

    assert schedule.jobs["standing"].bay_until_at == NOW
    assert schedule.jobs["next"].bay_from_at <= NOW + HOUR


def test_somebody_clocked_on_twice_does_one_thing_after_the_other():
    first = labour("a", 4, started_at=MONDAY, fixed_workers=("ann",))
    second = labour("b", 4, started_at=MONDAY, fixed_workers=("ann",))

    schedule = planned(job("one", first, second))

    assert placed(schedule, "one", "a").end_at == NOW + 2 * HOUR
    assert placed(schedule, "one", "b").end_at == NOW + 4 * HOUR


def test_running_work_waits_for_its_people_to_come_back():
    running = labour("a", 4, crew=(("skin", 1),), started_at=MONDAY, fixed_workers=("cy",))
    tuesday = MONDAY + timedelta(days=1)

    schedule = planned(job("one", running), now=tuesday)

    assert placed(schedule, "one", "a").end_at == tuesday + timedelta(days=1) + HOUR / 4


def test_work_ticked_off_without_a_start_counts_as_done():
    schedule = planned(job("one", labour("a", 2, finished_at=MONDAY + HOUR), labour("b", 2, "a")))

    assert placed(schedule, "one", "a").end_at == MONDAY + HOUR
    assert placed(schedule, "one", "b").start_at == NOW


def test_an_answer_that_came_is_not_waited_for():
    answer = Task("answer", "Owner's answer", "event", timedelta(0), not_before=MONDAY, finished_at=MONDAY)

    schedule = planned(job("one", answer, labour("splice", 2, "answer")))

    assert schedule.jobs["one"].blocked_by == "splice"


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (problem(job("one", labour("a", 1, needs_bay=True), bay="bay9")), "bay9, which is not a bay of the shop"),
        (problem(job("one", replace(labour("a", 1), kind="labor"))), "must be one of labour, wait, event"),
        (problem(job("one", labour("a", 1)), shifts=SHIFTS[::-1]), "must be in order"),
        (problem(job("one", labour("a", 1)), shifts=()), "no opening hours"),
    ],
)
def test_a_question_that_makes_no_sense_is_refused_in_words(asked, words):
    with pytest.raises(ValueError, match=words):
        plan(asked)


def test_a_crew_of_two_skills_that_only_one_person_has_is_refused_in_words():
    workers = (Worker("ann", frozenset({"body", "skin"})), Worker("bo", frozenset({"paint"})))
    bond = labour("bond", 2, crew=(("body", 1), ("skin", 1)))

    with pytest.raises(ValueError, match="needs 1 x body, 1 x skin at once"):
        plan(problem(job("one", bond), workers=workers))


@st.composite
def chains(draw):
    """A chain of work of which some is finished and perhaps one piece runs."""
    crews = [(("body", 1),), (("skin", 1),), (("body", 1), ("skin", 1))]
    who = [("ann",), ("cy",), ("ann", "bo"), ("bo",)]
    tasks, done = [], draw(st.integers(0, 2))
    runs = draw(st.booleans())
    for index in range(draw(st.integers(1, 5))):
        hours = draw(st.integers(1, 40)) / 2
        task = Task(
            key=f"t{index}",
            words=f"t{index}",
            kind=draw(st.sampled_from(["labour", "labour", "wait"])),
            duration=hours * HOUR,
            crew=draw(st.sampled_from(crews)),
            after=(f"t{index - 1}",) if index else (),
            in_one_shift=hours <= 8 and draw(st.booleans()),
            needs_bay=draw(st.booleans()),
        )
        if index < done:
            task = replace(task, started_at=MONDAY, finished_at=MONDAY + HOUR / 2)
        elif index == done and runs:
            task = replace(task, started_at=MONDAY + HOUR, fixed_workers=draw(st.sampled_from(who)))
        tasks.append(task)
    return tuple(tasks)


@st.composite
def busy_shops(draw):
    jobs = []
    for number in range(draw(st.integers(1, 5))):
        stands = number < 2 and draw(st.booleans())
        jobs.append(
            job(
                f"j{number}",
                *draw(chains()),
                priority=draw(st.integers(1, 9)),
                bay=f"bay{number + 1}" if stands else draw(st.sampled_from([None, "bay1"])),
                is_in_bay=stands,
                bay_choices=("bay1", "bay2"),
            )
        )
    return problem(*jobs, bays=("bay1", "bay2"))


@settings(max_examples=200, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(busy_shops())
def test_no_plan_of_a_busy_shop_breaks_a_rule_or_depends_on_the_order_of_the_jobs(asked):
    schedule = plan(asked)

    assert violations(asked, schedule) == []
    assert plan(replace(asked, jobs=asked.jobs[::-1])).jobs == schedule.jobs


@settings(max_examples=100, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(busy_shops(), st.integers(1, 40))
def test_work_added_at_the_end_of_the_last_job_in_turn_moves_no_other(asked, hours):
    last = job("last", labour("own", 2), priority=9, release_at=MONDAY + timedelta(days=1))
    more = replace(last, tasks=(*last.tasks, labour("more", hours, "own")))
    without = plan(replace(asked, jobs=(*asked.jobs, last))).jobs

    with_more = plan(replace(asked, jobs=(*asked.jobs, more))).jobs

    for key in without.keys() - {"last"}:
        assert _places(with_more[key]) == _places(without[key])
    assert with_more["last"].ready_at >= without["last"].ready_at + hours * HOUR


def _places(job):
    return job.ready_at, job.stays, [(task.start_at, task.end_at, task.workers) for task in job.tasks]


BUSY = problem(
    job("one", labour("a", 4, started_at=MONDAY, fixed_workers=("ann",)), labour("b", 3, "a", needs_bay=True)),
    job("two", labour("c", 6, needs_bay=True), bay="bay1", is_in_bay=True),
    workers=(PEOPLE[0], replace(PEOPLE[1], away=((MONDAY + timedelta(days=2), MONDAY + timedelta(days=3)),))),
)


@pytest.mark.parametrize(
    ("job_key", "key", "changes", "fault"),
    [
        ("one", "a", {"start_at": MONDAY + HOUR}, "running work was moved"),
        ("one", "a", {"end_at": NOW + HOUR}, "ends before the rest of it is done"),
        ("one", "a", {"workers": ("bo",)}, "changed hands"),
        ("one", "b", {"workers": ()}, "a crew of the wrong size"),
        ("one", "b", {"start_at": NOW + 2 * HOUR, "end_at": NOW + 5 * HOUR}, "bay work outside the stay"),
        ("two", "c", {"start_at": NOW, "end_at": NOW + 6 * HOUR, "workers": ("ann",)}, "ann is on a and c at once"),
        (
            "two",
            "c",
            {"start_at": MONDAY + timedelta(days=2), "end_at": MONDAY + timedelta(days=2) + 6 * HOUR},
            "bo is away during c",
        ),
    ],
)
def test_the_checker_sees_each_broken_rule(job_key, key, changes, fault):
    schedule = plan(BUSY)
    assert violations(BUSY, schedule) == []
    own = schedule.jobs[job_key]
    tasks = tuple(replace(task, **changes) if task.key == key else task for task in own.tasks)
    broken = replace(schedule, jobs={**schedule.jobs, job_key: replace(own, tasks=tasks)})

    assert any(fault in each for each in violations(BUSY, broken))


def test_the_checker_sees_one_person_counted_for_two_skills():
    dee = Worker("dee", frozenset({"paint"}))
    bond = labour("bond", 2, crew=(("body", 1), ("skin", 1)))
    asked = problem(job("one", bond), workers=(*PEOPLE[:2], dee))
    schedule = plan(asked)
    own = schedule.jobs["one"]
    assert own.tasks[0].workers == ("ann", "bo")

    broken = replace(schedule, jobs={"one": replace(own, tasks=(replace(own.tasks[0], workers=("bo", "dee")),))})

    assert violations(asked, broken) == ["one/bond: a crew without the skills"]


def test_the_checker_sees_two_coaches_in_one_bay():
    asked = problem(job("one", labour("a", 2, needs_bay=True)), job("two", labour("b", 2, needs_bay=True)))
    jobs = plan(asked).jobs
    bay, _, until_at = jobs["two"].stays[0]
    early = replace(jobs["two"], stays=((bay, jobs["one"].bay_from_at, until_at),))

    assert violations(asked, replace(plan(asked), jobs={**jobs, "two": early})) == ["one and two stand in bay1 at once"]
