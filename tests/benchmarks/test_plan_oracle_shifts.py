"""The search against proven optima of small shops with nights, weekends and midday breaks, by OR-Tools' CP-SAT.

Labour lies on an axis of working hours, on which people are booked. A step function leads from there to the clock,
on which waits, lags, stays in bays and blowers run: for each break, night and weekend a literal says whether it is
over. Nothing of it is shared with the engine. What CP-SAT finds goes through the project's checker too, so that each
tests the other. All that the shops are made of falls on hours, so no better plan lies between them.
One command: pytest tests/benchmarks/test_plan_oracle_shifts.py. FULL_BENCHMARKS=1 runs more shops, larger and longer.
"""

import os
import random
import time
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

import pytest

from estimates.calc.plan import JobPlan, PlacedTask, PlanJob, Problem, Schedule, Task, Worker, prepare, search
from estimates.calc.plan.checker import violations
from tests.benchmarks.shops import START

cp_model = pytest.importorskip("ortools.sat.python.cp_model")

FULL = os.environ.get("FULL_BENCHMARKS") == "1"
SEEDS = range(1, 11) if FULL else range(1, 4)
SIZES = (
    ((5, 1), (6, 1), (5, 2), (8, 1), (6, 2)) if FULL else ((5, 1), (6, 1), (5, 2))
)  # coaches, strands of work in each
LIMIT_S = 120 if FULL else 12
STEP = timedelta(hours=1)
DAYS = 40
SKILLS = ("body", "skin", "frame")
MOST_ABOVE = 0.02
SCHEDULES = 50_000  # about a second


def shifts():
    """Seven to noon and one to four, Monday to Friday."""
    days = [START.replace(hour=0) + timedelta(days=number) for number in range(DAYS)]
    hours = [(7, 12), (13, 16)]
    return tuple((day + a * STEP, day + b * STEP) for day in days if day.weekday() < 5 for a, b in hours)


def coach(chance, number, strands, bays):
    """Opening up, strands of work with a drying wait in each, a hold point, a bond in one shift, its cure, a test."""

    def labour(key, low, high, *after, skill="", people=1, **fields):
        crew = ((skill or chance.choice(SKILLS), people),)
        return Task(key, key, "labour", chance.randrange(low, high + 1) * STEP, crew, after, **fields)

    def wait(key, low, high, after, blowers):
        equipment = (("blower", blowers),) if blowers else ()
        return Task(
            key, key, "wait", chance.randrange(low, high + 1) * STEP, (), (after,), needs_bay=True, equipment=equipment
        )

    tasks = [labour("open", 1, 3, needs_bay=True)]
    for strand in range(strands):
        tasks += [
            labour(f"cut{strand}", 2, 5, "open", needs_bay=True),
            wait(f"dry{strand}", 10, 30, f"cut{strand}", chance.randrange(1, 3)),
            labour(f"mend{strand}", 2, 9, f"dry{strand}", needs_bay=chance.random() < 0.8),
        ]
    ends = tuple(f"mend{strand}" for strand in range(strands))
    tasks += [
        Task("hold", "hold", "event", timedelta(0), after=ends, in_shop_hours=True),
        labour("bond", 2, 4, "hold", skill="skin", people=2, in_one_shift=True, needs_bay=True),
        wait("cure", 8, 20, "bond", 0),
        labour("test", 1, 2, needs_bay=True, lags=(("cure", chance.randrange(0, 5) * STEP),)),
    ]
    release_at = START + chance.randrange(0, 3) * timedelta(days=1)
    return PlanJob(
        f"job{number}",
        chance.randrange(1, 6),
        release_at,
        release_at + chance.randrange(72, 150) * STEP,
        bay_choices=bays[: chance.randrange(2, len(bays) + 1)],
        tasks=tuple(tasks),
        weight=float(chance.randrange(1, 4)),
    )


