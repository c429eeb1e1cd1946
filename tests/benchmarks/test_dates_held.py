"""How dates hold in shops whose truth is known, lived through day by day from booking to the last task.

Each midnight the shop is planned and simulated as it is known then, and what is said of every coach is kept; then the
day is played with what the work really takes. Hidden damage shows when a coach is opened up; coaches are booked all
along, so that later ones push earlier ones. What was kept is scored by the same back-test that the manager's page
shows, beside the plain plan and a promise of a habit that is our own: the plan's date at booking and three days.
The truth is drawn by another generator than the forecast's. The forecast knows how often and how much is hidden, and
how drying spreads; the labour's spread it learns from thirty jobs of the shop's past. So this measures whether the
odds hold while a shop lives by its plan, and not whether a real shop does.
One command: pytest tests/benchmarks/test_dates_held.py. FULL_BENCHMARKS=1 lives through more shops.
"""

import os
import random
from collections import Counter
from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from estimates.calc.backtest import Course, Said, back_test
from estimates.calc.plan import Change, LogNormal, Spreads, Task, forecast, prepare
from estimates.calc.plan.compiled import IS_COMPILED
from estimates.calc.plan.experience import spread_of_work
from estimates.calc.plan.spread import SURE
from tests.benchmarks.shops import HOUR, shop

FULL = os.environ.get("FULL_BENCHMARKS") == "1"
SHOPS, COACHES = (25, 12) if FULL else (1, 4)
SAMPLES = 200 if IS_COMPILED else 20
LABOUR, DRYING, SHARED = LogNormal(1.1, 0.35), LogNormal(1.0, 0.3), LogNormal(1.0, 0.12)
HIDDEN = LogNormal(1.0, 0.6)
DAY = timedelta(days=1)
HABIT = 3 * DAY
MONTHS = 400 * DAY


class Life:
    """A shop being lived through."""

    def __init__(self, number, *, in_turn):
        rng, chance = np.random.default_rng(number), random.Random(number)
        self.problem = shop(number, jobs=COACHES, operations=12, workers=5, bays=3, days=80, horizon=400)
        self.spreads = Spreads(
            spread_of_work([float(LABOUR.at(each)) for each in rng.random(30)]), DRYING, SURE, SURE, SHARED
        )
        jobs = [with_hidden_damage(job, chance) for job in self.problem.jobs]
        self.jobs = {job.key: as_it_arrives(job) if in_turn else job for job in jobs}
        self.booked_at = {key: job.release_at - chance.randrange(4, 15) * DAY for key, job in self.jobs.items()}
        self.really, self.is_found = self._truth(rng)
        self.begun, self.ended, self.stands = {}, {}, {}
        self.said = {key: [] for key in self.jobs}
        self.promised = {}

    def _truth(self, rng):
        shared, really, found = float(SHARED.at(rng.random())), {}, {}
        for job in self.jobs.values():
            for task in job.tasks:
                factor = float(LABOUR.at(rng.random())) * shared if task.kind == "labour" else 1.0
                if task.is_drying:
                    factor = float(DRYING.at(rng.random()))
                if task.key == "hidden":
                    factor = float(HIDDEN.at(rng.random())) * shared
                    found[job.key] = rng.random() < task.chance
                really[job.key, task.key] = timedelta(seconds=round(task.duration.total_seconds() * factor))
        return really, found

    def live(self):
        now = min(self.booked_at.values()).replace(hour=0)
        last = now + MONTHS
        while not all(self._is_ready(key) for key in self.jobs) and now < last:
            self._live_a_day(now)
            now += DAY
        return [self._course(key) for key in self.jobs]

    def _live_a_day(self, now):
        keys = [key for key in self.jobs if self.booked_at[key] < now + DAY and not self._is_ready(key)]
        if not keys:
            return
        known = replace(self.problem, now=now, jobs=tuple(self._as_known(key) for key in keys))
        prepared = prepare(known)
        self._say(keys, prepared, now)
        tasks = {(job.key, task.key) for job in known.jobs for task in job.tasks}
        really = {key: self.really[key] for key in tasks if key not in self.ended}
        played = prepared.plan(Change(durations=really))
        for job in played.jobs.values():
            for task in job.tasks:
                self._note(job, task, now + DAY)

    def _say(self, keys, prepared, now):
        odds = forecast(prepared, samples=SAMPLES, seed=now.toordinal(), spreads=self.spreads, threads=1)
        planned = prepared.ready()
        for key in keys:
            promised = self.promised.setdefault(key, (planned[key] + HABIT).date())
            even, safe = odds.at(key, 0.5).date(), odds.at(key, 0.8).date()
            self.said[key].append(Said(now.date(), planned[key].date(), even, safe, promised))

    def _note(self, job, task, until):
        key = (job.key, task.key)
        if task.start_at >= until or key in self.ended or (task.key == "hidden" and not self._is_open(job.key)):
            return
        self.begun.setdefault(key, (task.start_at, task.workers))
        self.stands.setdefault(job.key, task.bay)
        if task.end_at <= until:
            self.ended[key] = task.end_at

    def _as_known(self, key):
        job = self.jobs[key]
        known = [self._task_as_known(key, task) for task in job.tasks if not self._is_nothing(key, task)]
        gone = {task.key for task in job.tasks} - {task.key for task in known}
        tasks = tuple(replace(task, after=tuple(each for each in task.after if each not in gone)) for task in known)
        bay = self.stands.get(key)
        begun = any((key, task.key) in self.begun for task in tasks)
        return replace(job, tasks=tasks, bay=bay, is_in_bay=bool(bay) and begun and self._still_needs_bay(key))

    def _task_as_known(self, key, task):
        start_at, workers = self.begun.get((key, task.key), (None, ()))
        task = replace(task, started_at=start_at, fixed_workers=workers, finished_at=self.ended.get((key, task.key)))
        return replace(task, chance=1.0) if task.key == "hidden" and self._is_open(key) else task

    def _is_nothing(self, key, task):
        """Opened up, and nothing was hidden."""
        return task.key == "hidden" and self._is_open(key) and not self.is_found[key]

    def _is_open(self, key):
        return (key, "open") in self.ended

    def _still_needs_bay(self, key):
        tasks = [task for task in self.jobs[key].tasks if task.needs_bay and not self._is_nothing(key, task)]
        return any((key, task.key) not in self.ended for task in tasks)

    def _is_ready(self, key):
        return self._is_open(key) and all(
            (key, task.key) in self.ended for task in self.jobs[key].tasks if not self._is_nothing(key, task)
        )

    def _course(self, key):
        begun = [at for (job, _), (at, _) in self.begun.items() if job == key]
        ended = [at for (job, _), at in self.ended.items() if job == key]
        return Course(
            booked_on=self.booked_at[key].date(),
            arrived_on=self.jobs[key].release_at.date() if begun else None,
            opened_on=self.ended[key, "open"].date() if self._is_open(key) else None,
            ready_on=max(ended).date() if self._is_ready(key) else None,
            said=tuple(self.said[key]),
        )


