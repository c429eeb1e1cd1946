"""An independent check of a schedule: every rule once more, straightforward and slow."""

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime, timedelta
from functools import reduce
from itertools import pairwise

from estimates.calc.plan.model import (
    EVENT,
    LABOUR,
    WAIT,
    JobPlan,
    PlacedTask,
    PlanJob,
    Problem,
    Schedule,
    Span,
    Task,
    Worker,
)

SECOND = timedelta(seconds=1)
NOTHING = timedelta(0)
LONGEST_BREAK = timedelta(minutes=90)
LEAST_REMAINDER = timedelta(minutes=15)


class _Checked:
    """A problem, its schedule, and everybody's hours looked up once."""

    def __init__(self, problem: Problem, schedule: Schedule, left_out: frozenset[str]) -> None:
        self.problem, self.schedule, self.left_out = problem, schedule, left_out
        self.tasks = {(job.key, task.key): task for job in problem.jobs for task in job.tasks}
        self.hours = {worker.key: _own_hours(worker, problem.shifts) for worker in problem.workers}
        self.skills = {worker.key: worker.skills for worker in problem.workers}

    def is_done(self, task: Task) -> bool:
        """Whether a task is part of the plan at all."""
        return task.chance >= 1 and not (task.part and task.part in self.left_out)

    def common_hours(self, workers: Iterable[str]) -> Sequence[Span]:
        """When all of a crew is at work; the shop's shifts for nobody."""
        known = [self.hours[key] for key in workers if key in self.hours]
        return reduce(_shared, known) if known else self.problem.shifts


def violations(problem: Problem, schedule: Schedule, left_out: frozenset[str] = frozenset()) -> list[str]:
    """Every broken rule, in words; an empty list when the schedule can be carried out. left_out: as in a Change."""
    checked = _Checked(problem, schedule, left_out)
    return [
        *_job_faults(checked),
        *_people_faults(checked),
        *_equipment_faults(checked),
        *_bay_faults(checked),
    ]


def _own_hours(worker: Worker, shifts: tuple[Span, ...]) -> tuple[Span, ...]:
    if worker.hours is None and not worker.overtime:
        return shifts
    joined: list[Span] = []
    for begin, end in sorted([*(shifts if worker.hours is None else worker.hours), *worker.overtime]):
        if joined and begin < joined[-1][1]:
            joined[-1] = (joined[-1][0], max(end, joined[-1][1]))
        else:
            joined.append((begin, end))
    return tuple(joined)


def _shared(first: Sequence[Span], second: Sequence[Span]) -> Sequence[Span]:
    if first is second:
        return first
    return [piece for begin, end in first for piece in _pieces(second, begin, end)]


def _near(spans: Sequence[Span], begin: datetime, end: datetime) -> Sequence[Span]:
    """The spans that may share time with begin to end."""
    first = bisect_right(spans, begin, key=lambda span: span[0])
    last = bisect_right(spans, end, key=lambda span: span[0])
    return spans[max(0, first - 1) : last]


def _pieces(spans: Sequence[Span], begin: datetime, end: datetime) -> list[Span]:
    """What of the spans lies between begin and end."""
    cut = ((max(opens, begin), min(closes, end)) for opens, closes in _near(spans, begin, end))
    return [(opens, closes) for opens, closes in cut if opens < closes]


def _work(spans: Sequence[Span], begin: datetime, end: datetime) -> timedelta:
    return sum((closes - opens for opens, closes in _pieces(spans, begin, end)), NOTHING)


def _job_faults(checked: _Checked) -> Iterator[str]:
    for job in checked.problem.jobs:
        plan = checked.schedule.jobs[job.key]
        placed = {each.key: each for each in plan.tasks}
        if set(placed) != {task.key for task in job.tasks}:
            yield f"{job.key}: not every task is placed"
            continue
        for task in job.tasks:
            yield from (f"{job.key}/{task.key}: {fault}" for fault in _task_faults(checked, job, task, placed))
        done = [placed[task.key] for task in job.tasks if checked.is_done(task)]
        if any(each.end_at > plan.ready_at for each in done):
            yield f"{job.key}: ready before its work is over"


