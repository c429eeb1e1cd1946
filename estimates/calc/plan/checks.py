"""What cannot be planned is refused before any planning, with the operation's name and what to change."""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from datetime import timedelta
from itertools import pairwise

from estimates.calc.plan.building import Builder, can_staff, claims_bay
from estimates.calc.plan.model import KINDS, LABOUR, PlanJob, Problem, Span, Task

# A person's skills are bits of one whole number.
MOST_SKILLS = 62


def check_problem(problem: Problem) -> None:
    """Raise ValueError in words unless the problem can be read; check_circles and check_shifts go on from there."""
    if not problem.shifts:
        raise ValueError("The shop has no opening hours to plan in. Give it some.")
    _check_spans(problem.shifts, "The shifts")
    for worker in problem.workers:
        _check_spans(worker.hours or (), f"The hours of {worker.key}")
    if len({skill for worker in problem.workers for skill in worker.skills}) > MOST_SKILLS:
        raise ValueError(f"The shop's people have more than {MOST_SKILLS} different skills. Join some.")
    _check_names([job.key for job in problem.jobs], "The shop has two jobs of the name {}.")
    things = dict(problem.equipment)
    for job in problem.jobs:
        _check_job(job, problem)
        for task in job.tasks:
            _check_task(task, things)
    _check_crews(problem)


def check_circles(builder: Builder) -> None:
    """Raise ValueError for tasks of a job that wait for each other."""
    for job, order in zip(builder.problem.jobs, builder.orders, strict=True):
        if len(order) == len(job.tasks):
            continue
        placed = set(order)
        words = ", ".join(f"“{task.words}”" for place, task in enumerate(job.tasks) if place not in placed)
        raise ValueError(f"In {job.called} these wait for each other in a circle: {words}. Take one out of the order.")


def check_shifts(builder: Builder) -> None:
    """Raise ValueError for work in one shift that no shift of those who can do it holds."""
    for job in builder.problem.jobs:
        for task in job.tasks:
            if not task.in_one_shift or task.started_at or task.finished_at or task.kind != LABOUR:
                continue
            longest = builder.longest_block_s(task)
            if task.duration > timedelta(seconds=longest):
                raise ValueError(
                    f"“{task.words}” of {job.called} must be done in one shift and takes {_hours(task.duration)} h, "
                    f"but no shift of those who can do it is longer than {_hours(timedelta(seconds=longest))} h. "
                    "Split it, give it more people and fewer hours, or let it pause over night."
                )


def letting_pause(tasks: Iterable[Task], longest_shift: timedelta) -> Iterator[Task]:
    """The tasks, those that must be done in one shift and fit none let pause over night.

    For who must have a plan of the whole shop whatever was typed into one operation.
    """
    for task in tasks:
        yield replace(task, in_one_shift=False) if task.in_one_shift and task.duration > longest_shift else task


def _hours(span: timedelta) -> str:
    return f"{span / timedelta(hours=1):.1f}".removesuffix(".0")


def _check_spans(spans: Sequence[Span], whose: str) -> None:
    if any(later[0] < earlier[1] for earlier, later in pairwise(spans)) or any(end <= begin for begin, end in spans):
        raise ValueError(f"{whose} must be in order and must not overlap.")


def _check_names(names: Sequence[str], words: str) -> None:
    doubled = sorted({name for name in names if names.count(name) > 1}) if len(set(names)) < len(names) else []
    if doubled:
        raise ValueError(words.format(", ".join(doubled)))


def _check_job(job: PlanJob, problem: Problem) -> None:
    keys = {task.key for task in job.tasks}
    if len(keys) != len(job.tasks):
        raise ValueError(f"{job.called} has two tasks of one name.")
    if unknown := {*job.bay_choices, *([job.bay] if job.bay else [])} - set(problem.bays):
        raise ValueError(f"{job.called} asks for {', '.join(sorted(unknown))}, which is not a bay of the shop.")
    for task in job.tasks:
        if unknown := {*task.after, *(key for key, _ in task.lags)} - keys:
            raise ValueError(f"“{task.words}” comes after {', '.join(sorted(unknown))}, which is not in the job.")
    needing = [task for task in job.tasks if claims_bay(job, task)]
    if needing and not job.bay and not job.bay_choices:
        raise ValueError(
            f"No bay is long enough for the coach of {job.called}, and “{needing[0].words}” needs one. "
            "Change the bay's longest coach, or do the work outside."
        )


def _check_task(task: Task, things: dict[str, int]) -> None:
    if task.kind not in KINDS:
        raise ValueError(f"“{task.words}” must be one of {', '.join(KINDS)}, got {task.kind!r}.")
    if task.duration < timedelta(0):
        raise ValueError(f"“{task.words}” has a negative duration.")
    if task.lags and min(lag for _, lag in task.lags) < timedelta(0):
        raise ValueError(f"“{task.words}” has a negative lag. A lag is the least time after another task.")
    if not 0 <= task.chance <= 1:
        raise ValueError(f"“{task.words}” has a chance of {task.chance}; it must lie between 0 and 1.")
    for name, count in task.equipment:
        if count > things.get(name, 0):
            raise ValueError(f"“{task.words}” needs {count} x {name}; the shop has {things.get(name, 0)}.")


def _check_crews(problem: Problem) -> None:
    """Each crew is looked at once, by the first task that asks for it."""
    asking: dict[tuple[tuple[str, int], ...], Task] = {}
    for job in problem.jobs:
        for task in job.tasks:
            if task.kind == LABOUR and not task.started_at and not task.finished_at:
                asking.setdefault(task.crew, task)
    for task in asking.values():
        _check_crew(task, problem)


def _check_crew(task: Task, problem: Problem) -> None:
    for skill, people in task.crew:
        able = sum(skill in worker.skills for worker in problem.workers)
        if able < people:
            raise ValueError(f"“{task.words}” needs {people} with the skill {skill}; the shop has {able}.")
    if sum(people for _, people in task.crew) > len(problem.workers):
        raise ValueError(f"“{task.words}” needs more people than the shop has.")
    if len(task.crew) > 1 and not can_staff(task.crew, problem.workers):
        crew = ", ".join(f"{people} x {skill}" for skill, people in task.crew)
        raise ValueError(f"“{task.words}” needs {crew} at once; the shop has too few people who can.")
