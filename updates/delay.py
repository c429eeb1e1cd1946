"""Why a coach is late, for its owner: the stored changes of its date, without a word of other coaches."""

from datetime import date

from estimates.models import DateChange
from estimates.overruns import steps_since
from jobs import kinds
from jobs.body_plan import place_words
from jobs.models import Job
from updates.compose.facts import CauseFacts, DelayFacts

TURN = "turn"


def delay_facts(job: Job, expected_on: date | None, *, today: date) -> DelayFacts | None:
    """None while the coach is expected in time, or no date is promised or planned."""
    promise = job.promise
    if promise is None or expected_on is None or expected_on <= promise.ready_on:
        return None
    changes = list(job.date_changes.select_related("entry").order_by("pk"))
    findings = {str(finding.pk): finding for finding in job.findings.select_related("job__coach")}
    causes = []
    for step in steps_since(promise, changes, tell=lambda change: _told(job, change)):
        finding = findings.get(step.words)
        causes.append(
            CauseFacts(
                cause=step.cause,
                days=step.days,
                kind=finding.kind if finding else "",
                place_words=place_words(finding) if finding else "",
            )
        )
    is_whole = sum(cause.days for cause in causes) == (expected_on - promise.ready_on).days
    told = tuple(causes) if is_whole else ()
    return DelayFacts(promise.ready_on, expected_on, told, is_past=today > promise.ready_on)


def _told(job: Job, change: DateChange) -> tuple[str, str]:
    """The cause and the finding of this job that it is about (primary key as text), if any.

    The recorded words are the shop's: they name other coaches by their job, and people by name.
    """
    if change.entry is None or change.entry.job_id != job.pk:
        return change.cause, ""
    if change.entry.kind in {kinds.TURN_CHANGED, kinds.DATE_PROMISED}:
        return TURN, ""
    is_about_finding = change.cause in {DateChange.Cause.FINDING, DateChange.Cause.ANSWER}
    return change.cause, str(change.entry.data.get("finding") or "") if is_about_finding else ""
