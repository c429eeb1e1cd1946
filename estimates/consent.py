"""Whether found work needs a fresh yes: rows in, the rule of estimates.calc.consent asked."""

from datetime import date
from decimal import Decimal

from estimates.calc.consent import Agreed, Consent, GoAheadLimit, needs_consent
from estimates.calc.consent_rules import starting_point
from estimates.calc.money import Totals
from estimates.models import Offer, Revision
from jobs.models import Decision, Finding, Job

ZERO = Decimal("0.00")


def consent_for(finding: Finding, *, words: str, totals: Totals, with_on: date, without_on: date) -> Consent:
    """What the shop's rule and the owner's go-ahead limit say to this finding's recommended remedy.

    totals: of the added work [USD]. with_on, without_on: ready dates with and without it.
    Raises LookupError while the first revision is still to be written.
    """
    job = finding.job
    current = job.revisions.order_by("number").last()
    if current is None:
        raise LookupError(f"{job} has no first revision yet.")
    agreed = _agreed(current, without_on)
    item = f"finding {finding.number}: {words}"
    proposed = Agreed(
        total_usd=agreed.total_usd + totals.total_usd,
        pretax_usd=agreed.pretax_usd + totals.subtotal_usd,
        items=agreed.items | {item},
        methods={},
        ready_on=with_on,
        safety_items=frozenset({item} if touches_safety(finding) else ()),
    )
    return needs_consent(agreed, proposed, starting_point(job.shop.consent_rule).rule, go_ahead_left(job))


def go_ahead_left(job: Job) -> GoAheadLimit | None:
    """What is left of the owner's limit after the work that went ahead under it; None without one."""
    if not job.go_ahead_usd:
        return None
    offers = Offer.objects.filter(
        finding__job=job,
        sha256__in=Decision.objects.filter(request__finding__job=job, channel=Decision.Channel.GO_AHEAD).values(
            "offer_sha256"
        ),
    )
    usd = sum((offer.total_usd for offer in offers), ZERO)
    days = sum(max(0, offer.days) for offer in offers)
    return GoAheadLimit(max(ZERO, job.go_ahead_usd - usd), max(0, job.go_ahead_days - days))


def touches_safety(finding: Finding) -> bool:
    """Whether people can get hurt by it: the limit never covers that."""
    return finding.is_unsafe_to_leave or finding.is_near_mains or finding.is_near_gas


def _agreed(revision: Revision, ready_on: date) -> Agreed:
    totals = revision.content["totals"]
    return Agreed(
        total_usd=revision.total_usd,
        pretax_usd=Decimal(totals["subtotal_usd"]),
        items=frozenset(f"finding {group['finding_number']}: {group['words']}" for group in revision.content["groups"]),
        methods={},
        ready_on=ready_on,
    )
