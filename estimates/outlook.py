"""What may still be hidden in a coach: rows in, estimates.calc.contingency asked."""

from decimal import Decimal

from django.db.models import Prefetch

from estimates.calc.contingency import ClosedJob, Contingency, contingency
from estimates.models import Offer
from jobs.models import Decision, Finding, Job

ZERO = Decimal("0.00")


def hidden_damage(job: Job) -> Contingency | None:
    """What this kind of leak hid in the shop's closed jobs, or the planning assumption; None without booked work."""
    face = _face(job)
    if face is None:
        return None
    return contingency(job.leak, face, _closed_jobs(job))


def _face(job: Job) -> str | None:
    booked = job.findings.filter(is_booked=True).order_by("number").first()
    return booked.face if booked else None


def _closed_jobs(job: Job) -> list[ClosedJob]:
    """The shop's jobs that are over: where the leak was, and what the owner said yes to beyond the booking."""
    booked = Prefetch("findings", queryset=Finding.objects.filter(is_booked=True).order_by("number"), to_attr="booked")
    closed = Job.objects.filter(shop=job.shop, collected_at__isnull=False).prefetch_related(booked)
    added: dict[int, Decimal] = {}
    decisions = Decision.objects.filter(is_approved=True, request__finding__job__in=closed)
    offers = {offer.sha256: offer for offer in Offer.objects.filter(finding__job__in=closed)}
    for decision in decisions.select_related("request__finding"):
        offer, job_id = offers[decision.offer_sha256], decision.request.finding.job_id
        subtotal = offer.choice(decision.remedy_id or 0)["totals"]["subtotal_usd"]
        added[job_id] = added.get(job_id, ZERO) + Decimal(subtotal)
    return [
        ClosedJob(each.leak, each.booked[0].face, added.get(each.pk, ZERO))  # type: ignore[attr-defined]
        for each in closed
        if each.booked  # type: ignore[attr-defined]
    ]
