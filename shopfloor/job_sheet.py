"""The manager's page of one job: rows in, frozen lines ready to print out."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Prefetch

from estimates.billing import agreed_apart
from estimates.calc.plan.causes import Step
from estimates.models import DateChange, JobForecast, Offer, OfferedChoice, Revision
from estimates.moved_coaches import MovedCoach, jobs_of, moved_coaches
from estimates.option_days import QuestionDays, read_question_days
from estimates.overruns import steps_until
from estimates.plan_age import odds_lag
from estimates.together import Together, read_together
from jobs.body_plan import BodyPlan, draw_plan
from jobs.calc.leaving import left_words
from jobs.calc.stage import Stage
from jobs.drying_sheet import DryingSummary, drying_summary
from jobs.models import ApprovalRequest, CoachOwner, Finding, Job, Promise
from jobs.stages import progress_of
from jobs.views.rows import FindingRow, finding_rows
from shopfloor.board.lines import forecast_of, where_words
from updates.models import OwnerLink, Update


@dataclass(frozen=True)
class AnswerDay:
    """What an answer on a day does: this coach's date, days against the plan, and the other coaches it moves."""

    day: date
    ready_on: date
    days: int
    others: tuple[MovedCoach, ...]


@dataclass(frozen=True)
class FindingLine:
    """A finding with the offer that was last put to the owner."""

    row: FindingRow
    offer: Offer | None
    days: QuestionDays | None = None
    answer_days: tuple[AnswerDay, ...] = ()  # those that move a coach

    @property
    def number(self) -> int:
        return self.row.finding.number

    @property
    def title(self) -> str:
        return self.row.finding.get_kind_display()

    @property
    def late_moves(self) -> bool:
        """Whether the day of the answer moves another coach."""
        return any(each.others for each in self.answer_days)

    @property
    def choices(self) -> list[OfferedChoice]:
        """The remedies of the offer, the recommended one first."""
        return self.offer.offered() if self.offer else []

    @property
    def chosen(self) -> OfferedChoice | None:
        """What the owner said yes to."""
        decision = getattr(self.row.request, "decision", None)
        return next((each for each in self.choices if decision and each.remedy_id == decision.remedy_id), None)

    @property
    def left_words(self) -> str:
        """What leaving it as it is means."""
        return left_words(self.row.finding.kind)

    @property
    def is_open(self) -> bool:
        return self.row.request is not None and self.row.request.closed_at is None


@dataclass(frozen=True)
class OwnerLine:
    ownership: CoachOwner
    open_links: int


@dataclass(frozen=True)
class JobSheet:
    job: Job
    stage: Stage
    where: str
    promise: Promise | None
    promises: tuple[Promise, ...]
    forecast: JobForecast | None
    ready_on: date | None  # None until it stands ready
    expected_on: date | None  # by the plan; once it is ready, the day it became so
    days: int | None
    steps: tuple[Step, ...]
    moves: tuple[DateChange, ...]
    owners: tuple[OwnerLine, ...]
    findings: tuple[FindingLine, ...]
    revisions: tuple[Revision, ...]
    updates: tuple[Update, ...]
    plan: BodyPlan
    drying: DryingSummary | None
    later_bookings: str  # whether the odds count on coaches booked later
    undated: tuple[int, ...]  # stations without a drying date, by number: they keep the coach from having odds
    long_waits: tuple[str, ...]  # for people who are away
    why_unplanned: str  # empty if the plan in force holds it
    together: Together | None  # all open questions at once, where there are several
    apart: str  # why the agreed total is not what its prices add up to, in words
    odds_lag: str  # what is old about the odds, empty while they are of the plan shown
    to_promise_on: date | None  # the first open day that the odds, or while there are none the plan, allow

    @property
    def questions(self) -> tuple[FindingLine, ...]:
        return tuple(line for line in self.findings if line.is_open)


