"""Asking the owner, withdrawing the question, keeping the answer."""

from collections.abc import Sequence
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

    remedy: Remedy | None  # the one chosen; None for a no
    typed_name: str
    owner: Owner
    channel: str
    address: str | None = None
    browser: str = ""
    phone: str = ""  # the number called, for an answer by phone

    @property
    def is_approved(self) -> bool:
        return self.remedy is not None


def ask_owner(
    *, finding: Finding, remedies: Sequence[Remedy], offer_sha256: str, answer_by_at: datetime, now: datetime
) -> ApprovalRequest:
    """Put the offer for a finding to the owner, the recommended remedy first. Runs inside the caller's transaction.

    Raises JobError if nobody may decide for this coach or the finding is already being asked about.
    After commit: the owner is sent an update.
    """
    if finding.requests.open().exists():
        raise JobError("The owner is already being asked about this finding.")
    if not finding.job.deciders().exists():
        raise JobError("Nobody who may decide is on file for this coach.")
    request = ApprovalRequest.objects.create(
        finding=finding, remedy=remedies[0], offer_sha256=offer_sha256, asked_at=now, answer_by_at=answer_by_at
    )
    request.choices.set(remedies)
    record(
        finding.job,
        kinds.OWNER_ASKED,
        now=now,
        data={
            "request": request.pk,
            "finding": finding.pk,
            "remedies": [remedy.pk for remedy in remedies],
            "offer_sha256": offer_sha256,
        },
    )
    return request


def chosen_remedy(request: ApprovalRequest, remedy_id: int | None) -> Remedy | None:
    """The choice of this primary key; None for a no."""
    return None if remedy_id is None else request.choices.get(pk=remedy_id)


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
    request = ApprovalRequest.objects.select_for_update().select_related("finding__job", "remedy").get(pk=request_id)
    job = request.finding.job
    _check_open(request, seen_sha256)
    if not job.deciders().filter(pk=answer.owner.pk).exists():
        raise JobError("This person may not decide for this coach.")
    if answer.remedy and not request.choices.filter(pk=answer.remedy.pk).exists():
        raise Stale("This is not among the choices any more. Please read it again.")
    if answer.channel == Decision.Channel.PHONE and not answer.phone.strip():
        raise JobError("Give the number that was called.")
    if not answer.typed_name.strip():
        raise JobError("Please type your name.")
    decision = Decision.objects.create(
        request=request,
        offer_sha256=seen_sha256,
        decided_at=now,
        is_approved=answer.is_approved,
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
            "remedy": decision.remedy_id,
            "typed_name": decision.typed_name,
            "channel": decision.channel,
            "phone": decision.phone,
            "offer_sha256": seen_sha256,
            "address": decision.address,
            "browser": decision.browser,
        },
    )
    return decision


def _check_open(request: ApprovalRequest, seen_sha256: str) -> None:
    """Raises AlreadyDecided or Stale unless the question is open at exactly the offer that was shown."""
    if hasattr(request, "decision"):
        raise AlreadyDecided("This has already been answered.")
    if request.closed_at and request.remedy.dropped_at:
        raise Stale("We changed this proposal after you opened it. Please read the new one.")
    if request.closed_at:
        raise AlreadyDecided("The shop has taken this question back.")
    if seen_sha256 != request.offer_sha256:
        raise Stale("This changed after you opened it. Please read it again.")
