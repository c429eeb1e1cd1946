"""What is asked of a prepared problem: choices, a better order; and that both engines agree."""

import json
import os
import subprocess
import sys
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from estimates.calc.plan import (
    Change,
    Choice,
    OrderHunt,
    PlanJob,
    Problem,
    Task,
    Worker,
    combinations,
    plan,
    prepare,
    search,
)
from estimates.calc.plan.annealing import CURRENT, anneal
from estimates.calc.plan.checker import violations
from estimates.calc.plan.serial import decode
from estimates.calc.plan.starts import starts
from estimates.calc.plan.worth import LATE_WEIGHT, weigh
from tests.benchmarks.shops import shop

MONDAY = datetime(2026, 3, 2, 14, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)
DAY = timedelta(days=1)
SHIFTS = tuple((MONDAY + n * DAY, MONDAY + n * DAY + 8 * HOUR) for n in range(100) if (MONDAY + n * DAY).weekday() < 5)
ANN = Worker("ann", frozenset({"body"}))
SMALL = shop(3, jobs=8, operations=18, workers=5, bays=4, days=10, horizon=200, ends_at=12)


def labour(key, hours, *after, **fields):
    return Task(key, key, "labour", hours * HOUR, (("body", 1),), after, **fields)


def job(key, *tasks, **fields):
    return PlanJob(key=key, tasks=tasks, **{"priority": 5, "release_at": MONDAY} | fields)


def problem(*jobs, workers=(ANN,), **fields):
    return Problem(MONDAY, SHIFTS, workers, (), jobs, **fields)


def with_findings():
    """One coach with two open findings, and one behind it."""
    asked_at = {"not_before": MONDAY + DAY}
    answers = [Task(f"answer{n}", "Answer", "event", timedelta(0), part=f"f{n}", **asked_at) for n in (1, 2)]
    works = [labour(f"work{n}", 3 * n, f"answer{n}", "open", part=f"f{n}") for n in (1, 2)]
    close = labour("close", 2, "open", "work1", "work2")
    return problem(job("one", labour("open", 4), *answers, *works, close), job("two", labour("own", 4), priority=9))


def test_each_combination_has_the_dates_of_the_shop_planned_without_what_is_left_out():
    asked = with_findings()

    table = combinations(prepare(asked), [Choice(part, ((part,), ())) for part in ("f1", "f2")])

    assert [each.picks for each in table] == [(0, 0), (0, 1), (1, 0), (1, 1)]
    for each in table:
        left_out = {f"f{n + 1}" for n, pick in enumerate(each.picks) if pick}
        one = asked.jobs[0]
        tasks = tuple(task for task in one.tasks if task.part not in left_out)
        keys = {task.key for task in tasks}
        bare = replace(one, tasks=tuple(replace(t, after=tuple(k for k in t.after if k in keys)) for t in tasks))
        rebuilt = plan(replace(asked, jobs=(bare, asked.jobs[1])))
        assert each.ready_at == {key: made.ready_at for key, made in rebuilt.jobs.items()}


def test_work_that_is_left_out_takes_nobody_and_no_time_and_hands_on_what_comes_before_it():
    schedule = prepare(with_findings()).plan(Change(left_out=frozenset({"f1", "f2"})))

    tasks = {task.key: task for task in schedule.jobs["one"].tasks}
    assert tasks["work1"].workers == ()
    assert tasks["close"].start_at == tasks["open"].end_at
    assert schedule.jobs["one"].critical == ("open", "close")


def test_a_search_finds_the_order_that_keeps_the_promise():
    asked = problem(
        job("early", labour("a", 8), priority=1, promised_at=MONDAY + 20 * DAY),
        job("late", labour("b", 2), priority=9, promised_at=MONDAY + 3 * HOUR),
    )

    found = search(prepare(asked), schedules=50)

    assert found.one_pass.late > timedelta(0)
    assert found.worth.late == timedelta(0)
    assert found.gain == 1
    assert found.schedule.jobs["late"].ready_at == MONDAY + 2 * HOUR


def test_of_plans_as_good_the_one_in_force_stays():
    twins = problem(job("a", labour("a", 3)), job("b", labour("b", 3)))
    first = plan(twins)
    starts = {(key, task.key): task.start_at for key, each in first.jobs.items() for task in each.tasks}

    found = search(prepare(replace(twins, last_starts=starts)), schedules=200, seed=3)

    assert found.worth.changes == 0
    assert found.schedule.jobs["a"].ready_at == first.jobs["a"].ready_at


def test_a_search_without_a_limit_is_refused():
    with pytest.raises(ValueError, match="needs limit_s, schedules or both"):
        search(prepare(SMALL))


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_a_search_never_loses_repeats_itself_and_breaks_no_rule(seed):
    prepared = prepare(SMALL)

    found = search(prepared, schedules=300, seed=seed)

    assert found.worth.late <= found.one_pass.late
    assert violations(SMALL, found.schedule) == []
    assert search(prepared, schedules=300, seed=seed).schedule == found.schedule


def test_a_search_that_goes_on_repeats_itself_and_never_falls_behind():
    halted, again = (OrderHunt(prepare(SMALL), 3).go_on(schedules=100) for _ in range(2))
    before = halted.found()

    after = halted.go_on(schedules=200).found()

    assert after == again.go_on(schedules=200).found()
    assert after.schedules == 200
    assert cost(after) <= cost(before) <= cost(OrderHunt(prepare(SMALL), 3).found())


