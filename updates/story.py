"""What an owner sees of a job: rows in, frozen lines ready to print out."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from estimates.balances import Paid, read_paid
from estimates.billing import agreed_apart
from estimates.models import JobForecast, Offer, OfferedChoice, QuestionOdds, QuestionOutlook, Revision, ShopPlan
from estimates.plan_age import odds_lag
from jobs import kinds
from jobs.body_plan import work_place_words
from jobs.calc.leaving import left_words
from jobs.drying_sheet import DryingSummary, drying_summary
from jobs.models import ApprovalRequest, Decision, Finding, Job, Operation, Owner, Photo, Promise, Station
from updates.compose.delay import Delay, compose_delay
from updates.compose.evidence import VERDICT_WORDS
from updates.compose.frame import undated_words
from updates.compose.kinds import KIND_WORDS, meaning_of
from updates.delay import delay_facts
from updates.facts import common_facts
from updates.work_done import WorkDone, finished_at, read_work


@dataclass(frozen=True)
class Change:
    """The shop put other remedies in the place of those the owner was asked about, and said why."""

    at: datetime
    reason: str


@dataclass(frozen=True)
class StoryWay:
    """One remedy to choose. ready_on: by the plan of today; asked_on: what was told when we asked, where it differs.

    left_on: ready date with a no, by the same plan. promised_on: the date to hold it against, if any.
    """

    choice: OfferedChoice
    ready_on: date
    asked_on: date | None
    left_on: date
    promised_on: date | None

    @property
    def than_no(self) -> str:
        """The days it takes beside a no, in words: both dates are the plan's, so that they can be held together."""
        days = (self.ready_on - self.left_on).days
        if not days:
            return "the same as with a no"
        return f"{abs(days)} day{'' if abs(days) == 1 else 's'} {'later' if days > 0 else 'sooner'} than with a no"

    @property
    def against_promise(self) -> str:
        return _against(self.promised_on, self.ready_on)


@dataclass(frozen=True)
class StoryFinding:
    """A finding as the owner reads it, with its offer and answer if there are any."""

    number: int
    title: str
    place: str
    meaning: str
    verdict: str
    seen: str
    remedy: str
    leave: str
    found_at: datetime
    is_booked: bool
    is_unsafe_to_leave: bool
    photos: tuple[Photo, ...]
    offer: Offer | None
    choices: tuple[OfferedChoice, ...]
    request: ApprovalRequest | None
    decision: Decision | None
    outlook: QuestionOutlook | None
    changes: tuple[Change, ...]  # of what was proposed, since the owner was first asked
    is_changing: bool  # another proposal is being worked out
    now_on: Mapping[int | None, date]  # ready date for each remedy and for a no, by the plan of today
    promised_on: date | None
    odds: QuestionOdds | None  # of the recommended remedy and of a no

    @property
    def ways(self) -> list[StoryWay]:
        rows = ((choice, self.now_on.get(choice.remedy_id, choice.ready_with_on)) for choice in self.choices)
        left_on = self.left_on
        return [
            StoryWay(choice, on, _other(choice.ready_with_on, on), left_on, self.promised_on)
            for choice, on in rows
            if left_on
        ]

    @property
    def told_odds(self) -> QuestionOdds | None:
        """As at the head of the page: once a date is promised, only dates beyond it are told beside it."""
        if self.odds and (self.promised_on is None or self.odds.safe_with_on > self.promised_on):
            return self.odds
        return None

    @property
    def left_against_promise(self) -> str:
        return _against(self.promised_on, self.left_on)

    @property
    def left_on(self) -> date | None:
        """The ready date with a no, by the plan of today."""
        return self.now_on.get(None, self.offer.ready_without_on) if self.offer else None

    @property
    def left_asked_on(self) -> date | None:
        """What was told of a no when we asked, where it differs."""
        return _other(self.offer.ready_without_on, self.left_on) if self.offer else None

    @property
    def chosen(self) -> OfferedChoice | None:
        """What the owner said yes to."""
        if self.decision is None or self.decision.remedy_id is None:
            return None
        return next(choice for choice in self.choices if choice.remedy_id == self.decision.remedy_id)

    @property
    def is_open(self) -> bool:
        return self.request is not None and self.request.closed_at is None


@dataclass(frozen=True)
class Story:
    job: Job
    promised_on: date | None
    expected_on: date | None  # by the plan of today; None once it is ready
    # Ready by then in half, and in four of five, of the simulated courses; None once it is ready, and while these odds
    # are of another plan.
    even_on: date | None
    safe_on: date | None
    undated: str  # that spots in the wood have no drying date, in words; empty where each has one
    delay: Delay | None  # why it is late, while it is
    told: tuple[Promise, ...]  # every date the owner was given, oldest first
    drying: DryingSummary | None
    work: tuple[WorkDone, ...]
    finished_at: datetime | None
    total_usd: Decimal | None
    apart: str  # why that is not what the prices said yes to add up to, in words; mostly empty
    paid: Paid
    revisions: tuple[Revision, ...]
    is_done: bool  # all agreed work is finished
    questions: tuple[StoryFinding, ...]
    findings: tuple[StoryFinding, ...]

    @property
    def is_safe_date_told(self) -> bool:
        """Once a date is promised, a sooner one of the plan's odds is no help: it would only come and go.

        Nor is one that says what the plan says, or contradicts it.
        """
        if self.safe_on is None or self.expected_on is None or self.safe_on <= self.expected_on:
            return False
        return self.promised_on is None or self.safe_on > self.promised_on

    @property
    def is_even_date_told(self) -> bool:
        """Only beside a plan that nobody has promised anything by, and never before its date."""
        return bool(self.even_on and self.expected_on and not self.promised_on and self.even_on > self.expected_on)


