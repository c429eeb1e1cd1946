"""Asking the owner, withdrawing the question, keeping the answer."""

from dataclasses import dataclass
from datetime import datetime

from django.db import transaction

from jobs import kinds
from jobs.errors import AlreadyDecided, JobError, Stale
from jobs.journal import record
from jobs.models import ApprovalRequest, Decision, Finding, Owner, Person, Remedy


@dataclass(frozen=True)
class Answer:
    """An owner's answer as it came in."""

    is_approved: bool
    typed_name: str
    owner: Owner
    channel: str
    address: str | None = None
    browser: str = ""


def ask_owner(
    *, finding: Finding, remedy: Remedy, offer_sha256: str, answer_by_at: datetime, now: datetime
) -> ApprovalRequest:
    """Put one offer for a finding to the owner. Runs inside the caller's transaction.

    Raises JobError if nobody may decide for this coach or the finding is already being asked about.
    After commit: the owner is sent an update.
    """
    if finding.requests.open().exists():
        raise JobError("The owner is already being asked about this finding.")
    if not finding.job.deciders().exists():
        raise JobError("Nobody who may decide is on file for this coach.")
    request = ApprovalRequest.objects.create(
        finding=finding, remedy=remedy, offer_sha256=offer_sha256, asked_at=now, answer_by_at=answer_by_at
    )
    record(
        finding.job,
        kinds.OWNER_ASKED,
        now=now,
        data={"request": request.pk, "finding": finding.pk, "remedy": remedy.pk, "offer_sha256": offer_sha256},
    )
    return request


@transaction.atomic
def withdraw_request(*, request_id: int, reason: str, by: Person, now: datetime) -> ApprovalRequest:
    """Take a question back. Raises AlreadyDecided if it has been answered or withdrawn."""
    request = ApprovalRequest.objects.select_for_update().select_related("finding__job").get(pk=request_id)
    if request.closed_at:
        raise AlreadyDecided("This question is no longer open.")
    request.closed_at = now
    request.save(update_fields=["closed_at"])
    record(
        request.finding.job,
        kinds.REQUEST_WITHDRAWN,
        now=now,
        person=by,
        data={"request": request.pk, "finding": request.finding_id, "reason": reason},
    )
    return request


@transaction.atomic
def record_decision(*, request_id: int, seen_sha256: str, answer: Answer, by: Person | None, now: datetime) -> Decision:
    """Keep an owner's answer to exactly the offer that was shown.

    `by` is the person of the shop who took the answer by phone or in person, None for the owner's link.
    Raises AlreadyDecided, Stale, or JobError if this owner may not decide; then nothing is changed.
    After commit: the scope is revised, the shop replanned, owner and shop are told.
    """
    request = ApprovalRequest.objects.select_for_update().select_related("finding__job").get(pk=request_id)
    job = request.finding.job
    if hasattr(request, "decision"):
        raise AlreadyDecided("This has already been answered.")
    if request.closed_at:
        raise AlreadyDecided("The shop has taken this question back.")
    if seen_sha256 != request.offer_sha256:
        raise Stale("This changed after you opened it. Please read it again.")
    if not job.deciders().filter(pk=answer.owner.pk).exists():
        raise JobError("This person may not decide for this coach.")
    if not answer.typed_name.strip():
        raise JobError("Please type your name.")
    decision = Decision.objects.create(
        request=request,
        offer_sha256=seen_sha256,
        decided_at=now,
        **vars(answer) | {"typed_name": answer.typed_name.strip()},
    )
    request.closed_at = now
    request.save(update_fields=["closed_at"])
    record(
        job,
        kinds.OWNER_DECIDED,
        now=now,
        person=by,
        actor="" if by else decision.typed_name,
        data={
            "decision": decision.pk,
            "request": request.pk,
            "finding": request.finding_id,
            "is_approved": decision.is_approved,
            "typed_name": decision.typed_name,
            "channel": decision.channel,
            "offer_sha256": seen_sha256,
            "address": decision.address,
            "browser": decision.browser,
        },
    )
    return decision
