"""What the planner is given and what it answers: frozen values, aware times."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from itertools import pairwise

LABOUR, WAIT, EVENT = KINDS = ("labour", "wait", "event")


class HorizonTooShort(Exception):
    """The shifts given end before the work does; ask again with more of them."""


@dataclass(frozen=True)
class Worker:
    """A person: what they can do and when they are away."""

    key: str
    skills: frozenset[str]
    away: tuple[tuple[datetime, datetime], ...] = ()


@dataclass(frozen=True)
class Task:
    """A piece of a job.

    Labour takes `duration` of working time from its crew and may pause over night unless in_one_shift
    (then only for a midday break; what is longer than any shift begins with one).
    A wait takes `duration` of elapsed time. An event takes none: it happens once its predecessors are
    over and not_before has come, in_shop_hours at an open moment.
    """

    key: str
    words: str
    kind: str
    duration: timedelta
    crew: tuple[tuple[str, int], ...] = ()  # (skill, people)
    after: tuple[str, ...] = ()  # keys of tasks of the same job
    not_before: datetime | None = None
    in_one_shift: bool = False
    in_shop_hours: bool = False
    needs_bay: bool = False
    started_at: datetime | None = None
    finished_at: datetime | None = None
    fixed_workers: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlanJob:
    """A coach's job. `bay` is the one asked for or stood in; without it any of bay_choices may serve."""

    key: str
    priority: int  # 1 comes first
    release_at: datetime
    promised_at: datetime | None = None
    bay: str | None = None
    is_in_bay: bool = False
    bay_choices: tuple[str, ...] = ()
    tasks: tuple[Task, ...] = ()


@dataclass(frozen=True)
class Problem:
    """The whole shop at `now`. `shifts`: sorted working spans that cover running work and the horizon."""

    now: datetime
    shifts: tuple[tuple[datetime, datetime], ...]
    workers: tuple[Worker, ...]
    bays: tuple[str, ...]
    jobs: tuple[PlanJob, ...]


@dataclass(frozen=True)
class PlacedTask:
    key: str
    job_key: str
    words: str
    kind: str
    start_at: datetime
    end_at: datetime
    workers: tuple[str, ...] = ()


@dataclass(frozen=True)
class JobPlan:
    """When a job's tasks happen, when the coach is ready, and which bay it holds from when until when."""

    key: str
    ready_at: datetime
    bay: str | None
    bay_from_at: datetime | None
    bay_until_at: datetime | None
    tasks: tuple[PlacedTask, ...]
    blocked_by: str
    critical: tuple[str, ...]


@dataclass(frozen=True)
class Schedule:
    jobs: Mapping[str, JobPlan] = field(default_factory=dict)


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