def tell_story(job: Job, owner: Owner, *, today: date) -> Story:
    """The whole story of a job for one of its owners, newest finding first; a fixed number of queries."""
    findings = job.findings.for_page().prefetch_related(
        Prefetch("offers", queryset=Offer.objects.order_by("pk")),
        "requests__outlook",
        "requests__odds",
        "requests__option_dates",
    )
    changes = _changes(job)
    work = _operations(job)
    told = tuple(
        _story_finding(job, finding, changes[finding.pk], work[finding.pk]) for finding in findings.order_by("-number")
    )
    if is_lagging := bool(odds_lag(ShopPlan.objects.filter(shop=job.shop_id).first())):
        told = tuple(replace(each, odds=None) for each in told)
    done_at = finished_at(job)
    forecast = JobForecast.objects.filter(job=job).first() if done_at is None else None
    odds = None if is_lagging else forecast
    revisions = tuple(job.revisions.order_by("number"))
    promise = job.promise
    expected_on = forecast.expected_on if forecast else None
    if spots := Station.objects.in_use().undated().filter(job=job).count() if forecast else 0:
        # Nothing is said to be in time while nobody knows when the wood is dry.
        told = tuple(replace(each, promised_on=None) for each in told)
    delay = delay_facts(job, expected_on, today=today)
    return Story(
        job=job,
        promised_on=promise.ready_on if promise else None,
        expected_on=expected_on,
        even_on=odds.even_on if odds else None,
        safe_on=odds.safe_on if odds else None,
        undated=undated_words(spots) if spots else "",
        delay=compose_delay(common_facts(job, owner), delay) if delay else None,
        told=tuple(job.promises.order_by("pk")),
        work=read_work(job),
        finished_at=done_at,
        drying=drying_summary(job) if job.collected_at is None else None,
        total_usd=revisions[-1].total_usd if revisions else None,
        apart=agreed_apart(revisions, [each.chosen.total_usd for each in told if each.chosen]),
        paid=read_paid(job, revisions[-1] if revisions else None),
        revisions=revisions,
        is_done=job.arrived_at is not None and not job.operations.unfinished().exists(),
        questions=tuple(each for each in reversed(told) if each.is_open),
        findings=told,
    )


def _changes(job: Job) -> dict[int, list[Change]]:
    """The adjustments of what the owner was asked about, by finding; one query."""
    found: dict[int, list[Change]] = defaultdict(list)
    for entry in job.entries.filter(kind=kinds.REMEDIES_ADJUSTED).order_by("number"):
        if entry.data["request"] or found[entry.data["finding"]]:
            found[entry.data["finding"]].append(Change(entry.at, entry.data["reason"]))
    return found


def _operations(job: Job) -> dict[int, list[Operation]]:
    """The agreed work, by finding; one query."""
    found: dict[int, list[Operation]] = defaultdict(list)
    for operation in job.operations.select_related("remedy"):
        found[operation.remedy.finding_id].append(operation)
    return found


def _story_finding(
    job: Job, finding: Finding, changes: Sequence[Change], operations: Sequence[Operation]
) -> StoryFinding:
    request = finding.current_request
    offers = [offer for offer in finding.offers.all() if request and offer.sha256 == request.offer_sha256]
    remedy = next(iter(finding.standing_remedies), None)
    return StoryFinding(
        number=finding.number,
        title=KIND_WORDS[finding.kind],
        place=work_place_words(finding, operations),
        meaning=meaning_of(finding.kind),
        verdict=VERDICT_WORDS[finding.standing_verdict],
        seen=finding.seen,
        remedy=remedy.words if remedy else "",
        leave=left_words(finding.kind),
        found_at=finding.posted_at,
        is_booked=finding.is_booked,
        is_unsafe_to_leave=finding.is_unsafe_to_leave,
        photos=tuple(photo for photo in finding.photos.all() if photo.is_ready),
        offer=offers[0] if offers else None,
        choices=tuple(offers[0].offered()) if offers else (),
        request=request,
        decision=getattr(request, "decision", None) if request else None,
        outlook=getattr(request, "outlook", None) if request else None,
        changes=tuple(changes),
        is_changing=request is None and bool(finding.requests.all()),
        now_on=_dates_now(job, request),
        promised_on=job.promise.ready_on if job.promise else None,
        odds=getattr(request, "odds", None) if request and not request.closed_at else None,
    )


def _dates_now(job: Job, request: ApprovalRequest | None) -> dict[int | None, date]:
    if request is None or request.closed_at:
        return {}
    asked: Any = request  # the dates hang on it from estimates, of which its own app knows nothing
    return {row.remedy_id: row.ready_on for row in asked.option_dates.all() if row.job_id == job.pk}


def _against(promised_on: date | None, ready_on: date | None) -> str:
    """Whether a date of the plan keeps the one we gave, in words; empty where there is none."""
    if promised_on is None or ready_on is None:
        return ""
    days = (ready_on - promised_on).days
    return (
        f"{days} day{'' if days == 1 else 's'} after the date we gave you"
        if days > 0
        else "in time for the date we gave you"
    )


def _other(told_on: date, now_on: date | None) -> date | None:
    return told_on if told_on != now_on else None
