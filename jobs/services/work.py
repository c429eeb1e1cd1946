"""Agreed work: written, started, finished, checked, redone."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs import kinds
from jobs.errors import NotNow
from jobs.journal import record
from jobs.models import Finding, HoldPoint, Operation, Person, Remedy, Skill
from jobs.models.work import OperationKind, Phase
from jobs.services.clock import clock_everybody_off, clock_on, hold_clock


@dataclass(frozen=True)
class NewOperation:
    """One operation of a remedy, worked out for its place."""

    phase: int
    words: str
    kind: str
    hours: float
    skill: Skill | None
    crew: int = 1
    is_in_one_shift: bool = False
    needs_bay: bool = True
    is_drying: bool = False
    hold_point: str = ""
    # The catalogue's step and for how many of its units; offers written before these were kept have neither.
    recipe_key: str = ""
    units: float = 0.0
    amount: str = ""
    blowers: int = 0
    dehumidifiers: int = 0
    heaters: int = 0


def write_operations(*, remedy: Remedy, operations: Sequence[NewOperation], now: datetime) -> list[Operation]:
    """Add the operations of an agreed remedy to the job, once. Runs inside the caller's transaction.

    After commit: the shop is replanned.
    """
    job = remedy.finding.job
    if remedy.operations.exists():
        return list(remedy.operations.all())
    written = Operation.objects.bulk_create(
        Operation(
            job=job,
            remedy=remedy,
            position=position,
            **{name: value for name, value in vars(new).items() if name != "hold_point"},
        )
        for position, new in enumerate(operations, start=1)
    )
    HoldPoint.objects.bulk_create(
        HoldPoint(operation=operation, words=new.hold_point)
        for operation, new in zip(written, operations, strict=True)
        if new.hold_point
    )
    record(
        job,
        kinds.WORK_AGREED,
        now=now,
        data={"finding": remedy.finding_id, "remedy": remedy.pk, "operations": [each.words for each in written]},
    )
    return written


@transaction.atomic
def start_operation(*, operation_id: int, by: Person, now: datetime) -> Operation:
    """Start an operation, or join one that is running; labour puts the person on the clock.

    A person works on one thing at a time: whatever else they were clocked on ends at `now`.
    Raises NotNow if the coach is not at the shop, earlier work or a hold point is open, or it is finished.
    """
    operation = _locked(operation_id)
    if not operation.job.arrived_at:
        raise NotNow("The coach has not arrived yet.")
    if operation.finished_at:
        raise NotNow("This is already finished.")
    if blocker := what_blocks(operation):
        raise NotNow(f"First: {blocker}.")
    on_now = hold_clock(operation, by=by) if operation.kind == OperationKind.LABOUR else None
    if operation.started_at is None:
        operation.started_at = now
        operation.save(update_fields=["started_at"])
        record(
            operation.job,
            kinds.OPERATION_STARTED,
            now=now,
            person=by,
            data={"operation": operation.pk, "words": operation.words},
        )
    elif operation.kind == OperationKind.LABOUR and not operation.workers.filter(pk=by.pk).exists():
        record(
            operation.job,
            kinds.OPERATION_JOINED,
            now=now,
            person=by,
            data={"operation": operation.pk, "words": operation.words, "person": by.pk},
        )
    if operation.kind == OperationKind.LABOUR:
        operation.workers.add(by)
        clock_on(operation, on_now=on_now, by=by, now=now)
    return operation


@transaction.atomic
def finish_operation(*, operation_id: int, by: Person, now: datetime) -> Operation:
    """Finish a running operation or end a wait; everybody on it is clocked off. Raises NotNow if it is not running."""
    operation = _locked(operation_id)
    if not operation.is_running:
        raise NotNow("Only running work can be finished.")
    clock_everybody_off(operation, by=by, now=now)
    operation.finished_at = now
    operation.save(update_fields=["finished_at"])
    record(
        operation.job,
        kinds.OPERATION_FINISHED,
        now=now,
        person=by,
        data={"operation": operation.pk, "words": operation.words},
    )
    return operation


@transaction.atomic
def pass_hold_point(*, hold_point_id: int, note: str, by: Person, now: datetime) -> HoldPoint:
    """Sign a hold point off. Raises NotNow if its work is not finished, it was checked, or `by` is no manager."""
    hold_point = _checkable(hold_point_id, by)
    hold_point.passed_at, hold_point.checked_by, hold_point.note = now, by, note.strip()
    hold_point.save(update_fields=["passed_at", "checked_by", "note"])
    record(
        hold_point.operation.job,
        kinds.HOLD_POINT_PASSED,
        now=now,
        person=by,
        data={"hold_point": hold_point.pk, "words": hold_point.words, "note": hold_point.note},
    )
    return hold_point


@transaction.atomic
def fail_hold_point(*, hold_point_id: int, note: str, redo_hours: float, by: Person, now: datetime) -> Operation:
    """Fail a hold point: its work is done again at the shop's cost and checked again.

    redo_hours: working hours of the repeat [h], above zero.
    Raises NotNow as pass_hold_point does, and when no reason is given.
    """
    hold_point = _checkable(hold_point_id, by)
    if not note.strip():
        raise NotNow("Say what was not good enough.")
    if not redo_hours > 0:
        raise NotNow("Give the hours that doing it again will take.")
    hold_point.failed_at, hold_point.checked_by, hold_point.note = now, by, note.strip()
    hold_point.save(update_fields=["failed_at", "checked_by", "note"])
    done = hold_point.operation
    redo = Operation.objects.create(
        job=done.job,
        remedy=done.remedy,
        position=done.position,
        phase=done.phase,
        words=f"{done.words.removesuffix(', again')}, again",
        kind=done.kind,
        hours=redo_hours,
        skill=done.skill,
        crew=done.crew,
        is_in_one_shift=done.is_in_one_shift,
        needs_bay=done.needs_bay,
        is_drying=done.is_drying,
        payer=Operation.Payer.SHOP,
        redo_of=done,
        recipe_key=done.recipe_key,
        units=done.units,
        amount=done.amount,
        blowers=done.blowers,
        dehumidifiers=done.dehumidifiers,
        heaters=done.heaters,
    )
    HoldPoint.objects.create(operation=redo, words=hold_point.words)
    record(
        done.job,
        kinds.HOLD_POINT_FAILED,
        now=now,
        person=by,
        data={
            "hold_point": hold_point.pk,
            "words": hold_point.words,
            "note": hold_point.note,
            "redo": redo.pk,
            "redo_hours": redo_hours,
        },
    )
    return redo


def what_blocks(operation: Operation) -> str:
    """What must happen before this operation may start, in words, or an empty text.

    Work goes phase by phase; within a remedy and phase, in the order written; behind a hold point only
    once it is passed. Nothing is closed in while the owner has not answered about a finding behind it.
    """
    others = Operation.objects.filter(job=operation.job).select_related("hold_point")
    return first_blocker(operation, others, operation.job.findings.undecided().first())


def first_blocker(operation: Operation, others: Iterable[Operation], undecided: Finding | None) -> str:
    """The same from rows already read: all operations of the job, and its first undecided finding."""
    earlier = [other for other in others if _comes_before(other, operation)]
    for other in earlier:
        if not other.finished_at:
            return f"finish “{other.words}”"
    for other in earlier:
        hold_point = getattr(other, "hold_point", None)
        if hold_point and not hold_point.passed_at and not hold_point.failed_at:
            return f"sign off “{hold_point.words}”"
    if operation.phase >= Phase.CLOSE_IN and undecided:
        return f"the owner's answer to finding {undecided.number}"
    return ""


def _comes_before(other: Operation, operation: Operation) -> bool:
    if other.phase != operation.phase:
        return other.phase < operation.phase
    if other.remedy_id != operation.remedy_id:
        return False
    return (other.position, other.pk) < (operation.position, operation.pk)


def _locked(operation_id: int) -> Operation:
    return Operation.objects.select_for_update(of=("self",)).select_related("job").get(pk=operation_id)


def _checkable(hold_point_id: int, by: Person) -> HoldPoint:
    hold_point = (
        HoldPoint.objects.select_for_update(of=("self",))
        .select_related("operation__job", "operation__remedy", "operation__skill")
        .get(pk=hold_point_id)
    )
    if not by.is_manager:
        raise NotNow("A manager signs hold points off.")
    if hold_point.passed_at or hold_point.failed_at:
        raise NotNow("This hold point has already been checked.")
    if not hold_point.operation.finished_at:
        raise NotNow(f"First finish “{hold_point.operation.words}”.")
    return hold_point
