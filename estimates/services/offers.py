"""Working out price and days for a finding, before the owner is asked."""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from estimates import kinds
from estimates.billing import rates_of
from estimates.consent import consent_for
from estimates.inputs import Snapshot
from estimates.models import Offer
from estimates.plan_keys import job_key
from estimates.pricing import WorkedOut, lines_as_json, totals_as_json, work_out
from estimates.questions import Option, Pending, operations_as_json
from estimates.services.costs import keep_offer_costs
from jobs.journal import record, sha256_of
from jobs.models import ApprovalRequest, Decision, Finding, Remedy
from jobs.services.approvals import Answer, ask_owner, record_decision
from jobs.services.remedies import awaits_offer


@dataclass(frozen=True)
class Choice:
    """One remedy of an offer: its price, and the ready date with it."""

    remedy: Remedy
    worked_out: WorkedOut
    ready_with_on: date


@dataclass(frozen=True)
class Prepared:
    """Price and days of a finding's remedies, the recommended one first; not yet stored."""

    finding: Finding
    choices: tuple[Choice, ...]
    ready_without_on: date
    answer_by_at: datetime


def prepare_offer(finding: Finding, snapshot: Snapshot) -> Prepared:
    """Work out each of the finding's remedies: its price, and the ready date with and without it.

    Reads, computes, writes nothing. Raises ValueError in words when the plan cannot be made.
    """
    if why := snapshot.unplanned.get(finding.job_id):
        raise ValueError(why)
    # An answer that comes after closing is read when the shop opens: nobody is asked for one in the night.
    answer_by_at = snapshot.calendar.next_open(snapshot.now + timedelta(hours=snapshot.shop.answer_hours))
    remedies = (
        finding.remedies.standing()
        .select_related("standard", "own_skill", "finding__job__shop", "finding__job__coach")
        .order_by("position")
    )
    rates = rates_of(finding.job)
    worked_out = {remedy: work_out(remedy, rates) for remedy in remedies}
    options = tuple(Option(remedy.pk, each.operations) for remedy, each in worked_out.items())
    asked = snapshot.adding(Pending(finding, options, answer_by_at))
    return Prepared(
        finding=finding,
        choices=tuple(
            Choice(remedy, each, _ready_on(asked, finding, remedy.pk)) for remedy, each in worked_out.items()
        ),
        ready_without_on=_ready_on(asked, finding, None),
        answer_by_at=answer_by_at,
    )


def _ready_on(snapshot: Snapshot, finding: Finding, remedy_id: int | None) -> date:
    ready_at = snapshot.schedule({finding.pk: remedy_id}).jobs[job_key(finding.job_id)].ready_at
    return snapshot.shop.local_date(ready_at)


def is_still_wanted(prepared: Prepared) -> bool:
    """Whether this is what is still to be put to the owner: not asked yet, and not adjusted while it was worked out.

    Locks the finding, so that this stays true until the caller's transaction ends.
    """
    finding = Finding.objects.select_for_update(of=("self",)).select_related("job").get(pk=prepared.finding.pk)
    return awaits_offer(finding) and {each.remedy.pk for each in prepared.choices} == {
        remedy.pk for remedy in finding.standing_remedies
    }


def make_offer(prepared: Prepared, *, now: datetime) -> ApprovalRequest:
    """Store the offer and put it to the owner, or go ahead within the limit the owner gave in advance.

    Runs inside the caller's transaction. What goes ahead is kept as a decision of its own channel, so that price,
    plan and papers treat it as any other yes; the owner is told instead of asked. Once the owner has been asked about
    a finding, nothing about it goes ahead without an answer.
    Raises JobError if the finding is already being asked about or nobody may decide.
    """
    finding, first = prepared.finding, prepared.choices[0]
    was_asked = finding.requests.exists()
    content = {
        "finding": finding.pk,
        "finding_number": finding.number,
        "choices": [_choice_as_json(choice) for choice in prepared.choices],
        "ready_without_on": prepared.ready_without_on.isoformat(),
        "answer_by_at": prepared.answer_by_at.isoformat(),
        "made_at": now.isoformat(),
    }
    offer = Offer.objects.create(
        finding=finding,
        remedy=first.remedy,
        content=content,
        sha256=sha256_of(content),
        total_usd=first.worked_out.totals.total_usd,
        ready_with_on=first.ready_with_on,
        ready_without_on=prepared.ready_without_on,
        made_at=now,
    )
    keep_offer_costs(offer, {choice.remedy.pk: choice.worked_out.lines for choice in prepared.choices})
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
    request = ask_owner(
        finding=finding,
        remedies=[choice.remedy for choice in prepared.choices],
        offer_sha256=offer.sha256,
        answer_by_at=prepared.answer_by_at,
        now=now,
    )
    consent = consent_for(
        finding,
        words=first.remedy.name,
        totals=first.worked_out.totals,
        with_on=first.ready_with_on,
        without_on=prepared.ready_without_on,
    )
    if not consent.is_needed and not was_asked:
        _go_ahead(request, now)
    return request


def _go_ahead(request: ApprovalRequest, now: datetime) -> None:
    job = request.finding.job
    owner = job.deciders()[0]
    record_decision(
        request_id=request.pk,
        seen_sha256=request.offer_sha256,
        answer=Answer(request.remedy, owner.name, owner, Decision.Channel.GO_AHEAD),
        by=None,
        now=now,
    )


def _choice_as_json(choice: Choice) -> dict[str, Any]:
    remedy, worked_out = choice.remedy, choice.worked_out
    return {
        "remedy": remedy.pk,
        "name": remedy.name,
        "words": remedy.words,
        "keeps": remedy.keeps,
        "warranty": remedy.warranty,
        "lines": lines_as_json(worked_out.lines),
        "totals": totals_as_json(worked_out.totals),
        "operations": operations_as_json(worked_out.operations),
        "ready_with_on": choice.ready_with_on.isoformat(),
    }
