"""What may still be hidden in a coach: rows in, estimates.calc.contingency asked."""

from collections.abc import Sequence
from decimal import Decimal

from django.db.models import Prefetch

from estimates.calc.contingency import ClosedJob, Contingency, contingency
from estimates.models import Offer
from jobs.models import Decision, Finding, Job, Shop

ZERO = Decimal("0.00")


def hidden_damage(job: Job) -> Contingency | None:
    """What this kind of leak hid in the shop's closed jobs, or the planning assumption; None without booked work."""
    return hidden_damages(job.shop, [job]).get(job.pk)


def hidden_damages(shop: Shop, jobs: Sequence[Job]) -> dict[int, Contingency]:
    """The same for many jobs of a shop, by job; those without booked work are left out. A fixed number of queries."""
    record = _closed_jobs(shop)
    booked = Finding.objects.filter(job__in=jobs, is_booked=True).order_by("job_id", "-number")
    faces = dict(booked.values_list("job_id", "face"))  # the first of a job comes last and stays
    return {job.pk: contingency(job.leak, faces[job.pk], record) for job in jobs if job.pk in faces}


def _closed_jobs(shop: Shop) -> list[ClosedJob]:
    """The shop's jobs that are over: where the leak was, and what the owner said yes to beyond the booking."""
    booked = Prefetch("findings", queryset=Finding.objects.filter(is_booked=True).order_by("number"), to_attr="booked")
    closed = Job.objects.filter(shop=shop, collected_at__isnull=False).prefetch_related(booked)
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