def read_job_sheet(job_id: int, now: datetime) -> JobSheet:
    """All that the page of a job shows but its journal, in a fixed number of queries."""
    jobs = (
        Job.objects.with_coach()
        .select_related("forecast__bay", "shop__plan")
        .prefetch_related("promises", "date_changes")
    )
    job = jobs.get(pk=job_id)
    plan = getattr(job.shop, "plan", None)
    promise, forecast, progress = job.promise, forecast_of(job), progress_of([job])[job_id]
    lines = tuple(_with_days([_finding_line(row) for row in finding_rows(job, _findings(job))]))
    was_ready_on, revisions = progress.ready_on(job.shop), list(job.revisions.order_by("number"))
    expected_on = was_ready_on or (forecast.expected_on if forecast else None)
    days = (expected_on - promise.ready_on).days if expected_on and promise else None
    lag = odds_lag(plan)
    return JobSheet(
        job=job,
        stage=progress.stage,
        where=where_words(job),
        promise=promise,
        promises=tuple(reversed(job.promises.all())),
        forecast=forecast,
        ready_on=was_ready_on,
        expected_on=expected_on,
        days=days,
        steps=steps_until(promise, job.date_changes.all(), days) if promise and days else (),
        moves=tuple(reversed(job.date_changes.all())),
        owners=tuple(_owners(job, now)),
        findings=lines,
        revisions=tuple(reversed(revisions)),
        updates=tuple(job.updates.select_related("owner").order_by("-pk")),
        plan=draw_plan(job.coach, [(line.row.finding, f"#finding-{line.row.finding.number}") for line in lines]),
        drying=drying_summary(job),
        together=read_together(job, [line for line in reversed(lines) if line.is_open], is_for_owner=False),
        apart=agreed_apart(revisions, [line.chosen.total_usd for line in lines if line.chosen]),
        later_bookings=plan.later_bookings if plan else "",
        undated=tuple(job.stations.in_use().undated().order_by("number").values_list("number", flat=True)),
        long_waits=tuple(plan.long_waits_of(job.pk)) if plan else (),
        why_unplanned=plan.why_unplanned(job.pk) if plan else "",
        odds_lag=lag,
        to_promise_on=_to_promise_on(job, forecast, expected_on, now, is_old=bool(lag or was_ready_on)),
    )


def _to_promise_on(
    job: Job, forecast: JobForecast | None, expected_on: date | None, now: datetime, *, is_old: bool
) -> date | None:
    """Four in five, or by the plan where these odds are of another or it is ready. Never a day passed or closed."""
    safe_on = forecast.safe_on if forecast and not is_old else None
    if expected_on is None:
        return None
    calendar, first_on = job.shop.calendar(), max(safe_on or expected_on, job.shop.local_date(now))
    return calendar.workday_from(first_on) if calendar.weekly else first_on


def _with_days(lines: Sequence[FindingLine]) -> Iterator[FindingLine]:
    """Each open question with and without, by the plan in force."""
    requests = [line.row.request for line in lines if line.is_open and line.row.request]
    days, by_day = read_question_days(requests), _answer_days(requests)
    for line in lines:
        pk = line.row.request.pk if line.row.request else 0
        yield replace(line, days=days.get(pk), answer_days=by_day.get(pk, ()))


def _answer_days(requests: Sequence[ApprovalRequest]) -> dict[int, tuple[AnswerDay, ...]]:
    """By primary key of the request, for those whose outlook was read with them; at most one query."""
    moving = {each.pk: each.outlook.moving for each in requests if hasattr(each, "outlook")}
    jobs = jobs_of(row.others for rows in moving.values() for row in rows)
    return {
        pk: tuple(AnswerDay(row.day, row.ready_on, row.days, moved_coaches(row.others, jobs)) for row in rows)
        for pk, rows in moving.items()
    }


def _findings(job: Job) -> list[Finding]:
    offers = Offer.objects.order_by("pk")
    rows = job.findings.for_page().prefetch_related(Prefetch("offers", queryset=offers), "requests__outlook")
    return list(rows.order_by("-number"))


def _owners(job: Job, now: datetime) -> list[OwnerLine]:
    links = OwnerLink.objects.filter(job=job, withdrawn_at__isnull=True, expires_at__gt=now)
    open_links = Counter(links.values_list("owner_id", flat=True))
    ownerships = job.coach.ownerships.select_related("owner").order_by("pk")
    return [OwnerLine(ownership, open_links[ownership.owner_id]) for ownership in ownerships]


def _finding_line(row: FindingRow) -> FindingLine:
    asked = row.request
    offers = [offer for offer in row.finding.offers.all() if asked and offer.sha256 == asked.offer_sha256]
    return FindingLine(row, offers[0] if offers else None)
