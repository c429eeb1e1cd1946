"""What the owner was asked and answered, as it is kept: request, offer and decision side by side."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import date

from django.db.models import Prefetch

from estimates.models import Offer, OfferedChoice, OptionDate
from jobs.body_plan import place_words
from jobs.models import ApprovalRequest, Decision, Finding, Job


@dataclass(frozen=True)
class AskedWay:
    """One answer with its date. told_on: as told when asked, where the plan of today has another. days: beside a no."""

    choice: OfferedChoice
    ready_on: date
    days: int
    told_on: date | None


@dataclass(frozen=True)
class Asked:
    """One question to the owner, the offer it was about, and the answer if there is one."""

    request: ApprovalRequest
    finding: Finding
    place: str
    offer: Offer | None
    choices: tuple[OfferedChoice, ...]
    decision: Decision | None
    now_on: Mapping[int | None, date] = field(default_factory=dict)  # by remedy, None for a no; by the plan of today

    @property
    def is_dated_today(self) -> bool:
        """Whether the plan of today has a date for each answer; those told when asked hold until it has."""
        return set(self.now_on) >= {None, *(choice.remedy_id for choice in self.choices)}

    @property
    def left_on(self) -> date | None:
        """The date with a no."""
        return self.now_on[None] if self.is_dated_today else self.left_told_on

    @property
    def left_told_on(self) -> date | None:
        return self.offer.ready_without_on if self.offer else None

    @property
    def ways(self) -> list[AskedWay]:
        """The choices with the dates of today."""
        return [self._way(choice) for choice in self.choices]

    def _way(self, choice: OfferedChoice) -> AskedWay:
        ready_on = self.now_on[choice.remedy_id] if self.is_dated_today else choice.ready_with_on
        told_on = choice.ready_with_on if choice.ready_with_on != ready_on else None
        return AskedWay(choice, ready_on, (ready_on - self.left_on).days if self.left_on else 0, told_on)

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


def with_dates_of_today(job: Job, asked: Iterable[Asked]) -> list[Asked]:
    """The open ones of these with the dates that the plan of today has for each answer; one query."""
    dates: dict[int, dict[int | None, date]] = defaultdict(dict)
    for row in OptionDate.objects.filter(job=job, request__finding__job=job):
        dates[row.request_id][row.remedy_id] = row.ready_on
    return [replace(each, now_on=dates[each.request.pk]) for each in asked if each.is_open]


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
