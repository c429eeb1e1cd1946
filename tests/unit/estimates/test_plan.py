"""The plan of the shop: people, bays, shifts, waits, and what must come first."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.plan import HorizonTooShort, PlanJob, Problem, Task, Worker, plan
from estimates.calc.plan.checker import violations

MONDAY = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)  # opening time of the day
HOUR = timedelta(hours=1)


def shifts(days=120, hours=8):
    begins = (MONDAY + timedelta(days=number) for number in range(days))
    return tuple((begin, begin + hours * HOUR) for begin in begins if begin.weekday() < 5)


def labour(key, hours, *after, skill="body", people=1, **fields):
    return Task(key, key, "labour", hours * HOUR, ((skill, people),), after, **fields)


def wait(key, hours, *after, **fields):
    return Task(key, key, "wait", hours * HOUR, (), after, **fields)


def job(*tasks, key="job", **fields):
    given_fields = {"priority": 5, "release_at": MONDAY, "bay_choices": ("bay1",)} | fields
    return PlanJob(key=key, tasks=tasks, **given_fields)


SHIFTS = shifts()


def problem(*jobs, workers=(("ann", "body"),), now=MONDAY, bays=("bay1",), shifts=SHIFTS):
    people = tuple(Worker(name, frozenset(skills.split())) for name, skills in workers)
    return Problem(now, shifts, people, bays, jobs)


def planned(*jobs, **fields):
    asked = problem(*jobs, **fields)
    schedule = plan(asked)
    assert violations(asked, schedule) == []
    return schedule


def placed(schedule, key, job_key="job"):
    return next(task for task in schedule.jobs[job_key].tasks if task.key == key)


def test_labour_pauses_over_night():
    schedule = planned(job(labour("frame", 10)))

    assert placed(schedule, "frame").end_at == MONDAY + timedelta(days=1) + 2 * HOUR


def test_a_wait_ends_when_the_wood_is_dry_however_late_it_begins():
    dry_at = MONDAY + 50 * HOUR
    schedule = planned(job(labour("open", 4), wait("dry", 0.25, "open", until=dry_at), labour("close", 2, "dry")))

    assert placed(schedule, "dry").start_at == MONDAY + 4 * HOUR
    assert placed(schedule, "dry").end_at == dry_at
    assert schedule.jobs["job"].critical == ("dry", "close")
    assert placed(schedule, "open").slack > timedelta(hours=20)


def test_a_wait_for_wood_that_is_dry_by_then_is_a_look():
    schedule = planned(job(labour("open", 12), wait("dry", 0.25, "open", until=MONDAY + HOUR)))

    assert placed(schedule, "dry").end_at == placed(schedule, "open").end_at + HOUR / 4


def test_labour_pauses_over_the_weekend():
    friday = MONDAY + timedelta(days=4)
    schedule = planned(job(labour("frame", 10), release_at=friday), now=friday)

    assert schedule.jobs["job"].ready_at == friday + timedelta(days=3) + 2 * HOUR


def test_a_wait_runs_on_through_night_and_weekend():
    friday_noon = MONDAY + timedelta(days=4) + 4 * HOUR
    schedule = planned(job(wait("dry", 60), labour("close", 1, "dry")), now=friday_noon)

    assert placed(schedule, "dry").end_at == friday_noon + 60 * HOUR
    assert placed(schedule, "close").start_at == MONDAY + timedelta(days=7)


def test_a_wait_that_ends_at_night_is_ready_when_the_shop_opens():
    schedule = planned(job(wait("cure", 12)))

    assert schedule.jobs["job"].ready_at == MONDAY + timedelta(days=1)


def test_one_shift_work_waits_for_a_shift_that_holds_it():
    schedule = planned(job(labour("open", 5), labour("bond", 4, "open", in_one_shift=True)))

    assert placed(schedule, "bond").start_at == MONDAY + timedelta(days=1)


def test_a_midday_break_does_not_end_a_shift():
    noon = MONDAY + 4 * HOUR
    day = ((MONDAY, noon), (noon + HOUR / 2, noon + 5 * HOUR))
    schedule = planned(job(labour("bond", 6, in_one_shift=True)), shifts=day)

    assert placed(schedule, "bond").start_at == MONDAY


def test_work_in_one_shift_that_is_longer_than_any_is_refused_in_words():
    with pytest.raises(ValueError, match="“bond” of job must be done in one shift and takes 9 h"):
        plan(problem(job(labour("open", 1), labour("bond", 9, "open", in_one_shift=True))))


def test_one_person_does_one_thing_at_a_time():
    schedule = planned(job(labour("a", 3), key="first"), job(labour("b", 3), key="second"), bays=("bay1", "bay2"))

    assert placed(schedule, "b", "second").start_at == placed(schedule, "a", "first").end_at


def test_a_crew_starts_when_all_of_it_is_free():
    schedule = planned(job(labour("a", 3), labour("b", 2, people=2)), workers=(("ann", "body"), ("bo", "body skin")))

    starts = {task.key: task.start_at for task in schedule.jobs["job"].tasks}
    assert len(placed(schedule, "b").workers) == 2
    assert abs(starts["a"] - starts["b"]) >= 2 * HOUR


def test_the_many_sided_are_kept_free_for_what_only_they_can_do():
    schedule = planned(
        job(labour("open", 4), labour("bond", 4, skill="skin")), workers=(("ann", "body skin"), ("bo", "body"))
    )

    assert placed(schedule, "open").workers == ("bo",)
    assert placed(schedule, "bond").start_at == MONDAY


def test_nobody_works_while_away():
    ann = Worker("ann", frozenset({"body"}), ((MONDAY, MONDAY + timedelta(days=1)),))
    asked = Problem(MONDAY, shifts(), (ann,), ("bay1",), (job(labour("a", 2)),))

    schedule = plan(asked)

    assert violations(asked, schedule) == []
    assert placed(schedule, "a").start_at == MONDAY + timedelta(days=1)


def test_a_bay_holds_one_coach_from_first_to_last_bay_work():
    first = job(labour("a", 2, needs_bay=True), wait("dry", 48, "a", needs_bay=True), key="first", priority=1)
    second = job(labour("b", 2, needs_bay=True), key="second")

    schedule = planned(first, second)

    assert schedule.jobs["second"].bay_from_at >= schedule.jobs["first"].bay_until_at


def test_a_coach_in_a_bay_stays_before_a_more_urgent_one():
    standing = job(labour("a", 4, needs_bay=True), key="standing", priority=9, bay="bay1", is_in_bay=True)
    urgent = job(labour("b", 4, needs_bay=True), key="urgent", priority=1)

    schedule = planned(standing, urgent)

    assert schedule.jobs["standing"].bay_from_at == MONDAY
    assert schedule.jobs["urgent"].bay_from_at >= schedule.jobs["standing"].bay_until_at


def test_of_two_bays_the_one_that_is_ready_first_is_taken():
    standing = job(labour("a", 30, needs_bay=True), key="standing", bay="bay1", is_in_bay=True)
    other = job(labour("b", 2, needs_bay=True), key="other", bay_choices=("bay1", "bay2"))

    schedule = planned(standing, other, bays=("bay1", "bay2"), workers=(("ann", "body"), ("bo", "body")))

    assert schedule.jobs["other"].bay == "bay2"


def test_an_open_answer_holds_up_only_what_stands_behind_it():
    answer_at = MONDAY + timedelta(days=2)
    answer = Task("answer", "Owner's answer", "event", timedelta(0), not_before=answer_at)
    schedule = planned(job(answer, labour("other", 2), labour("splice", 2, "answer")))

    assert placed(schedule, "other").start_at == MONDAY
    assert placed(schedule, "splice").start_at == answer_at
    assert schedule.jobs["job"].blocked_by == "Owner's answer"


def test_a_check_needs_somebody_at_the_shop():
    check = Task("check", "Water test", "event", timedelta(0), after=("cure",), in_shop_hours=True)
    schedule = planned(job(wait("cure", 10), check))

    assert placed(schedule, "check").start_at == MONDAY + timedelta(days=1)


def test_running_work_keeps_its_people_and_its_remainder():
    now = MONDAY + 3 * HOUR
    running = labour("a", 5, started_at=MONDAY, fixed_workers=("ann",))
    schedule = planned(job(running), job(labour("b", 1), key="next"), now=now, bays=("bay1", "bay2"))

    assert placed(schedule, "a").start_at == MONDAY
    assert placed(schedule, "a").end_at == MONDAY + 5 * HOUR
    assert placed(schedule, "b", "next").start_at == MONDAY + 5 * HOUR


def test_running_work_past_its_hours_still_takes_a_quarter_of_an_hour():
    now = MONDAY + 7 * HOUR
    schedule = planned(job(labour("a", 5, started_at=MONDAY, fixed_workers=("ann",))), now=now)

    assert placed(schedule, "a").end_at == now + HOUR / 4


def test_finished_work_stays_where_it_was_and_the_job_is_ready_then():
    done = labour("a", 2, started_at=MONDAY, finished_at=MONDAY + HOUR)
    marker = Task("phase", "phase", "event", timedelta(0), after=("a",))
    schedule = planned(job(done, marker), now=MONDAY + timedelta(days=3))

    assert schedule.jobs["job"].ready_at == MONDAY + HOUR


def test_a_job_without_work_is_ready_when_it_comes():
    schedule = planned(job(release_at=MONDAY + timedelta(days=1)))

    assert schedule.jobs["job"].ready_at == MONDAY + timedelta(days=1)
    assert schedule.jobs["job"].blocked_by == "Arrival"


def test_the_critical_chain_leads_to_the_end():
    schedule = planned(job(labour("a", 1), wait("dry", 30, "a"), labour("b", 1, "dry"), labour("aside", 1)))

    assert schedule.jobs["job"].critical == ("a", "dry", "b")


@pytest.mark.parametrize(
    ("tasks", "words"),
    [
        ((labour("a", 1, "ghost"),), "not in the job"),
        ((labour("a", 1, "b"), labour("b", 1, "a")), "in a circle"),
        ((labour("a", -1),), "negative duration"),
        ((labour("a", 1, skill="magic"),), "needs 1 with the skill magic; the shop has 0"),
        ((labour("a", 1, people=2),), "the shop has 1"),
        ((labour("a", 1), labour("a", 1)), "two tasks of one name"),
    ],
)
def test_what_cannot_be_planned_is_refused_in_words(tasks, words):
    with pytest.raises(ValueError, match=words):
        plan(problem(job(*tasks)))


def test_a_coach_too_long_for_every_bay_is_refused_in_words():
    with pytest.raises(ValueError, match="No bay is long enough"):
        plan(problem(job(labour("a", 1, needs_bay=True), bay_choices=())))


def test_work_past_the_last_shift_asks_for_more_of_them():
    with pytest.raises(HorizonTooShort):
        plan(problem(job(labour("a", 100)), shifts=shifts(days=3)))


@st.composite
def small_problems(draw):
    jobs = []
    for number in range(draw(st.integers(1, 5))):
        tasks = []
        for index in range(draw(st.integers(0, 6))):
            after = tuple(f"t{each}" for each in range(index) if draw(st.booleans()))
            hours = draw(st.integers(1, 30)) / 2
            if draw(st.booleans()):
                skill = draw(st.sampled_from(["body", "skin"]))
                task = labour(f"t{index}", hours, *after, skill=skill, people=draw(st.integers(1, 2)))
            else:
                task = wait(f"t{index}", hours, *after)
            in_one_shift, needs_bay = draw(st.booleans()) and hours <= 8, draw(st.booleans())
            tasks.append(replace(task, in_one_shift=in_one_shift, needs_bay=needs_bay))
        release_at = MONDAY + timedelta(hours=draw(st.integers(0, 100)))
        jobs.append(
            job(
                *tasks,
                key=f"j{number}",
                priority=draw(st.integers(1, 9)),
                release_at=release_at,
                bay_choices=("bay1", "bay2"),
            )
        )
    workers = (("ann", "body"), ("bo", "body skin"), ("cy", "skin"))
    return problem(*jobs, workers=workers, bays=("bay1", "bay2"))


@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(small_problems())
def test_no_plan_breaks_a_rule_and_the_same_question_has_the_same_answer(asked):
    schedule = plan(asked)

    assert violations(asked, schedule) == []
    assert plan(asked) == schedule


def test_the_checker_sees_a_broken_plan():
    asked = problem(job(labour("a", 2), labour("b", 2, "a")))
    schedule = plan(asked)
    tasks = schedule.jobs["job"].tasks
    moved = type(tasks[1])(**vars(tasks[1]) | {"start_at": MONDAY, "end_at": MONDAY + HOUR})
    broken = type(schedule)(
        {"job": type(schedule.jobs["job"])(**vars(schedule.jobs["job"]) | {"tasks": (tasks[0], moved)})}
    )

    faults = " ".join(violations(asked, broken))

    assert "before what comes first is over" in faults
    assert "wrong length" in faults
    assert "at once" in faults
