"""The clock: who is on which operation, off again for lunch or the day, corrected where somebody forgot."""

from datetime import UTC, datetime, timedelta
from uuid import UUID
from zoneinfo import ZoneInfo

from django.db import transaction

from jobs import kinds
from jobs.errors import NotNow
from jobs.journal import record
from jobs.models import Job, MaterialUse, Operation, Person, WorkSpan

# Nobody works longer without a break: a span beyond it is a slip of the date.
LONGEST_SPAN = timedelta(hours=24)


def hold_clock(operation: Operation, *, by: Person) -> WorkSpan | None:
    """Lock what putting a person on an operation touches; returns the span they are on now, if any.

    Before anything is recorded: the journals of both jobs are locked in one order, so that two people who swap
    work never wait for each other for ever.
    """
    # Two starts by one person wait for each other. No key lock: rows that merely name the person are not held up.
    Person.objects.select_for_update(no_key=True).get(pk=by.pk)
    on_now = WorkSpan.objects.open().select_related("operation__job", "person").filter(person=by).first()
    _lock_jobs({operation.job_id} | ({on_now.operation.job_id} if on_now else set()))
    return on_now


def clock_on(operation: Operation, *, on_now: WorkSpan | None, by: Person, now: datetime) -> None:
    """Open the person's span on running labour and close the one that hold_clock found.

    Nothing happens if they are on it already. Runs inside the caller's transaction.
    """
    if on_now and on_now.operation_id == operation.pk:
        return
    if on_now:
        _close(on_now, by=by, now=now)
    span = WorkSpan.objects.create(operation=operation, person=by, started_at=now)
    record(operation.job, kinds.CLOCKED_ON, now=now, person=by, data=_data(span))


def clock_everybody_off(operation: Operation, *, by: Person, now: datetime) -> None:
    """Close all open spans of an operation. Runs inside the caller's transaction."""
    _lock_jobs({operation.job_id})
    for span in WorkSpan.objects.open().filter(operation=operation).select_related("operation__job", "person"):
        _close(span, by=by, now=now)


@transaction.atomic
def clock_off(*, person: Person, now: datetime) -> WorkSpan:
    """Off the clock for lunch or the day; the operation goes on. Raises NotNow if the person is on nothing."""
    span = WorkSpan.objects.open().select_related("operation__job", "person").filter(person=person).first()
    if span is None:
        raise NotNow("You are not clocked on.")
    _lock_jobs({span.operation.job_id})
    if not _close(span, by=person, now=now):
        raise NotNow("You are not clocked on.")
    return span


@transaction.atomic
def mend_span(
    *, span_id: int, started_at: datetime, ended_at: datetime, reason: str, by: Person, now: datetime
) -> WorkSpan:
    """Correct when somebody was on an operation; the journal keeps what stood there before.

    Raises NotNow if `by` is no manager, no reason is given, or the times cannot be (check_span says which).
    """
    if not by.is_manager:
        raise NotNow("A manager corrects clocked hours.")
    if not reason.strip():
        raise NotNow("Say why it is corrected.")
    job_id = WorkSpan.objects.values_list("operation__job_id", flat=True).get(pk=span_id)
    _lock_jobs({job_id})
    spans = WorkSpan.objects.select_for_update(of=("self",)).select_related("operation__job__shop", "person")
    span = spans.get(pk=span_id)
    check_span(span, started_at, ended_at, now=now)
    before = _times(span)
    span.started_at, span.ended_at, span.mended_at = started_at, ended_at, now
    span.save(update_fields=["started_at", "ended_at", "mended_at"])
    data = _data(span) | {"before": before, "after": _times(span), "reason": reason.strip()}
    record(span.operation.job, kinds.SPAN_MENDED, now=now, person=by, data=data)
    return span


def check_span(span: WorkSpan, started_at: datetime, ended_at: datetime, *, now: datetime) -> None:
    """Raises NotNow, in words, unless the person could have been on the operation at these times."""
    started_at, ended_at = started_at.astimezone(UTC), ended_at.astimezone(UTC)
    if ended_at < started_at:
        raise NotNow("The end lies before the start.")
    if ended_at > now:
        raise NotNow("The end lies ahead. Give a time that has passed.")
    if ended_at - started_at > LONGEST_SPAN:
        raise NotNow("That is more than 24 hours without a break. Check the dates.")
    others = WorkSpan.objects.overlapping(span.person, started_at, ended_at).exclude(pk=span.pk)
    if other := others.select_related("operation").first():
        raise NotNow(f"At that time they were on “{other.operation.words}”. Correct that first.")


@transaction.atomic
def note_material(
    *, operation_id: int, key: UUID, name: str, quantity: float, unit: str, by: Person, now: datetime
) -> MaterialUse:
    """Note what a started operation really took; sent twice under one key it is stored once.

    quantity: in `unit`, above zero. Raises NotNow if the operation has not been started.
    """
    operation = Operation.objects.select_for_update(of=("self",)).select_related("job").get(pk=operation_id)
    if operation.started_at is None:
        raise NotNow("This work has not been started yet.")
    if stored := MaterialUse.objects.filter(key=key, operation=operation).first():
        return stored
    use = MaterialUse.objects.create(
        operation=operation, key=key, name=name, quantity=quantity, unit=unit, noted_by=by, noted_at=now
    )
    data = {"operation": operation.pk, "words": operation.words, "material": str(use)}
    record(operation.job, kinds.MATERIAL_USED, now=now, person=by, data=data)
    return use


def _close(span: WorkSpan, *, by: Person, now: datetime) -> bool:
    """End an open span, unless somebody else just did; the one who loses the race changes nothing."""
    # A clock that went back a moment must not leave an end before its start.
    ended_at = max(now, span.started_at)
    if not WorkSpan.objects.open().filter(pk=span.pk).update(ended_at=ended_at):
        return False
    span.ended_at = ended_at
    data = _data(span) | {"hours": round(span.hours_until(now), 2)}
    record(span.operation.job, kinds.CLOCKED_OFF, now=now, person=by, data=data)
    return True


def _lock_jobs(job_ids: set[int]) -> None:
    """Lock the jobs' journals, in one order."""
    list(Job.objects.select_for_update().filter(pk__in=job_ids).order_by("pk"))


def _data(span: WorkSpan) -> dict[str, object]:
    return {
        "span": span.pk,
        "operation": span.operation_id,
        "words": span.operation.words,
        "who": span.person.get_full_name() or span.person.username,
    }


def _times(span: WorkSpan) -> dict[str, str | None]:
    """On the shop's clock, with its distance from UTC: whoever reads the journal knows these times again."""
    zone = ZoneInfo(span.operation.job.shop.time_zone)
    ended_at = span.ended_at.astimezone(zone).isoformat() if span.ended_at else None
    return {"started_at": span.started_at.astimezone(zone).isoformat(), "ended_at": ended_at}
