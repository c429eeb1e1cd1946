"""The agreed scope: its first revision at booking, and the next one after each answer."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from estimates import kinds
from estimates.billing import bill_of, payers_json, rates_of, tax_json, terms_json, totals_json, with_payers
from estimates.models import Offer, Revision, Term
from estimates.pricing import lines_as_json, work_out
from estimates.questions import operations_from_json, skills_of
from estimates.services.costs import GroupCosts, costs_of, keep_revision_costs, offered_costs
from jobs.journal import record, sha256_of
from jobs.models import Decision, Finding, Job, JournalEntry
from jobs.services.work import write_operations


def write_first_revision(entry: JournalEntry, *, now: datetime) -> Revision:
    """Revision 1: the work agreed at booking, with its operations. Runs inside the caller's transaction."""
    job = entry.job
    groups = []
    costs = {}
    for finding in job.findings.filter(is_booked=True).order_by("number"):
        remedy = (
            finding.remedies.standing()
            .select_related("standard", "own_skill", "finding__job__shop", "finding__job__coach")
            .get()
        )
        worked_out = work_out(remedy, job.shop.rates)
        write_operations(remedy=remedy, operations=worked_out.operations, now=now)
        lines = lines_as_json(worked_out.lines)
        groups.append(_group(finding, lines, remedy.name, remedy.keeps, remedy.warranty))
        costs[finding.pk] = costs_of(worked_out.lines, job.shop.rates)
    return issue_revision(job, entry, groups, f"at booking, with {entry.actor}", costs=costs, now=now)


def settle_scope(decision: Decision, entry: JournalEntry, *, now: datetime) -> Revision:
    """Carry an owner's answer into the scope. Runs inside the caller's transaction.

    A yes adds exactly the offered operations and lines, at the offered price, and issues the next
    revision. A no leaves the scope as it is. Returns the revision that now holds.
    Raises LookupError while the first revision is still to be written.
    """
    request = decision.request
    job = request.finding.job
    current = job.revisions.order_by("number").last()
    if current is None:
        raise LookupError(f"{job} has no first revision yet; its reaction comes before this one.")
    if decision.remedy is None:
        _settled(job, current, decision, now)
        return current
    offer = Offer.objects.get(sha256=decision.offer_sha256)
    chosen = offer.choice(decision.remedy.pk)
    write_operations(
        remedy=decision.remedy, operations=operations_from_json(chosen["operations"], skills_of(job.shop)), now=now
    )
    # As it was offered: what the catalogue says by now is not what the owner said yes to.
    group = _group(decision.remedy.finding, chosen["lines"], chosen["name"], chosen["keeps"], chosen["warranty"])
    groups = [*current.content["groups"], group]
    agreed_by = f"{decision.typed_name}, {decision.get_channel_display()}"
    costs = offered_costs(offer, decision.remedy)
    return issue_revision(job, entry, groups, agreed_by, decision=decision, costs=costs, now=now)


def _group(finding: Finding, lines: list[dict[str, Any]], name: str, keeps: str, warranty: str) -> dict[str, Any]:
    return {
        "finding": finding.pk,
        "finding_number": finding.number,
        "words": f"{finding.get_kind_display()}: {name}",
        "keeps": keeps,
        "warranty": warranty,
        "lines": lines,
    }


def issue_revision(
    job: Job,
    entry: JournalEntry,
    groups: list[dict[str, Any]],
    agreed_by: str,
    *,
    decision: Decision | None = None,
    term: Term | None = None,
    costs: Mapping[int, GroupCosts] | None = None,
    now: datetime,
) -> Revision:
    """Write the next revision: these groups under the terms that stand. Runs inside the caller's transaction.

    decision, term: what called for it, if one of these did.
    costs: of the groups that are new, by finding. Raises ValueError for a discount above what it is on.
    """
    terms = list(job.terms.standing())
    paid = with_payers(groups, terms)
    rates = rates_of(job)
    made = bill_of(paid, terms, rates)
    number = job.revisions.count() + 1
    content = {
        "job": job.pk,
        "number": number,
        "groups": paid,
        "terms": terms_json(terms),
        "totals": totals_json(made),
        "payers": payers_json(made),
        "tax": tax_json(rates),
        "agreed_by": agreed_by,
        "issued_at": now.isoformat(),
    }
    revision = Revision.objects.create(
        job=job,
        number=number,
        entry=entry,
        content=content,
        sha256=sha256_of(content),
        total_usd=made.of("owner").total_usd,
        agreed_by=agreed_by,
        issued_at=now,
    )
    keep_revision_costs(revision, costs or {})
    _settled(job, revision, decision, now, term=term)
    return revision


def _settled(
    job: Job, revision: Revision, decision: Decision | None, now: datetime, *, term: Term | None = None
) -> None:
    record(
        job,
        kinds.SCOPE_SETTLED,
        now=now,
        data={
            "revision": revision.number,
            "revision_sha256": revision.sha256,
            "total_usd": str(revision.total_usd),
            "decision": decision.pk if decision else None,
            "term": term.pk if term else None,
            "is_taken_back": term is not None and term.taken_back_at is not None,
            "finding": decision.request.finding_id if decision else None,
            "is_approved": decision.is_approved if decision else True,
        },
    )
