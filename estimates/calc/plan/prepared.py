"""A problem made ready once, to be asked many what-ifs."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from itertools import product

from estimates.calc.plan.engine import plan
from estimates.calc.plan.model import Change, PlanJob, Problem, Schedule, Task

NO_CHANGE = Change()


class Prepared:
    """A problem whose arrays are built. Holds nothing that changes: one may be asked from several threads."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem

    def plan(self, change: Change = NO_CHANGE) -> Schedule:
        """The whole plan under a change. Raises HorizonTooShort for more shifts."""
        return plan(_changed(self.problem, change))

    def ready(self, change: Change = NO_CHANGE) -> dict[str, datetime]:
        """When each coach is ready under a change: the dates of plan(), without the rest."""
        return {key: job.ready_at for key, job in self.plan(change).jobs.items()}


def prepare(problem: Problem) -> Prepared:
    """Check a problem and build its arrays. Raises ValueError in words if it cannot be planned at all."""
    return Prepared(problem)


@dataclass(frozen=True)
class Choice:
    """An open choice of an owner. options: for each, the parts whose work it takes; none for *leave as is*."""

    key: str
    options: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Combination:
    """picks: for each choice the number of the option taken. ready_at: of every job of the shop."""

    picks: tuple[int, ...]
    ready_at: Mapping[str, datetime]


def yes_or_no(part: str) -> Choice:
    """The choice between a part's work (option 0) and none of it (option 1)."""
    return Choice(part, ((part,), ()))


def combinations(prepared: Prepared, choices: Sequence[Choice]) -> tuple[Combination, ...]:
    """The dates of every job for each way to answer all of the choices."""
    return tuple(_combinations(prepared, choices))


def _combinations(prepared: Prepared, choices: Sequence[Choice]) -> Iterator[Combination]:
    parts = {part for choice in choices for option in choice.options for part in option}
    for picks in product(*(range(len(choice.options)) for choice in choices)):
        taken = {part for choice, pick in zip(choices, picks, strict=True) for part in choice.options[pick]}
        yield Combination(picks, prepared.ready(Change(left_out=frozenset(parts - taken))))


def _changed(problem: Problem, change: Change) -> Problem:
    jobs = tuple(replace(job, tasks=tuple(_changed_tasks(job, change))) for job in problem.jobs)
    return replace(problem, jobs=jobs, order=change.order or problem.order)


def _changed_tasks(job: PlanJob, change: Change) -> Iterator[Task]:
    for task in job.tasks:
        if task.part and task.part in change.left_out:
            yield Task(task.key, task.words, "event", timedelta(0), after=task.after)
            continue
        key = (job.key, task.key)
        yield replace(
            task,
            duration=change.durations.get(key, task.duration),
            not_before=change.not_before.get(key, task.not_before),
        )