def _task_faults(checked: _Checked, job: PlanJob, task: Task, placed: dict[str, PlacedTask]) -> Iterator[str]:
    own = placed[task.key]
    if task.started_at or task.finished_at:
        yield from _past_faults(checked, task, own)
        return
    lags = dict(task.lags)
    before = {*task.after, *lags}
    if any(placed[key].end_at + lags.get(key, NOTHING) > own.start_at for key in before):
        yield "starts before what comes first is over"
    if checked.is_done(task) and task.kind == WAIT and task.equipment and not _is_open(checked, own.start_at):
        yield "begins while nobody is there to set its equipment up"
    if not checked.is_done(task):
        if own.workers or own.end_at != own.start_at:
            yield "takes time or people though it is left out"
        return
    yield from _start_faults(checked, job, task, own)
    if task.kind == WAIT and abs(own.end_at - _wait_end(task, own)) >= SECOND:
        yield "a wait of the wrong length"
    if task.kind == LABOUR and task.duration:
        yield from _labour_faults(checked, task, own)


def _wait_end(task: Task, own: PlacedTask) -> datetime:
    return max(own.start_at + task.duration, task.until or own.start_at)


def _start_faults(checked: _Checked, job: PlanJob, task: Task, own: PlacedTask) -> Iterator[str]:
    is_marker = task.kind == EVENT and not task.not_before and not task.in_shop_hours and (task.after or task.lags)
    if not is_marker and own.start_at < max(checked.problem.now, job.release_at) - SECOND:
        yield "starts before now or before the coach is there"
    if any(at and own.start_at < at - SECOND for at in (task.not_before, task.frozen_at)):
        yield "starts before it may"


def _past_faults(checked: _Checked, task: Task, own: PlacedTask) -> Iterator[str]:
    """Finished work stays as it was; running work keeps start and people and goes on from now."""
    now = checked.problem.now
    begun_at = task.started_at or task.finished_at or now
    if task.finished_at:
        if abs(own.start_at - begun_at) > SECOND or abs(own.end_at - task.finished_at) > SECOND:
            yield "finished work was moved"
        return
    if abs(own.start_at - min(begun_at, now)) > SECOND:
        yield "running work was moved"
    if task.kind == LABOUR and set(own.workers) != set(task.fixed_workers) & set(checked.hours):
        yield "running work changed hands"
    hours = checked.common_hours(own.workers)
    if task.kind == LABOUR and _work(hours, now, own.end_at) < _remainder(checked, task, own) - SECOND:
        yield "running work ends before the rest of it is done"


def _remainder(checked: _Checked, task: Task, own: PlacedTask) -> timedelta:
    now = checked.problem.now
    begun_at = min(task.started_at or now, now)
    return max(task.duration - _work(checked.common_hours(own.workers), begun_at, now), LEAST_REMAINDER)


def _labour_faults(checked: _Checked, task: Task, own: PlacedTask) -> Iterator[str]:
    spans = _pieces(checked.common_hours(own.workers), own.start_at, own.end_at)
    if sum((end - begin for begin, end in spans), NOTHING) != task.duration:
        yield "labour of the wrong length in working time"
    if task.in_one_shift and any(later[0] - earlier[1] > LONGEST_BREAK for earlier, later in pairwise(spans)):
        yield "cut by a night though it must be done in one shift"
    slots = [skill for skill, people in task.crew for _ in range(people)]
    if len(own.workers) != len(slots) or len(set(own.workers)) != len(own.workers):
        yield "a crew of the wrong size"
    elif not _can_fill(slots, [checked.skills[key] for key in own.workers]):
        yield "a crew without the skills"
    elif task.frozen_at and set(own.workers) != set(task.fixed_workers) and _makes_crew(checked, task, slots):
        yield "a start that was given out changed hands"


def _makes_crew(checked: _Checked, task: Task, slots: list[str]) -> bool:
    known = [checked.skills[key] for key in task.fixed_workers if key in checked.skills]
    return len(known) == len(slots) and _can_fill(slots, known)


def _can_fill(slots: list[str], people: list[frozenset[str]]) -> bool:
    """Whether each person can be given a place of their own: every way is tried."""
    if not slots:
        return True
    return any(
        slots[0] in own and _can_fill(slots[1:], people[:number] + people[number + 1 :])
        for number, own in enumerate(people)
    )


def _people_faults(checked: _Checked) -> Iterator[str]:
    for worker in checked.problem.workers:
        own = list(_spans_of(checked, worker.key))
        hours = checked.hours[worker.key]
        for first, second in _overlapping(own):
            if _work(hours, max(first[0], second[0]), min(first[1], second[1])) > NOTHING:
                yield f"{worker.key} is on {first[2]} and {second[2]} at once"
        for begin, end, key in own:
            if any(_work(hours, max(begin, away[0]), min(end, away[1])) > NOTHING for away in worker.away):
                yield f"{worker.key} is away during {key}"


