"""Working out price and days for a finding, before the owner is asked."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta

from estimates import kinds
from estimates.inputs import Pending, Snapshot, job_key, operations_as_json
from estimates.models import Offer
from estimates.pricing import WorkedOut, lines_as_json, totals_as_json, work_out
from jobs.journal import record, sha256_of
from jobs.models import ApprovalRequest, Finding, Remedy
from jobs.services.approvals import ask_owner


@dataclass(frozen=True)
class Prepared:
    """Price and days of a remedy, not yet stored."""

    finding: Finding
    remedy: Remedy
    worked_out: WorkedOut
    ready_with_on: date
    ready_without_on: date
    answer_by_at: datetime


def prepare_offer(finding: Finding, snapshot: Snapshot) -> Prepared:
    """Work out the finding's first remedy: its price, and the ready date with and without it.

    Reads, computes, writes nothing. Raises ValueError in words when the plan cannot be made.
    """
    remedy = finding.remedies.select_related("standard", "own_skill", "finding__job").order_by("pk")[0]
    worked_out = work_out(remedy, snapshot.shop.rates)
    answer_by_at = snapshot.now + timedelta(hours=snapshot.shop.answer_hours)
    pending = Pending(finding, worked_out.operations, answer_by_at)
    key = job_key(finding.job_id)
    with_it = snapshot.schedule(adding=pending).jobs[key].ready_at
    without_it = snapshot.schedule(without=[finding.pk]).jobs[key].ready_at
    return Prepared(
        finding=finding,
        remedy=remedy,
        worked_out=worked_out,
        ready_with_on=snapshot.shop.local_date(with_it),
        ready_without_on=snapshot.shop.local_date(without_it),
        answer_by_at=answer_by_at,
    )


def make_offer(prepared: Prepared, *, now: datetime) -> ApprovalRequest:
    """Store the offer and put it to the owner. Runs inside the caller's transaction.

    Raises JobError if the finding is already being asked about or nobody may decide.
    """
    finding, remedy, worked_out = prepared.finding, prepared.remedy, prepared.worked_out
    content = {
        "finding": finding.pk,
        "finding_number": finding.number,
        "remedy": remedy.pk,
        "remedy_words": remedy.words,
        "lines": lines_as_json(worked_out.lines),
        "totals": totals_as_json(worked_out.totals),
        "operations": operations_as_json(worked_out.operations),
        "ready_with_on": prepared.ready_with_on.isoformat(),
        "ready_without_on": prepared.ready_without_on.isoformat(),
        "answer_by_at": prepared.answer_by_at.isoformat(),
        "made_at": now.isoformat(),
    }
    offer = Offer.objects.create(
        finding=finding,
        remedy=remedy,
        content=content,
        sha256=sha256_of(content),
        total_usd=worked_out.totals.total_usd,
        ready_with_on=prepared.ready_with_on,
        ready_without_on=prepared.ready_without_on,
        made_at=now,
    )
    record(
        finding.job,
        kinds.OFFER_MADE,
        now=now,
        data={
            "finding": finding.pk,
            "offer_sha256": offer.sha256,
            "total_usd": str(offer.total_usd),
            "days": offer.days,
        },
    )
    return ask_owner(
        finding=finding, remedy=remedy, offer_sha256=offer.sha256, answer_by_at=prepared.answer_by_at, now=now
    )
