"""Serial schedule generation: job after job, task after task, each as early as it can.

Deterministic. Coaches that stand in a bay come first, then begun work, then priority, promise, release, key.
Inside a job the eligible task with the longest way still to go comes first (latest start time rule,
Kolisch 1996).
"""

import heapq
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime

from estimates.calc.plan.axis import SECOND, WorkAxis, moment, seconds
from estimates.calc.plan.checks import check_problem
from estimates.calc.plan.model import (
    EVENT,
    LABOUR,
    WAIT,
    JobPlan,
    PlacedTask,
    PlanJob,
    Problem,
    Schedule,
    Task,
)
from estimates.calc.plan.people import People, can_staff

# What is running is never taken for finished: this much is left of it at least.
LEAST_REMAINDER_S = 15 * 60
NO_PROMISE = datetime.max.replace(tzinfo=UTC)

Span = tuple[int, int]


@dataclass(frozen=True)
class _Placed:
    task: Task
    start: int  # clock seconds
    end: int
    workers: tuple[str, ...] = ()


@dataclass
class _Trial:
    """A job placed on trial in one bay."""

    placed: dict[str, _Placed]
    bay: str | None
    bay_span: Span | None

    @property
    def end(self) -> int:
        return max((each.end for each in self.placed.values()), default=0)


def plan(problem: Problem) -> Schedule:
    """Plan every job of the shop. Raises ValueError in words, or HorizonTooShort for more shifts."""
    check_problem(problem)
    _check_staffing(problem)
    return _Engine(problem).run()


