"""Which coaches keep a shop from being planned, so that the others can be."""

from collections.abc import Callable, Iterable
from dataclasses import replace

from estimates.calc.plan.engine import Prepared, prepare
from estimates.calc.plan.model import PlanJob, Problem

# What must not fail for a coach to count as planned.
Ask = Callable[[Prepared], object]


def refused_jobs(problem: Problem, ask: Ask) -> dict[str, str]:
    """The coaches that cannot be planned, by key, and why, in words; nothing where the shop itself is at fault.

    A shop where nobody works is itself at fault. Each coach is asked alone first. Those that only fail beside others
    are left out by turn: who goes first stays in.
    """
    if not problem.workers or _refusal(problem, (), ask):
        return {}
    refused = {job.key: words for job in problem.jobs if (words := _refusal(problem, (job,), ask))}
    rest = [job for job in problem.jobs if job.key not in refused]
    if _refusal(problem, rest, ask):
        refused |= _by_turn(problem, rest, ask)
    return refused


def _by_turn(problem: Problem, jobs: Iterable[PlanJob], ask: Ask) -> dict[str, str]:
    refused: dict[str, str] = {}
    taken: list[PlanJob] = []
    for job in sorted(jobs, key=lambda job: job.priority):
        if words := _refusal(problem, (*taken, job), ask):
            refused[job.key] = words
        else:
            taken.append(job)
    return refused


def _refusal(problem: Problem, jobs: Iterable[PlanJob], ask: Ask) -> str:
    """Why the shop cannot be planned with these coaches alone; empty if it can."""
    try:
        ask(prepare(replace(problem, jobs=tuple(jobs))))
    except ValueError as error:
        return str(error)
    return ""