@pytest.mark.parametrize("schedules", [1, 2, 14, 40])
def test_a_search_cut_short_keeps_the_plan_it_began_with_unless_it_found_a_better_one(schedules):
    best = search(prepare(SMALL), schedules=500)  # the starts do not better it
    prepared = prepare(replace(SMALL, turns=best.schedule.turns))

    found = search(prepared, schedules=schedules)

    assert cost(found) <= LATE_WEIGHT * found.one_pass.late + found.one_pass.finish == cost(best)


def cost(found):
    return LATE_WEIGHT * found.worth.late + found.worth.finish


@pytest.mark.parametrize("is_by_start", [False, True])
def test_what_is_planned_on_from_a_mark_is_what_is_planned_from_the_beginning(is_by_start):
    hunt = OrderHunt(prepare(SMALL), 5).go_on(schedules=20)
    prepared, walk, taken = hunt.prepared, hunt.walk, set()
    for _ in range(150):
        anneal(prepared.arena, prepared.work, hunt.state, walk, hunt.given, is_by_start, 10**11, 10**13, 1)
        taken.add(tuple(walk.turns))
        value = walk.value[CURRENT]
        assert decode(prepared.arena, prepared.work, walk.own.copy(), walk.turns.copy(), hunt.state) < 0
        assert weigh(prepared.arena, walk.last, hunt.state) == value
    assert len(taken) > 20  # orders were taken, and gone on from


def test_a_search_may_begin_with_an_order_found_before():
    found = search(prepare(SMALL), schedules=300)

    again = OrderHunt(prepare(SMALL), 9).try_turns(found.schedule.turns).found()

    assert again.worth == found.worth
    assert again.one_pass == found.one_pass


def test_every_order_that_a_search_begins_with_has_each_coach_once():
    prepared = prepare(SMALL)
    last_ready = prepared.shop.now + 30 * 86_400

    orders = list(starts(prepared.builder, prepared.shop, prepared.work, prepared.coaches, last_ready))

    promises = [prepared.shop.promise[job] for job in orders[0]]
    assert promises == sorted(promises)
    assert len(orders) == 13
    assert all(sorted(order) == list(range(len(SMALL.jobs))) for order in orders)


def test_with_no_promise_near_the_heaviest_for_its_labour_goes_first():
    coaches = [("long", 8, 1.0), ("heavy", 8, 3.0), ("short", 2, 1.0)]
    far = MONDAY + 60 * DAY
    jobs = [job(key, labour("a", hours), weight=weight, promised_at=far) for key, hours, weight in coaches]
    prepared = prepare(problem(*jobs))

    *_, by_scarce_labour = starts(prepared.builder, prepared.shop, prepared.work, prepared.coaches, prepared.shop.now)

    assert [coaches[number][0] for number in by_scarce_labour] == ["short", "heavy", "long"]


def test_the_turns_of_a_plan_give_the_same_plan_again():
    found = search(prepare(SMALL), schedules=300).schedule

    again = plan(replace(SMALL, turns=found.turns))

    assert {key: each.ready_at for key, each in again.jobs.items()} == {
        key: each.ready_at for key, each in found.jobs.items()
    }


def test_a_plan_that_does_not_know_new_work_puts_it_before_what_follows_it():
    kept = plan(SMALL).turns
    one = SMALL.jobs[0]
    new = Task("new", "New", "labour", HOUR, (("body", 1),), ("open",))
    hold = next(task for task in one.tasks if task.key == "hold")
    tasks = (*(task for task in one.tasks if task.key != "hold"), new, replace(hold, after=(*hold.after, "new")))
    asked = replace(SMALL, jobs=(replace(one, tasks=tasks), *SMALL.jobs[1:]), turns=kept)

    schedule = plan(asked)

    assert violations(asked, schedule) == []
    turns = [key for key in schedule.turns if key[0] == one.key]
    assert turns.index((one.key, "new")) < turns.index((one.key, "hold"))


@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(st.randoms(use_true_random=False))
def test_any_order_of_the_turns_can_be_carried_out(chance):
    turns = list(plan(SMALL).turns)
    chance.shuffle(turns)
    asked = replace(SMALL, turns=tuple(turns))

    assert violations(asked, plan(asked)) == []


QUESTION = """
import json
from datetime import timedelta
from estimates.calc.plan import forecast, prepare, search
from estimates.calc.plan.compiled import IS_COMPILED
from tests.benchmarks.shops import shop
prepared = prepare(shop(3, jobs=8, operations=18, workers=5, bays=4, days=10, horizon=200, ends_at=12))
schedule = search(prepared, schedules=60).schedule
starts = [[task.start_at.isoformat(), task.end_at.isoformat(), *task.workers]
          for job in schedule.jobs.values() for task in job.tasks]
print(json.dumps([IS_COMPILED, starts, forecast(prepared, samples=10).ready.tolist()]))
"""


def test_the_plain_engine_gives_the_same_dates_as_the_compiled_one():
    pytest.importorskip("numba")
    answers = []
    for engine in ("compiled", "plain"):
        run = subprocess.run(
            [sys.executable, "-c", QUESTION], env=os.environ | {"PLAN_ENGINE": engine}, capture_output=True, text=True
        )
        assert run.returncode == 0, run.stderr
        answers.append(json.loads(run.stdout))

    assert [answer[0] for answer in answers] == [True, False]
    assert answers[0][1:] == answers[1][1:]
