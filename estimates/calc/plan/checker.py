"""An independent check of a schedule: every rule once more, straightforward and slow."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import combinations, pairwise

from estimates.calc.plan.calendars import LONGEST_BREAK_S
from estimates.calc.plan.model import EVENT, LABOUR, WAIT, JobPlan, PlacedTask, PlanJob, Problem, Schedule, Task

SECOND = timedelta(seconds=1)
LONGEST_BREAK = timedelta(seconds=LONGEST_BREAK_S)
LEAST_REMAINDER = timedelta(minutes=15)


def violations(problem: Problem, schedule: Schedule) -> list[str]:
    """Every broken rule, in words; an empty list when the schedule can be carried out."""
    return [*_job_faults(problem, schedule), *_people_faults(problem, schedule), *_bay_faults(problem, schedule)]


def _job_faults(problem: Problem, schedule: Schedule) -> Iterator[str]:
    for job in problem.jobs:
        plan = schedule.jobs[job.key]
        placed = {each.key: each for each in plan.tasks}
        if set(placed) != {task.key for task in job.tasks}:
            yield f"{job.key}: not every task is placed"
            continue
        for task in job.tasks:
            yield from (f"{job.key}/{task.key}: {fault}" for fault in _task_faults(problem, job, task, placed))
        if any(each.end_at > plan.ready_at for each in plan.tasks):
            yield f"{job.key}: ready before its work is over"


def _task_faults(problem: Problem, job: PlanJob, task: Task, placed: dict[str, PlacedTask]) -> Iterator[str]:
    own = placed[task.key]
    if task.started_at or task.finished_at:
        yield from _past_faults(problem, task, own)
        return
    is_marker = task.kind == EVENT and not task.not_before and not task.in_shop_hours
    if not (is_marker and task.after) and own.start_at < max(problem.now, job.release_at) - SECOND:
        yield "starts before now or before the coach is there"
    if task.not_before and own.start_at < task.not_before - SECOND:
        yield "starts before it may"
    if any(placed[key].end_at > own.start_at for key in task.after):
        yield "starts before what comes first is over"
    if task.kind == WAIT and own.end_at - own.start_at != task.duration:
        yield "a wait of the wrong length"
    if task.kind == LABOUR and task.duration:
        yield from _labour_faults(problem, task, own)


def _past_faults(problem: Problem, task: Task, own: PlacedTask) -> Iterator[str]:
    """Finished work stays as it was; running work keeps start and people and goes on from now."""
    begun_at = task.started_at or task.finished_at or problem.now
    if task.finished_at:
        if abs(own.start_at - begun_at) > SECOND or abs(own.end_at - task.finished_at) > SECOND:
            yield "finished work was moved"
        return
    if abs(own.start_at - min(begun_at, problem.now)) > SECOND:
        yield "running work was moved"
    known = {worker.key for worker in problem.workers}
    if task.kind == LABOUR and set(own.workers) != set(task.fixed_workers) & known:
        yield "running work changed hands"
    if task.kind == LABOUR and _working_time(problem, problem.now, own.end_at) < _remainder(problem, task) - SECOND:
        yield "running work ends before the rest of it is done"


def _remainder(problem: Problem, task: Task) -> timedelta:
    begun_at = min(task.started_at or problem.now, problem.now)
    return max(task.duration - _working_time(problem, begun_at, problem.now), LEAST_REMAINDER)


def _working_time(problem: Problem, start_at: datetime, end_at: datetime) -> timedelta:
    spans = (min(closes, end_at) - max(opens, start_at) for opens, closes in problem.shifts)
    return sum((span for span in spans if span > timedelta(0)), timedelta(0))


def _labour_faults(problem: Problem, task: Task, own: PlacedTask) -> Iterator[str]:
    spans = [
        (max(opens, own.start_at), min(closes, own.end_at))
        for opens, closes in problem.shifts
        if opens < own.end_at and closes > own.start_at
    ]
    if sum((end - begin for begin, end in spans), timedelta(0)) != task.duration:
        yield "labour of the wrong length in working time"
    longest = max(closes - opens for opens, closes in problem.shifts)
    pauses = [later[0] - earlier[1] for earlier, later in pairwise(spans)]
    if task.in_one_shift and task.duration <= longest and any(pause > LONGEST_BREAK for pause in pauses):
        yield "cut by a night though it must be done in one shift"
    skills = {worker.key: worker.skills for worker in problem.workers}
    slots = [skill for skill, people in task.crew for _ in range(people)]
    if len(own.workers) != len(slots) or len(set(own.workers)) != len(own.workers):
        yield "a crew of the wrong size"
    elif not _can_fill(slots, [skills[key] for key in own.workers]):
        yield "a crew without the skills"


def _can_fill(slots: list[str], people: list[frozenset[str]]) -> bool:
    """Whether each person can be given a place of their own: every way is tried."""
    if not slots:
        return True
    return any(
        slots[0] in own and _can_fill(slots[1:], people[:number] + people[number + 1 :])
        for number, own in enumerate(people)
    )


def _people_faults(problem: Problem, schedule: Schedule) -> Iterator[str]:
    tasks = {(job.key, task.key): task for job in problem.jobs for task in job.tasks}
    for worker in problem.workers:
        own = [
            (each.key, *_span_to_come(problem, tasks[each.job_key, each.key], each))
            for plan in schedule.jobs.values()
            for each in plan.tasks
            if worker.key in each.workers and not tasks[each.job_key, each.key].finished_at
        ]
        for first, second in combinations(own, 2):
            if _shares_work(problem, first[1:], second[1:]):
                yield f"{worker.key} is on {first[0]} and {second[0]} at once"
        for key, *span in own:
            if any(_shares_work(problem, (span[0], span[1]), away) for away in worker.away):
                yield f"{worker.key} is away during {key}"


def _span_to_come(problem: Problem, task: Task, own: PlacedTask) -> tuple[datetime, datetime]:
    """From when until when the task still takes its people: for running work, the remainder at its end."""
    if not task.started_at:
        return own.start_at, own.end_at
    left = _remainder(problem, task)
    for opens, closes in reversed(problem.shifts):
        closes = min(closes, own.end_at)
        if closes - opens >= left:
            return closes - left, own.end_at
        left -= max(closes - opens, timedelta(0))
    return own.start_at, own.end_at


def _shares_work(problem: Problem, first: tuple[datetime, datetime], second: tuple[datetime, datetime]) -> bool:
    """Whether two spans share working time (a pause over night is nobody's)."""
    begin, end = max(first[0], second[0]), min(first[1], second[1])
    return any(max(opens, begin) < min(closes, end) for opens, closes in problem.shifts)


def _bay_faults(problem: Problem, schedule: Schedule) -> Iterator[str]:
    held: dict[str, list[JobPlan]] = {}
    for job in problem.jobs:
        plan = schedule.jobs[job.key]
        yield from _stay_faults(problem, job, plan)
        if plan.bay:
            held.setdefault(plan.bay, []).append(plan)
    for bay, plans in held.items():
        for first, second in combinations(plans, 2):
            if _together(first, second):
                yield f"{first.key} and {second.key} stand in {bay} at once"


def _stay_faults(problem: Problem, job: PlanJob, plan: JobPlan) -> Iterator[str]:
    # Work that runs while the coach stands in no bay is being done elsewhere.
    claims = {
        task.key
        for task in job.tasks
        if task.needs_bay and not task.finished_at and (job.is_in_bay or not task.started_at)
    }
    if claims and not plan.bay:
        yield f"{job.key}: bay work without a bay"
    if plan.bay and plan.bay not in ((job.bay,) if job.bay else job.bay_choices):
        yield f"{job.key}: not asked for, or too small: {plan.bay}"
    if job.is_in_bay and job.bay and not (plan.bay_from_at and plan.bay_from_at <= problem.now):
        yield f"{job.key}: stands in {job.bay} but does not hold it"
    for each in plan.tasks:
        if plan.bay and each.key in claims and not _inside(plan, each):
            yield f"{job.key}/{each.key}: bay work outside the stay in the bay"


def _inside(plan: JobPlan, task: PlacedTask) -> bool:
    return bool(
        plan.bay_from_at
        and plan.bay_until_at
        and plan.bay_from_at <= task.start_at
        and task.end_at <= plan.bay_until_at
    )


def _together(first: JobPlan, second: JobPlan) -> bool:
    if not (first.bay_from_at and first.bay_until_at and second.bay_from_at and second.bay_until_at):
        return False
    return max(first.bay_from_at, second.bay_from_at) < min(first.bay_until_at, second.bay_until_at)
