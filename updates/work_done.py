"""What was done on a coach, for its owner: each agreed remedy, what was done twice, and when all was finished."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime

from jobs.body_plan import work_place_words
from jobs.models import Job, Operation, Remedy
from jobs.models.work import OperationKind
from jobs.stages import progress_of
from updates.compose.words import as_sentence
from updates.compose.work import again_words

AGAIN = ", again"


@dataclass(frozen=True)
class WorkDone:
    """An agreed remedy. done_at is None while any of its work is not finished; again: sentences on what was redone.

    place is empty where the work is on the whole coach.
    """

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
    """When the coach became ready to collect, as the manager's pages have it; None while it is not."""
    if job.arrived_at is None or job.findings.undecided().exists():
        return None
    return progress_of([job])[job.pk].ended_at


def _row(remedy: Remedy, operations: list[Operation]) -> WorkDone:
    ended = [each.finished_at for each in operations if each.finished_at]
    return WorkDone(
        label=remedy.finding.label,
        is_booked=remedy.finding.is_booked,
        place=work_place_words(remedy.finding, operations),
        words=as_sentence(remedy.words),
        warranty=remedy.warranty,
        done_at=max(ended) if len(ended) == len(operations) else None,
        again=tuple(_again(each, operations) for each in operations if each.redo_of),
    )


def _again(operation: Operation, operations: list[Operation]) -> str:
    check = getattr(operation.redo_of, "hold_point", None)
    why = check.note if check else ""
    work = _labour_of(operation, operations)
    return again_words(work.words.removesuffix(AGAIN), why, is_done=operation.finished_at is not None)


def _labour_of(operation: Operation, operations: list[Operation]) -> Operation:
    """The work an owner understands as done again: for a wait, the labour it waits for; itself without any."""
    if operation.kind == OperationKind.LABOUR:
        return operation
    before = [
        each
        for each in operations
        if each.kind == OperationKind.LABOUR and (each.phase, each.position) < (operation.phase, operation.position)
    ]
    return max(before, key=lambda each: (each.phase, each.position), default=operation)