def small_shop(seed, jobs, strands):
    """Four people, one of them away for a day or two; three bays, three blowers."""
    chance = random.Random(seed)
    skills = [{"body", "skin"}, {"skin", "frame"}, {"body", "frame"}, {"body", "skin", "frame"}]
    away = START + chance.randrange(1, 4) * timedelta(days=1)
    spans = [((away, away + chance.randrange(1, 3) * timedelta(days=1)),), (), (), ()]
    workers = tuple(
        Worker(f"p{n}", frozenset(own), span) for n, (own, span) in enumerate(zip(skills, spans, strict=True))
    )
    bays = ("bay0", "bay1", "bay2")
    coaches = tuple(coach(chance, number, strands, bays) for number in range(jobs))
    return Problem(START, shifts(), workers, bays, coaches, (("blower", 3),))


def steps(span):
    assert span % STEP == timedelta(0), f"{span} is not on the grid"
    return span // STEP


class ShiftOracle:
    """A problem as a constraint model, in hours since START."""

    def __init__(self, problem, known, floors=None):
        """known: a schedule to begin from; what would cost more is left out. floors: what each coach costs at least."""
        self.problem, self.known, self.model = problem, known, cp_model.CpModel()
        floors = floors or dict.fromkeys((job.key for job in problem.jobs), 0)
        spare = int(worth(problem, known)[0]) - sum(floors.values())
        self.most = {key: floor + spare for key, floor in floors.items()}
        self.placed = {(task.job_key, task.key): task for job in known.jobs.values() for task in job.tasks}
        shifts = [(steps(begin - START), steps(end - START)) for begin, end in problem.shifts]
        shifts = [shift for shift in shifts if shift[0] < self._horizon()]
        self.working = [at for begin, end in shifts for at in range(begin, end)]
        self.open = cp_model.Domain.from_values(sorted({*self.working, *(at + 1 for at in self.working)}))
        self.until = self.working[-1] + 1
        self.busy = {worker.key: list(self._away(worker)) for worker in problem.workers}
        self.uses, self.stays = [], {bay: [] for bay in problem.bays}
        self.start, self.end, self.takes, self.bay, self.stay, self.ready = {}, {}, {}, {}, {}, {}
        self.breaks = [(self.working.index(after[0]), after[0] - before[1]) for before, after in pairwise(shifts)]
        costs = {job.key: self._job(job) for job in problem.jobs}
        for key, cost in costs.items():
            self.model.add(cost >= floors[key])
            self.model.add(cost <= self.most[key])
        self.model.minimize(sum(costs.values()))
        for spans in (*self.busy.values(), *self.stays.values()):
            self.model.add_no_overlap(spans)
        for name, count in problem.equipment:
            used = [(span, need) for span, what, need in self.uses if what == name]
            self.model.add_cumulative([span for span, _ in used], [need for _, need in used], count)

    def _horizon(self):
        """No coach can be ready later without costing more than it may."""
        ready = [
            steps(job.promised_at - START) + int(self.most[job.key] / (100 * job.weight)) for job in self.problem.jobs
        ]
        return max(ready) + steps(timedelta(days=1))

    def _new(self, low, high, known, name):
        variable = self.model.new_int_var(low, high, name)
        self.model.add_hint(variable, known)
        return variable

    def _new_literal(self, known, name):
        literal = self.model.new_bool_var(name)
        self.model.add_hint(literal, known)
        return literal

    def _away(self, worker):
        for begin, end in worker.away:
            hours = [n for n, at in enumerate(self.working) if steps(begin - START) <= at < steps(end - START)]
            if hours:
                yield self.model.new_fixed_size_interval_var(hours[0], len(hours), "away")

    def _job(self, job):
        for task in job.tasks:
            getattr(self, f"_{task.kind}")(job, task)
        for task in job.tasks:
            lags = {key: steps(lag) for key, lag in task.lags}
            for key in {*task.after, *lags}:
                self.model.add(self.start[job.key, task.key] >= self.end[job.key, key] + lags.get(key, 0))
            self.model.add(self.start[job.key, task.key] >= steps(job.release_at - START))
        self._stay(job)
        ready = self.ready[job.key] = self.model.new_int_var_from_domain(self.open, "ready")
        known = steps(self.known.jobs[job.key].ready_at - START)
        self.model.add_hint(ready, known)
        for task in job.tasks:
            self.model.add(ready >= self.end[job.key, task.key])
        late = self._new(0, self.until, max(0, known - steps(job.promised_at - START)), "late")
        self.model.add(late >= ready - steps(job.promised_at - START))
        return 100 * int(job.weight) * late + int(job.weight) * ready

    def _labour(self, job, task):
        """The number of its first working hour; from there to the clock."""
        key, length = (job.key, task.key), steps(task.duration)
        may = [n for n in range(len(self.working) - length + 1) if not task.in_one_shift or self._is_one_day(n, length)]
        known = self.working.index(self._known(key)[0])
        number = self.model.new_int_var_from_domain(cp_model.Domain.from_values(may), "number")
        self.model.add_hint(number, known)
        self.start[key] = self._clock(number, known)
        self.end[key] = self._clock(number + (length - 1), known + length - 1) + 1
        ((skill, people),) = task.crew
        able = [worker.key for worker in self.problem.workers if skill in worker.skills]
        crew = self.placed[key].workers
        self.takes[key] = {worker: self._new_literal(worker in crew, "takes") for worker in able}
        for worker, takes in self.takes[key].items():
            span = self.model.new_optional_fixed_size_interval_var(number, length, takes, task.key)
            self.busy[worker].append(span)
        self.model.add(sum(self.takes[key].values()) == people)

    def _clock(self, number, known):
        """When a working hour begins on the clock."""
        over = []
        for since, lasts in self.breaks:
            is_over = self._new_literal(known >= since, "over")
            self.model.add(number >= since).only_enforce_if(is_over)
            self.model.add(number < since).only_enforce_if(~is_over)
            over.append(lasts * is_over)
        clock = self._new(0, self.until, self.working[known], "clock")
        self.model.add(clock == number + self.working[0] + sum(over))
        return clock

    def _known(self, key):
        """Start and end of a task in the known plan."""
        return steps(self.placed[key].start_at - START), steps(self.placed[key].end_at - START)

    def _is_one_day(self, number, length):
        """Whether no night lies between two of its hours; the midday break is no longer than one."""
        own = self.working[number : number + length]
        return own[-1] - own[0] < length + 2

    def _wait(self, job, task):
        key, length = (job.key, task.key), steps(task.duration)
        # Somebody must be there to set equipment up.
        moments = self.open if task.equipment else cp_model.Domain(0, self.until)
        self.start[key] = self.model.new_int_var_from_domain(moments, task.key)
        self.model.add_hint(self.start[key], self._known(key)[0])
        self.end[key] = self.start[key] + length
        for what, need in task.equipment:
            span = self.model.new_fixed_size_interval_var(self.start[key], length, task.key)
            self.uses.append((span, what, need))

    def _event(self, job, task):
        moments = self.open if task.in_shop_hours else cp_model.Domain(0, self.until)
        self.start[job.key, task.key] = self.end[job.key, task.key] = self.model.new_int_var_from_domain(
            moments, "event"
        )

    def _stay(self, job):
        keys = [(job.key, task.key) for task in job.tasks if task.needs_bay]
        known = [self._known(key) for key in keys]
        begin, end = min(each for each, _ in known), max(each for _, each in known)
        first, last = self._new(0, self.until, begin, "first"), self._new(0, self.until, end, "last")
        length = self._new(0, self.until, end - begin, "length")
        self.model.add_min_equality(first, [self.start[key] for key in keys])
        self.model.add_max_equality(last, [self.end[key] for key in keys])
        self.stay[job.key], self.bay[job.key] = (first, last), {}
        for bay in job.bay_choices:
            stands = self.bay[job.key][bay] = self._new_literal(bay == self.known.jobs[job.key].bay, bay)
            self.stays[bay].append(self.model.new_optional_interval_var(first, length, last, stands, bay))
        self.model.add_exactly_one(self.bay[job.key].values())

    def solve(self, limit_s):
        """(proven, objective, its schedule)."""
        solver = cp_model.CpSolver()
        solver.parameters.max_time_in_seconds = limit_s
        solver.parameters.num_workers = 4
        status = solver.solve(self.model)
        assert status in (cp_model.OPTIMAL, cp_model.FEASIBLE), "a plan of the engine is none for the oracle"
        self.bound = int(solver.best_objective_bound)
        return status == cp_model.OPTIMAL, solver.objective_value, self._schedule(solver)

    def _schedule(self, solver):
        return Schedule({job.key: self._plan(solver, job) for job in self.problem.jobs})

    def _plan(self, solver, job):
        def at(variable):
            return START + solver.value(variable) * STEP

        bay = next(bay for bay, stands in self.bay[job.key].items() if solver.value(stands))
        stay = tuple(at(each) for each in self.stay[job.key])
        tasks = []
        for task in job.tasks:
            key = (job.key, task.key)
            workers = tuple(worker for worker, takes in self.takes.get(key, {}).items() if solver.value(takes))
            span = at(self.start[key]), at(self.end[key])
            tasks.append(PlacedTask(task.key, job.key, task.words, task.kind, *span, workers, bay))
        return JobPlan(job.key, at(self.ready[job.key]), bay, *stay, tuple(tasks), "", (), ((bay, *stay),))