def _spans_of(checked: _Checked, worker: str) -> Iterator[tuple[datetime, datetime, str]]:
    """What a person is on, from when until when."""
    for plan in checked.schedule.jobs.values():
        for each in plan.tasks:
            task = checked.tasks[each.job_key, each.key]
            if worker in each.workers and not task.finished_at:
                yield (*_span_to_come(checked, task, each), each.key)


def _overlapping(
    spans: Iterable[tuple[datetime, datetime, str]],
) -> Iterator[tuple[tuple[datetime, datetime, str], tuple[datetime, datetime, str]]]:
    """Pairs of spans that share time on the clock."""
    running: list[tuple[datetime, datetime, str]] = []
    for span in sorted(spans):
        running = [each for each in running if each[1] > span[0]]
        for each in running:
            yield each, span
        running.append(span)


def _span_to_come(checked: _Checked, task: Task, own: PlacedTask) -> Span:
    """From when until when the task still takes its people: for running work, the remainder at its end."""
    if not task.started_at:
        return own.start_at, own.end_at
    left = _remainder(checked, task, own)
    for opens, closes in reversed(_pieces(checked.common_hours(own.workers), checked.problem.now, own.end_at)):
        if closes - opens >= left:
            return closes - left, own.end_at
        left -= closes - opens
    return checked.problem.now, own.end_at


def _is_open(checked: _Checked, at: datetime) -> bool:
    return any(opens <= at <= closes for opens, closes in _near(checked.problem.shifts, at, at))


def _equipment_faults(checked: _Checked) -> Iterator[str]:
    """What runs may hold more than was counted; the plan gives none of it out as long as that is so."""
    for name, count in checked.problem.equipment:
        steps: list[tuple[datetime, int, bool, str]] = []
        for plan in checked.schedule.jobs.values():
            for each in plan.tasks:
                task = checked.tasks[each.job_key, each.key]
                need = dict(task.equipment).get(name, 0)
                if need and not task.finished_at and checked.is_done(task):
                    begin = max(each.start_at, checked.problem.now) if task.started_at else each.start_at
                    is_given_out = not task.started_at
                    ends = (each.end_at, -need, is_given_out, each.key)
                    steps += [(begin, need, is_given_out, each.key), ends] if begin < each.end_at else []
        used = given_out = 0
        for _, need, is_given_out, key in sorted(steps, key=lambda step: step[:3]):
            used += need
            given_out += need if is_given_out else 0
            if used > count and need > 0 and given_out:
                yield f"{used} of {count} {name} are in use when {key} begins"


def _bay_faults(checked: _Checked) -> Iterator[str]:
    held: dict[str, list[tuple[datetime, datetime, str]]] = {}
    for job in checked.problem.jobs:
        plan = checked.schedule.jobs[job.key]
        yield from _stay_faults(checked, job, plan)
        for bay, begin, end in plan.stays:
            held.setdefault(bay, []).append((begin, end, job.key))
    for bay, stays in held.items():
        for first, second in _overlapping(stays):
            if max(first[0], second[0]) < min(first[1], second[1]):
                yield f"{first[2]} and {second[2]} stand in {bay} at once"


def _stay_faults(checked: _Checked, job: PlanJob, plan: JobPlan) -> Iterator[str]:
    # Work that runs while the coach stands in no bay is being done elsewhere.
    claims = {
        task.key
        for task in job.tasks
        if task.needs_bay and not task.finished_at and (job.is_in_bay or not task.started_at) and checked.is_done(task)
    }
    may = {job.bay} if job.bay and not (job.parks_outside and job.bay_choices) else {*job.bay_choices, job.bay}
    if claims and not plan.stays:
        yield f"{job.key}: bay work without a bay"
    if len(plan.stays) > 1 and not job.parks_outside:
        yield f"{job.key}: leaves its bay though it does not park outside"
    yield from (f"{job.key}: not asked for, or too small: {bay}" for bay, _, _ in plan.stays if bay not in may)
    if job.is_in_bay and job.bay and not any(begin <= checked.problem.now for _, begin, _ in plan.stays):
        yield f"{job.key}: stands in {job.bay} but does not hold it"
    for each in plan.tasks:
        if plan.stays and each.key in claims and not _is_inside(plan, each):
            yield f"{job.key}/{each.key}: bay work outside the stay in the bay"


def _is_inside(plan: JobPlan, task: PlacedTask) -> bool:
    return any(begin <= task.start_at and task.end_at <= end for _, begin, end in plan.stays)
