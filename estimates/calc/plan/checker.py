"""An independent check of a schedule: every rule once more, straightforward and slow."""

from collections.abc import Iterator
from datetime import datetime, timedelta
from itertools import combinations, pairwise

from estimates.calc.plan.axis import LONGEST_BREAK_S
from estimates.calc.plan.model import EVENT, LABOUR, WAIT, JobPlan, PlacedTask, PlanJob, Problem, Schedule, Task

SECOND = timedelta(seconds=1)
LONGEST_BREAK = timedelta(seconds=LONGEST_BREAK_S)


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
    if task.started_at:
        if own.start_at != task.started_at.replace(microsecond=0) and own.start_at != task.started_at:
            yield "running or finished work was moved"
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
    for skill, people in task.crew:
        if sum(skill in skills[key] for key in own.workers) < people:
            yield f"too few who can do {skill}"


def _people_faults(problem: Problem, schedule: Schedule) -> Iterator[str]:
    running = {(job.key, task.key) for job in problem.jobs for task in job.tasks if task.started_at}
    for worker in problem.workers:
        own = [
            each
            for plan in schedule.jobs.values()
            for each in plan.tasks
            if worker.key in each.workers and each.kind == LABOUR and (each.job_key, each.key) not in running
        ]
        for first, second in combinations(own, 2):
            if _overlap(problem, first, second.start_at, second.end_at):
                yield f"{worker.key} is on {first.key} and {second.key} at once"
        for each in own:
            if any(_overlap(problem, each, start_at, end_at) for start_at, end_at in worker.away):
                yield f"{worker.key} is away during {each.key}"


def _overlap(problem: Problem, task: PlacedTask, start_at: datetime, end_at: datetime) -> bool:
    """Whether both share working time (a pause over night is nobody's)."""
    begin, end = max(task.start_at, start_at), min(task.end_at, end_at)
    return any(max(opens, begin) < min(closes, end) for opens, closes in problem.shifts)


def _bay_faults(problem: Problem, schedule: Schedule) -> Iterator[str]:
    held: dict[str, list[JobPlan]] = {}
    for job in problem.jobs:
        plan = schedule.jobs[job.key]
        yield from _stay_faults(job, plan)
        if plan.bay:
            held.setdefault(plan.bay, []).append(plan)
    for bay, plans in held.items():
        for first, second in combinations(plans, 2):
            if _together(first, second):
                yield f"{first.key} and {second.key} stand in {bay} at once"


def _stay_faults(job: PlanJob, plan: JobPlan) -> Iterator[str]:
    open_bay_tasks = {task.key for task in job.tasks if task.needs_bay and not task.finished_at}
    if open_bay_tasks and not plan.bay:
        yield f"{job.key}: bay work without a bay"
    if plan.bay and job.bay is None and plan.bay not in job.bay_choices:
        yield f"{job.key}: does not fit {plan.bay}"
    for each in plan.tasks:
        if plan.bay and each.key in open_bay_tasks and not _inside(plan, each):
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
