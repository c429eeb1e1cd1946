"""Why an expected date moved: the cause of a replan, from its journal entry."""

from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.utils import dateformat

from estimates import kinds as estimate_kinds
from estimates.models import DateChange
from jobs import kinds
from jobs.models import Finding, Job, JournalEntry, Operation
from jobs.models.work import OperationKind

Cause = DateChange.Cause


@dataclass(frozen=True)
class Reason:
    cause: str
    words: str


def reason_for(job: Job, entry: JournalEntry | None, *, until: datetime, due_at: datetime) -> Reason:
    """The reason why a coach's date moved by what this entry tells of (None: by time itself).

    until: what happened from then on is not time's doing. due_at: when the coach was to come.
    """
    if entry is None:
        return _time_passed(job, until, due_at)
    own = _own_reason(entry)
    if entry.job_id == job.pk:
        return own
    return Reason(Cause.OTHER_COACH, f"Job {entry.job.number}: {own.words}")


def _own_reason(entry: JournalEntry) -> Reason:
    data = entry.data
    if entry.kind in {kinds.OWNER_ASKED, kinds.REQUEST_WITHDRAWN}:
        return Reason(Cause.FINDING, _finding_words(data["finding"]))
    if entry.kind == estimate_kinds.SCOPE_SETTLED and data["finding"]:
        if data["is_approved"]:
            return Reason(Cause.ANSWER, f"Owner's answer to {_finding_words(data['finding']).lower()}")
        return Reason(Cause.FINDING, _finding_words(data["finding"]))
    if entry.kind == kinds.HOLD_POINT_FAILED:
        return Reason(Cause.REWORK, f"Done again after “{data['words']}”: {data['note']}")
    if entry.kind in {kinds.OPERATION_STARTED, kinds.OPERATION_JOINED, kinds.OPERATION_FINISHED}:
        return _operation_reason(Operation.objects.get(pk=data["operation"]))
    if entry.kind == kinds.DRYING_WORKED_OUT:
        return Reason(Cause.DRYING, _drying_words(data["stations"]))
    return _reason_of_stay(entry)


def _reason_of_stay(entry: JournalEntry) -> Reason:
    if entry.kind == kinds.COACH_ARRIVED:
        return Reason(Cause.ARRIVAL, "Coach's arrival")
    if entry.kind == estimate_kinds.SCOPE_SETTLED and entry.data["revision"] == 1:
        return Reason(Cause.WORK, "Booked in")
    if entry.kind == kinds.TURN_CHANGED:
        return Reason(Cause.WORK, f"Given turn {entry.data['priority']} among the coaches")
    if entry.kind == kinds.DATE_PROMISED:
        return Reason(Cause.WORK, f"Promised for {_day_words(entry.data['ready_on'])}")
    if entry.kind == kinds.COACH_MOVED:
        bay = entry.data["bay"]
        return Reason(Cause.WORK, f"Brought into {bay}" if bay else "Taken out of its bay")
    if entry.kind == kinds.COACH_COLLECTED:
        return Reason(Cause.WORK, "Collected by its owner")
    if entry.kind == kinds.HOLD_POINT_PASSED:
        return Reason(Cause.WORK, f"Signed off: {entry.data['words']}")
    return Reason(Cause.WORK, "Shop's plan")


def _day_words(day: str) -> str:
    return dateformat.format(date.fromisoformat(day), "F j")


def _drying_words(stations: list[dict[str, Any]]) -> str:
    """What the latest readings say: which stations hold it up, or that they give the date."""
    held = [str(each["station"]) for each in stations if each["outcome"] in {"near_equilibrium", "rising", "stalled"}]
    if held:
        return f"Drying: station{'' if len(held) == 1 else 's'} {', '.join(held)} not drying"
    return "Drying, by the latest readings"


def _finding_words(finding_id: int) -> str:
    finding = Finding.objects.get(pk=finding_id)
    return f"Finding {finding.number}, {finding.get_kind_display()}"


def _operation_reason(operation: Operation) -> Reason:
    if operation.redo_of_id:
        return Reason(Cause.REWORK, operation.words)
    cause = Cause.DRYING if operation.kind == OperationKind.WAIT else Cause.WORK
    return Reason(cause, operation.words)


def _time_passed(job: Job, until: datetime, due_at: datetime) -> Reason:
    """Nothing happened and yet the date moved: what runs takes longer, or what should have come has not.

    A coach that is not due yet is moved by what goes on around it alone.
    """
    unfinished = list(job.operations.unfinished().order_by("phase", "position", "pk"))
    running = [each for each in unfinished if each.started_at and each.started_at < until]
    if running:
        return _operation_reason(running[0])
    if job.arrived_at is None or job.arrived_at >= until:
        if due_at < until:
            return Reason(Cause.ARRIVAL, "Coach came later than booked" if job.arrived_at else "Coach has not arrived")
        return Reason(Cause.OTHER_COACH, "Other work in the shop takes another time than planned")
    if undecided := job.findings.undecided().filter(posted_at__lt=until).first():
        return Reason(Cause.ANSWER, f"Owner's answer to {_finding_words(undecided.pk).lower()}")
    if unfinished and unfinished[0].redo_of_id:
        return _operation_reason(unfinished[0])
    if unfinished:
        return Reason(Cause.WORK, f"Not begun: {unfinished[0].words}")
    return Reason(Cause.WORK, "Check to be signed off")
