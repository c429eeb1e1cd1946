"""What the owner was asked and answered, as it is kept: request, offer and decision side by side."""

from collections.abc import Iterable
from dataclasses import dataclass

from django.db.models import Prefetch

from estimates.models import Offer, OfferedChoice
from jobs.body_plan import place_words
from jobs.models import ApprovalRequest, Decision, Finding, Job


@dataclass(frozen=True)
class Asked:
    """One question to the owner, the offer it was about, and the answer if there is one."""

    request: ApprovalRequest
    finding: Finding
    place: str
    offer: Offer | None
    choices: tuple[OfferedChoice, ...]
    decision: Decision | None

    @property
    def is_open(self) -> bool:
        return self.request.closed_at is None

    @property
    def chosen(self) -> OfferedChoice | None:
        """What the owner said yes to."""
        if self.decision is None or self.decision.remedy_id is None:
            return None
        return next((each for each in self.choices if each.remedy_id == self.decision.remedy_id), None)


def read_asked(job: Job) -> list[Asked]:
    """All that the owner was asked about this job, oldest first, but questions that were taken back."""
    requests = (
        ApprovalRequest.objects.filter(finding__job=job)
        .select_related("decision__owner")
        .prefetch_related(Prefetch("finding", queryset=Finding.objects.select_related("posted_by")))
        .order_by("pk")
    )
    offers = {offer.sha256: offer for offer in Offer.objects.filter(finding__job=job)}
    asked = [_asked(each, job, offers.get(each.offer_sha256)) for each in requests]
    return [each for each in asked if each.is_open or each.decision is not None]


def declined(asked: Iterable[Asked]) -> list[Asked]:
    """The findings whose last answer was a no, by number."""
    last = {each.finding.pk: each for each in asked if each.decision is not None}
    refused = [each for each in last.values() if each.decision is not None and not each.decision.is_approved]
    return sorted(refused, key=lambda each: each.finding.number)


def _asked(request: ApprovalRequest, job: Job, offer: Offer | None) -> Asked:
    finding = request.finding
    finding.job = job
    return Asked(
        request=request,
        finding=finding,
        place=place_words(finding),
        offer=offer,
        choices=tuple(offer.offered()) if offer else (),
        decision=getattr(request, "decision", None),
    )
