"""What cannot be planned is refused before any planning, with the operation's name and what to change."""

from datetime import timedelta
from itertools import pairwise

from estimates.calc.plan.model import KINDS, LABOUR, Problem, Task


def check_problem(problem: Problem) -> None:
    """Raise ValueError in words unless the problem can be planned at all."""
    if not problem.shifts:
        raise ValueError("The shop has no opening hours to plan in.")
    if any(later[0] < earlier[1] for earlier, later in pairwise(problem.shifts)):
        raise ValueError("The shifts must be in order and must not overlap.")
    for job in problem.jobs:
        keys = {task.key for task in job.tasks}
        if len(keys) != len(job.tasks):
            raise ValueError(f"{job.key} has two tasks of one name.")
        if unknown := {*job.bay_choices, *([job.bay] if job.bay else [])} - set(problem.bays):
            raise ValueError(f"{job.key} asks for {', '.join(sorted(unknown))}, which is not a bay of the shop.")
        for task in job.tasks:
            _check_task(task, keys)
            _check_crew(task, problem)


def _check_task(task: Task, keys: set[str]) -> None:
    if task.kind not in KINDS:
        raise ValueError(f"“{task.words}” must be one of {', '.join(KINDS)}, got {task.kind!r}.")
    if task.duration < timedelta(0):
        raise ValueError(f"“{task.words}” has a negative duration.")
    if unknown := set(task.after) - keys:
        raise ValueError(f"“{task.words}” comes after {', '.join(sorted(unknown))}, which is not in the job.")


def _check_crew(task: Task, problem: Problem) -> None:
    if task.started_at or task.finished_at or task.kind != LABOUR:
        return
    for skill, people in task.crew:
        able = sum(skill in worker.skills for worker in problem.workers)
        if able < people:
            raise ValueError(f"“{task.words}” needs {people} with the skill {skill}; the shop has {able}.")
    if sum(people for _, people in task.crew) > len(problem.workers):
        raise ValueError(f"“{task.words}” needs more people than the shop has.")
