"""What was done on a coach, for its owner: each agreed remedy, what was done twice, and when all was finished."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from jobs.body_plan import place_words
from jobs.models import HoldPoint, Job, Operation, Remedy
from updates.compose.words import as_sentence
from updates.compose.work import again_words

AGAIN = ", again"


@dataclass(frozen=True)
class WorkDone:
    """An agreed remedy. done_at is None while any of its work is not finished; again: sentences on what was redone."""

    label: str
    is_booked: bool
    place: str
    words: str
    warranty: str
    done_at: datetime | None
    again: tuple[str, ...]


def read_work(job: Job) -> tuple[WorkDone, ...]:
    """The agreed remedies of which something is finished, in the order of their numbers."""
    work: dict[Remedy, list[Operation]] = defaultdict(list)
    operations = job.operations.select_related(
        "remedy__standard", "remedy__finding__job__coach", "redo_of__hold_point"
    ).order_by("remedy__finding__number", "pk")
    for operation in operations:
        work[operation.remedy].append(operation)
    begun = ((remedy, done) for remedy, done in work.items() if any(each.finished_at for each in done))
    return tuple(_row(remedy, done) for remedy, done in begun)


def finished_at(job: Job) -> datetime | None:
    """When the last work was done or the last check passed; None while the coach is not ready to collect."""
    checks = HoldPoint.objects.filter(operation__job=job)
    is_open = job.operations.unfinished().exists() or checks.waiting().exists() or job.findings.undecided().exists()
    if job.arrived_at is None or is_open:
        return None
    work = job.operations.filter(finished_at__isnull=False).values_list("finished_at", flat=True)
    passed = checks.filter(passed_at__isnull=False).values_list("passed_at", flat=True)
    return max((at for at in [*work, *passed] if at), default=None)


def _row(remedy: Remedy, operations: list[Operation]) -> WorkDone:
    ended = [each.finished_at for each in operations if each.finished_at]
    return WorkDone(
        label=remedy.finding.label,
        is_booked=remedy.finding.is_booked,
        place=place_words(remedy.finding),
        words=as_sentence(remedy.words),
        warranty=remedy.warranty,
        done_at=max(ended) if len(ended) == len(operations) else None,
        again=tuple(_again(each) for each in operations if each.redo_of),
    )


def _again(operation: Operation) -> str:
    check = getattr(operation.redo_of, "hold_point", None)
    why = check.note if check else ""
    return again_words(operation.words.removesuffix(AGAIN), why, is_done=operation.finished_at is not None)