def alone(problem):
    """What each coach costs at least: what CP-SAT proves of it with the whole shop to itself."""
    floors = {}
    for job in problem.jobs:
        single = replace(problem, jobs=(job,))
        oracle = ShiftOracle(single, prepare(single).plan())
        oracle.solve(5)
        floors[job.key] = oracle.bound
    return floors


def worth(problem, schedule):
    """The oracle's objective of a schedule, and how much of it is lateness."""
    late = sum(job.weight * max(0, steps(schedule.jobs[job.key].ready_at - job.promised_at)) for job in problem.jobs)
    ready = sum(job.weight * steps(schedule.jobs[job.key].ready_at - START) for job in problem.jobs)
    return 100 * late + ready, 100 * late / (100 * late + ready)


@pytest.mark.parametrize(("jobs", "strands"), SIZES)
def test_the_search_comes_close_to_the_proven_optimum_of_shops_with_nights(jobs, strands, capsys):
    gaps, too_far = [], []
    lines = [f"\n{jobs} coaches x {5 + 3 * strands} operations; nights, weekends, midday breaks"]
    lines.append("shop  one pass     search       best  proven  above  lateness  seconds")
    for seed in SEEDS:
        problem = small_shop(seed, jobs, strands)
        started = time.perf_counter()
        one_pass, _ = worth(problem, prepare(problem).plan())
        found = search(prepare(problem), schedules=SCHEDULES, seed=seed)
        assert violations(problem, found.schedule) == []
        mine, share = worth(problem, found.schedule)
        proven, best, schedule = ShiftOracle(problem, found.schedule, alone(problem)).solve(LIMIT_S)
        # The oracle's own plan obeys every rule the checker knows, and is worth what the oracle says.
        assert violations(problem, schedule) == []
        assert worth(problem, schedule)[0] == pytest.approx(best)
        figures = (
            f"{seed:4}  {one_pass:8.0f}  {mine:9.0f}  {best:9.0f}  {proven!s:6}  {mine / best - 1:5.2%}  {share:8.0%}"
        )
        lines.append(f"{figures}  {time.perf_counter() - started:7.1f}")
        if proven:
            assert mine >= best - 1e-6  # an optimum that is beaten is none: then the two models differ
            assert share > 0.5, "lateness does not dominate; the shop tells nothing"
            gaps.append(mine / best - 1)
            too_far += [seed] if gaps[-1] > MOST_ABOVE else []
    mean, worst = sum(gaps) / max(1, len(gaps)), max(gaps, default=0.0)
    with capsys.disabled():
        print("\n".join(lines))
        print(f"{len(gaps)} of {len(SEEDS)} proven; mean {mean:.2%} above, worst {worst:.2%}")
    assert gaps, "nothing was proven optimal" + "\n".join(lines)
    assert too_far == []
