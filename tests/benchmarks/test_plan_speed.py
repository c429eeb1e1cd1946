"""How fast the shop is planned, and how much a search gains; printed, nothing here fails by time.

One command: pytest tests/benchmarks/test_plan_speed.py. FULL_BENCHMARKS=1 runs all seeds.
"""

import os
import time
from dataclasses import replace
from datetime import timedelta
from statistics import median

import pytest

from estimates.calc.plan import Choice, combinations, forecast, prepare, search
from estimates.calc.plan.checker import violations
from estimates.calc.plan.compiled import IS_COMPILED
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.to_come import Bookings, booking_of, with_room_for
from estimates.calc.plan.warming import warm_up
from tests.benchmarks.shops import shop

FULL = os.environ.get("FULL_BENCHMARKS") == "1"
DAY_S = 86_400
DAY = timedelta(days=1)
# Days that promises leave beside the work: where the best rule is some tens of days late, and where it is hundreds.
TIGHT_DAYS, HOPELESS_DAYS = 38.0, 30.0


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(text)

    return print_now


@pytest.fixture(scope="module", autouse=True)
def _warm():
    warm_up()


def best_of(count, question):
    spans = []
    for _ in range(count):
        started = time.perf_counter()
        answer = question()
        spans.append(time.perf_counter() - started)
    return min(spans), answer


def with_findings(problem):
    """The first coach with four open findings: the last steps of its strands and one more."""
    first = problem.jobs[0]
    keys = [task.key for task in first.tasks if task.kind == "labour" and task.key.startswith("s")][:4]
    tasks = tuple(replace(task, part=task.key) if task.key in keys else task for task in first.tasks)
    return replace(problem, jobs=(replace(first, tasks=tasks), *problem.jobs[1:])), keys


def a_coach_each_second_day(problem):
    """A record that fills every place for a coach to come: of turns 1 to 5, booked 20 days ahead."""
    count = len(problem.jobs)
    booked = (booking_of(job, problem.now - 2 * (count - n) * DAY) for n, job in enumerate(problem.jobs))
    return Bookings(tuple(replace(each, lead=20 * DAY) for each in booked), problem.now)


def test_the_speed_of_every_question(say):
    problem, parts = with_findings(shop(1))
    prepared = prepare(problem)
    own, turns = prepared.order(prepared.work)
    state = empty_state(prepared.shop)
    repeats = 5 if IS_COMPILED else 1
    choices = [Choice(part, ((part,), ())) for part in parts]
    count = 1000 if IS_COMPILED else 2
    record = a_coach_each_second_day(problem)
    roomy = prepare(with_room_for(problem, record))
    rows = [
        ("problem to dates", 0.100, *best_of(repeats, lambda: prepare(problem).plan())),
        ("of that the engine", 0.002, *best_of(4 * repeats, lambda: prepared.run(prepared.work, own, turns, state))),
        ("16 combinations", 0.500, *best_of(repeats, lambda: combinations(prepared, choices))),
        ("forecast, 200 samples", 0.250, *best_of(2, lambda: forecast(prepared, samples=200 if IS_COMPILED else 2))),
        ("forecast, 1000 samples", 1.0, *best_of(1, lambda: forecast(prepared, samples=count))),
        ("with coaches to come", 1.0, *best_of(1, lambda: forecast(roomy, samples=count, bookings=record))),
    ]

    say(f"\n40 coaches x 30 operations, {'compiled' if IS_COMPILED else 'plain'}:  seconds   share of the limit")
    for what, limit_s, seconds, _ in rows:
        say(f"  {what:24} {seconds:8.4f}   {seconds / limit_s:5.2f}")
    assert violations(problem, rows[0][3]) == []
    assert len(rows[2][3]) == 16


def test_growth_with_the_number_of_coaches(say):
    say("\ncoaches  operations  arrays ms  engine ms  whole ms")
    for jobs in (10, 20, 40, 80, 160):
        say(grown(jobs))


def grown(jobs):
    problem = shop(1, jobs=jobs, workers=max(6, jobs // 3), bays=max(4, jobs // 4), horizon=900)
    made, prepared = best_of(2, lambda: prepare(problem))
    own, turns = prepared.order(prepared.work)
    state = empty_state(prepared.shop)
    engine, _ = best_of(3, lambda: prepared.run(prepared.work, own, turns, state))
    whole, schedule = best_of(2, prepared.plan)
    assert violations(problem, schedule) == []
    size = f"{jobs:7}  {prepared.shop.tasks:10}"
    return f"{size}  {1000 * made:9.1f}  {1000 * engine:9.2f}  {1000 * (made + whole):8.1f}"


def best_rule(problem):
    """Weighted lateness [days] of one pass by the best of three rules: the shop's own, by promise, by arrival."""
    by_promise = tuple(job.key for job in sorted(problem.jobs, key=lambda job: job.promised_at))
    by_arrival = tuple(job.key for job in sorted(problem.jobs, key=lambda job: job.release_at))
    lates = []
    for order in ((), by_promise, by_arrival):
        ready = prepare(replace(problem, order=order)).ready()
        late = sum(job.weight * max(0, (ready[job.key] - job.promised_at).total_seconds()) for job in problem.jobs)
        lates.append(late / DAY_S)
    return min(lates)


def alone(problem):
    """Weighted lateness [days] were each coach alone in the shop: below this no order can bring it."""
    late = 0.0
    for job in problem.jobs:
        ready = prepare(replace(problem, jobs=(job,), order=())).ready()[job.key]
        late += job.weight * max(0, (ready - job.promised_at).total_seconds())
    return late / DAY_S


@pytest.mark.parametrize("days", [TIGHT_DAYS, HOPELESS_DAYS], ids=["tight promises", "hopeless promises"])
def test_what_a_search_of_one_second_gains_over_one_pass(say, days):
    """To reach: at least half of the weighted lateness, in the median over ten shops.

    How many schedules a second holds depends on what else the machine does, so the gain after 1000 is told too.
    """
    gains, after_1000 = [], []
    say("\nshop  best rule  1 s search  gain   schedules  gain after 1000  each alone   (weighted days late)")
    for seed in range(1, 11 if FULL else 4):
        problem = shop(seed, ends_at=days)
        before = best_rule(problem)
        found = search(prepare(problem), limit_s=1.0, seed=seed)
        after = found.worth.late.total_seconds() / DAY_S
        gains.append(1 - after / before if before else 0.0)
        counted = search(prepare(problem), schedules=1000 if IS_COMPILED else 50, seed=seed)
        after_1000.append(1 - counted.worth.late.total_seconds() / DAY_S / before if before else 0.0)
        figures = f"{seed:4}  {before:9.1f}  {after:10.1f}  {gains[-1]:4.0%}  {found.schedules:9}"
        say(f"{figures}  {after_1000[-1]:15.0%}  {alone(problem):10.1f}")
        assert violations(problem, found.schedule) == []
    say(f"median gain {median(gains):.0%}, after 1000 schedules {median(after_1000):.0%}")
    assert median(gains) > 0
