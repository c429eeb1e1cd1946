"""Discounts and payers: agreed, and taken back."""

from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal

from django.db import transaction

from estimates import kinds
from estimates.models import Revision, Term
from estimates.services.scope import issue_revision
from jobs.errors import JobError, NotNow
from jobs.journal import record
from jobs.models import Finding, Job, Person


@dataclass(frozen=True)
class NewTerm:
    """A discount (an amount [USD] or a percentage), or who pays for a finding."""

    kind: str
    words: str
    finding: Finding | None = None
    payer: str = ""
    amount_usd: Decimal | None = None
    pct: Decimal | None = None


@transaction.atomic
def agree_term(*, job_id: int, new: NewTerm, by: Person, now: datetime) -> Revision:
    """Add a term and issue the revision that it makes.

    Raises NotNow while the job has no revision or is over, JobError for a discount above what it is given on.
    After commit: the owner is told what changed.
    """
    job = _open_job(job_id)
    if new.kind == Term.Kind.PAYER:
        job.terms.standing().filter(kind=Term.Kind.PAYER, finding=new.finding).update(taken_back_at=now)
    term = Term.objects.create(job=job, agreed_by=by, agreed_at=now, **vars(new))
    return _issue(job, term, by=by, now=now, is_taken_back=False)


@transaction.atomic
def take_term_back(*, term_id: int, by: Person, now: datetime) -> Revision:
    """Let a term stand no longer and issue the revision without it. Raises NotNow if it was taken back already."""
    term = Term.objects.select_for_update(of=("self",)).get(pk=term_id)
    job = _open_job(term.job_id)
    if term.taken_back_at:
        raise NotNow("This has been taken back already.")
    term.taken_back_at = now
    term.save(update_fields=["taken_back_at"])
    return _issue(job, term, by=by, now=now, is_taken_back=True)


def _issue(job: Job, term: Term, *, by: Person, now: datetime, is_taken_back: bool) -> Revision:
    current = job.revisions.order_by("number").last()
    if current is None:
        raise NotNow("The first revision is still being written. Try again in a moment.")
    data = {
        "term": term.pk,
        "kind": term.kind,
        "words": term.words,
        "payer": term.payer,
        "finding": term.finding_id,
        "amount_usd": str(term.amount_usd) if term.amount_usd is not None else None,
        "pct": str(term.pct) if term.pct is not None else None,
        "is_taken_back": is_taken_back,
    }
    entry = record(job, kinds.TERMS_CHANGED, now=now, person=by, data=data)
    agreed_by = f"{entry.actor}, {'without' if is_taken_back else 'with'} {term.get_kind_display()}"
    try:
        return issue_revision(job, entry, current.content["groups"], agreed_by, term=term, now=now)
    except ValueError:
        raise JobError("That discount is more than what it is given on.") from None


def _open_job(job_id: int) -> Job:
    job = Job.objects.select_for_update(of=("self",)).select_related("shop__rates").get(pk=job_id)
    if job.collected_at:
        raise NotNow("The coach has been handed back; its account is closed.")
    return job
