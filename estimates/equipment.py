"""Counted equipment in the plan: what the shop has, and the work it has too little of it for."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from estimates.calc.plan import Task
from jobs.calc.equipment import Needs, needs_of, short_words, within
from jobs.models import Equipment, Job, Operation


@dataclass(frozen=True)
class ShortWork:
    """Work of a job that needs more of a kind than the shop has, in words."""

    job: Job
    words: str


def equipment_of(shop_id: int) -> dict[str, int]:
    """How many of each kind the shop has, of those that somebody has counted."""
    return dict(Equipment.objects.filter(shop=shop_id).values_list("kind", "count"))


def holding_what_there_is(tasks: Iterable[Task], has: Mapping[str, int]) -> Iterator[Task]:
    """The tasks, those that need more than the shop has content with all of it.

    For who must have a plan of the whole shop however little of something it has; short_work says which they are.
    """
    for task in tasks:
        yield replace(task, equipment=within(task.equipment, has)) if task.equipment else task


def short_work(jobs: Iterable[Job], has: Mapping[str, int]) -> Iterator[ShortWork]:
    """What agreed work still to end needs more of than the shop has; one query, none where nothing is counted."""
    if not has:
        return
    by_job = {job.pk: job for job in jobs}
    short: dict[int, list[tuple[str, Needs]]] = defaultdict(list)
    for each in Operation.objects.unfinished().short_of(has).filter(job__in=by_job):
        short[each.job_id].append((each.words, needs_of(each)))
    for pk, job in by_job.items():
        yield from (ShortWork(job, words) for words in short_words(short[pk], has))