def as_it_arrives(job):
    return replace(job, priority=5, promised_at=job.release_at)


def with_hidden_damage(job, chance):
    """Found in two of five coaches once they are open; nothing is bonded before it is mended."""
    hidden = Task(
        "hidden", "Hidden damage", "labour", chance.randrange(4, 13) * HOUR, (("frame", 1),), ("open",),
        needs_bay=True, chance=0.4, spread=HIDDEN,
    )  # fmt: skip
    tasks = [replace(task, in_one_shift=False) for task in job.tasks]
    return replace(
        job,
        tasks=(
            hidden,
            *(replace(each, after=(*each.after, "hidden")) if each.key == "hold" else each for each in tasks),
        ),
    )


@pytest.mark.timeout(7200)
@pytest.mark.parametrize("in_turn", [True, False], ids=["in turn", "some go first"])
def test_dates_said_in_shops_that_were_lived_through(in_turn, capsys):
    courses = [course for number in range(SHOPS) for course in Life(number, in_turn=in_turn).live()]

    rows = {row.moment: row for row in back_test(courses, today=max(each.ready_on for each in courses) + MONTHS)}

    with capsys.disabled():
        print(f"\n{SHOPS} shops, {len(courses)} coaches, {'in turn' if in_turn else 'some go first'}")
        print("share ready by the date, and what it cost in days (pinball loss)")
        for moment, row in rows.items():
            print(f"{moment:8} {row.coaches:4} even {share(row.even)} safe {share(row.safe)}  {costs(row.scores)}")
    assert Counter(course.ready_on is None for course in courses) == {False: SHOPS * COACHES}
    assert rows["booking"].coaches == SHOPS * COACHES
    if FULL:
        assert_that_the_odds_hold(rows)


def share(found):
    low, high = found.range
    return f"{found.ready / found.of:.1%} ({low:.0%} to {high:.0%})"


def costs(scores):
    even, safe, plan, promise = scores.even, scores.safe, scores.plan, scores.promise
    return (
        f"at even odds: even {even.even_cost_days:.2f}, plan {plan.even_cost_days:.2f}, "
        f"promise {promise.even_cost_days:.2f}; as safe: safe {safe.safe_cost_days:.2f}, "
        f"plan {plan.safe_cost_days:.2f}, promise {promise.safe_cost_days:.2f}; "
        f"late by {even.mean_late_days:+.1f}, {safe.mean_late_days:+.1f}, {plan.mean_late_days:+.1f}, "
        f"{promise.mean_late_days:+.1f}"
    )


def assert_that_the_odds_hold(rows):
    for moment in ("arrival", "opening"):
        scores = rows[moment].scores
        assert scores.even.even_cost_days < min(scores.plan.even_cost_days, scores.promise.even_cost_days)
        assert scores.safe.safe_cost_days < min(scores.plan.safe_cost_days, scores.promise.safe_cost_days)