class _Engine:
    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.now = seconds(problem.now)
        self.axis = WorkAxis(problem.shifts)
        self.people = People(problem.workers, self.axis)
        self.bays: dict[str, list[Span]] = {bay: [] for bay in problem.bays}
        self.running: dict[tuple[str, str], _Placed] = {}

    def run(self) -> Schedule:
        jobs = sorted(self.problem.jobs, key=_job_order)
        for job in jobs:
            for task in job.tasks:
                if task.started_at and not task.finished_at:
                    self.running[job.key, task.key] = self._running(task)
        for job in jobs:
            if job.is_in_bay and job.bay:
                # Nobody else enters while this coach stands there, however late it is planned.
                self.bays[job.bay].append((self.now, self.now + 1))
        return Schedule({job.key: self._job_plan(job, self._place(job)) for job in jobs})

    def _running(self, task: Task) -> _Placed:
        """Running work keeps its start and its people and goes on with what is left of it."""
        start = min(seconds(task.started_at or self.problem.now), self.now)
        length = task.duration // SECOND
        if task.kind != LABOUR:
            return _Placed(task, start, max(start + length, self.now))
        now_work = self.axis.work(self.now)
        left = max(length - (now_work - self.axis.work(start)), LEAST_REMAINDER_S)
        known = tuple(key for key in task.fixed_workers if key in self.people.busy)
        begin = self.people.free_from(known, now_work, left)
        self.people.book(known, begin, begin + left)
        return _Placed(task, start, self.axis.end_clock(begin + left), known)

    def _place(self, job: PlanJob) -> _Trial:
        """Try each bay that may serve and keep the one that is ready first."""
        order = _serial_order(job)
        best: _Trial | None = None
        mark = len(self.people.log)
        for bay in self._bay_options(job):
            trial = self._place_in(job, order, bay)
            if best is None or trial.end < best.end:
                best = trial
            self.people.undo_to(mark)
        if best is None:
            best = self._trial(job, order, None, self.now)
            self.people.undo_to(mark)
        self._book(job, best)
        return best

    def _bay_options(self, job: PlanJob) -> Sequence[str]:
        if not any(_claims_bay(job, task) for task in job.tasks):
            return [job.bay] if job.is_in_bay and job.bay else []
        if job.bay:
            return [job.bay]
        if not job.bay_choices:
            raise ValueError(f"No bay is long enough for the coach of {job.key}.")
        return job.bay_choices

    def _place_in(self, job: PlanJob, order: Sequence[Task], bay: str) -> _Trial:
        """Place the job in the first gap of the bay that is long enough."""
        if job.is_in_bay:
            return self._trial(job, order, bay, self.now)
        mark = len(self.people.log)
        taken = sorted(self.bays[bay])
        for number, gap_from in enumerate([self.now, *(until for _, until in taken)]):
            gap_until = taken[number][0] if number < len(taken) else None
            trial = self._trial(job, order, bay, gap_from)
            if trial.bay_span is None or gap_until is None or trial.bay_span[1] <= gap_until:
                return trial
            self.people.undo_to(mark)
        raise AssertionError  # the last gap has no end

    def _trial(self, job: PlanJob, order: Sequence[Task], bay: str | None, bay_from: int) -> _Trial:
        placed: dict[str, _Placed] = {}
        for task in order:
            placed[task.key] = self._place_task(job, task, placed, bay_from)
        held = [each for each in placed.values() if _claims_bay(job, each.task)]
        span = (min(each.start for each in held), max(each.end for each in held)) if held and bay else None
        if job.is_in_bay and bay:
            begun = [each.start for each in placed.values() if each.task.needs_bay]
            span = (min([self.now, *begun]), max([self.now, *(each.end for each in held)]))
        return _Trial(placed, bay, span)

    def _place_task(self, job: PlanJob, task: Task, placed: dict[str, _Placed], bay_from: int) -> _Placed:
        if task.finished_at:
            begun_at = task.started_at or task.finished_at
            return _Placed(task, seconds(begun_at), seconds(task.finished_at), task.fixed_workers)
        if task.started_at:
            return self.running[job.key, task.key]
        over = [placed[key].end for key in task.after]
        if task.kind == EVENT and over and not task.not_before and not task.in_shop_hours:
            return _Placed(task, max(over), max(over))  # a mere marker: it may lie in the past
        earliest = max([self.now, seconds(job.release_at), *over])
        if task.not_before:
            earliest = max(earliest, seconds(task.not_before))
        if task.needs_bay:
            earliest = max(earliest, bay_from)
        length = task.duration // SECOND
        if task.kind == WAIT:
            return _Placed(task, earliest, earliest + length)
        if task.kind == EVENT or not length:
            at = self.axis.open_clock(earliest) if task.in_shop_hours else earliest
            return _Placed(task, at, at)
        return self._place_labour(task, earliest, length)

    def _place_labour(self, task: Task, earliest: int, length: int) -> _Placed:
        begin, workers = self.people.find(task.crew, self.axis.work(earliest), length, in_one_shift=task.in_one_shift)
        self.people.book(workers, begin, begin + length)
        return _Placed(task, self.axis.start_clock(begin), self.axis.end_clock(begin + length), workers)

    def _book(self, job: PlanJob, trial: _Trial) -> None:
        for each in trial.placed.values():
            if each.task.kind == LABOUR and not each.task.started_at and not each.task.finished_at:
                self.people.book(each.workers, self.axis.work(each.start), self.axis.work(each.end))
        if trial.bay and trial.bay_span:
            begin, end = trial.bay_span
            self.bays[trial.bay].append((max(begin, self.now), max(end, self.now + 1)))

    def _job_plan(self, job: PlanJob, trial: _Trial) -> JobPlan:
        ready = max(trial.end, seconds(job.release_at)) if trial.placed else seconds(job.release_at)
        if ready > self.now:
            # A cure that ends on a Sunday night is handed over when somebody is there.
            ready = self.axis.open_clock(ready)
        span = trial.bay_span
        return JobPlan(
            key=job.key,
            ready_at=moment(ready),
            bay=trial.bay if span else None,
            bay_from_at=moment(span[0]) if span else None,
            bay_until_at=moment(span[1]) if span else None,
            tasks=tuple(_placed_task(job, trial.placed[task.key]) for task in job.tasks),
            blocked_by=self._blocked_by(job, trial),
            critical=_critical(trial.placed),
        )

    def _blocked_by(self, job: PlanJob, trial: _Trial) -> str:
        """What the coach waits for now, in words: an answer or a check first, then what runs, then what is next."""
        if seconds(job.release_at) > self.now:
            return "Arrival"
        open_tasks = [each for each in trial.placed.values() if not each.task.finished_at and each.task.duration]
        due = [
            each.task.words
            for each in trial.placed.values()
            if each.task.kind == EVENT
            and not each.task.finished_at
            and (each.task.not_before or each.task.in_shop_hours)
            and all(trial.placed[key].end <= self.now for key in each.task.after)
        ]
        running = [each.task.words for each in open_tasks if each.task.started_at]
        following = [each.task.words for each in sorted(open_tasks, key=lambda each: each.start)]
        return next(iter([*due, *running, *following]), "")


def _check_staffing(problem: Problem) -> None:
    """Raise ValueError for a crew whose skills the shop has, but in too few people."""
    for task in (task for job in problem.jobs for task in job.tasks):
        is_to_do = task.kind == LABOUR and not task.started_at and not task.finished_at
        if is_to_do and not can_staff(task.crew, problem.workers):
            crew = ", ".join(f"{people} x {skill}" for skill, people in task.crew)
            raise ValueError(f"“{task.words}” needs {crew} at once; the shop has too few people who can.")


def _claims_bay(job: PlanJob, task: Task) -> bool:
    """Whether a task keeps the coach's bay: work to come, and in a bay also what runs there now."""
    return task.needs_bay and not task.finished_at and (job.is_in_bay or not task.started_at)


def _job_order(job: PlanJob) -> tuple[bool, bool, int, datetime, datetime, str]:
    # Who stands in a bay is placed before anybody else looks for one: its stay cannot be moved.
    has_begun = any(task.started_at for task in job.tasks)
    return (not job.is_in_bay, not has_begun, job.priority, job.promised_at or NO_PROMISE, job.release_at, job.key)


def _serial_order(job: PlanJob) -> list[Task]:
    """Tasks in an order that respects precedence, longest way to go first. Raises ValueError on a cycle."""
    tasks = {task.key: task for task in job.tasks}
    followers: dict[str, list[str]] = {key: [] for key in tasks}
    waiting = {key: len(set(task.after)) for key, task in tasks.items()}
    for task in job.tasks:
        for key in set(task.after):
            followers[key].append(task.key)
    to_go = _ways_to_go(job, tasks, followers)
    position = {task.key: number for number, task in enumerate(job.tasks)}
    eligible = [(-to_go[key], position[key], key) for key, count in waiting.items() if not count]
    heapq.heapify(eligible)
    order = []
    while eligible:
        _, _, key = heapq.heappop(eligible)
        order.append(tasks[key])
        for follower in followers[key]:
            waiting[follower] -= 1
            if not waiting[follower]:
                heapq.heappush(eligible, (-to_go[follower], position[follower], follower))
    return order


def _ways_to_go(job: PlanJob, tasks: dict[str, Task], followers: dict[str, list[str]]) -> dict[str, int]:
    """Seconds from each task's start to the job's end along the longest chain, people and nights left aside."""
    left = {key: len(after) for key, after in followers.items()}
    ready = [key for key, count in left.items() if not count]
    to_go: dict[str, int] = {}
    while ready:
        key = ready.pop()
        to_go[key] = tasks[key].duration // SECOND + max((to_go[each] for each in followers[key]), default=0)
        for before in set(tasks[key].after):
            left[before] -= 1
            if not left[before]:
                ready.append(before)
    if len(to_go) < len(tasks):
        raise ValueError(f"The tasks of {job.key} wait for each other in a circle.")
    return to_go


def _placed_task(job: PlanJob, placed: _Placed) -> PlacedTask:
    task = placed.task
    return PlacedTask(
        key=task.key,
        job_key=job.key,
        words=task.words,
        kind=task.kind,
        start_at=moment(placed.start),
        end_at=moment(placed.end),
        workers=placed.workers,
    )


def _critical(placed: dict[str, _Placed]) -> tuple[str, ...]:
    """The chain of predecessors that sets the end, first task first."""
    chain: list[str] = []
    current = max(placed.values(), key=lambda each: each.end, default=None)
    while current:
        chain.append(current.task.key)
        before = [placed[key] for key in current.task.after]
        current = max(before, key=lambda each: each.end, default=None)
    return tuple(reversed(chain))
