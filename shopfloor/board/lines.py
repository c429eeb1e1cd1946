"""Reading the board: what stands in each bay, what is promised, what waits for whom."""

from collections import defaultdict
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from decimal import Decimal
from zoneinfo import ZoneInfo

from django.core.exceptions import ObjectDoesNotExist
from django.urls import reverse
from django.utils import timezone

from estimates.calc.plan.causes import Step
from estimates.equipment import ShortWork, equipment_of, short_work
from estimates.job_hours import SpanRow, left_open
from estimates.models import DateChange, JobForecast, Offer, PlannedTask, ShopPlan
from estimates.overruns import over_days, steps_until
from estimates.pausing import PausingWork, pausing_work
from estimates.plan_age import odds_lag
from jobs.calc.days import bare_day
from jobs.calc.stage import Stage
from jobs.calc.workdays import ShopCalendar
from jobs.journal import KINDS
from jobs.models import ApprovalRequest, Bay, Job, Promise, Reaction, Shop, Station
from jobs.stages import Progress, progress_of
from shopfloor.board.chart import LONGEST_DAYS, PAST_DAYS, Band, Chart, Stay, closed_days, draw_chart, midnight
from updates.models import Update

# Shorter waits (a flash-off, a treatment drying over lunch) would only make the bar restless.
SHORTEST_WAIT = timedelta(hours=4)
Span = tuple[datetime, datetime]


@dataclass(frozen=True)
class JobLine:
    """One open job: where it is, what was promised, what is expected."""

    job: Job
    page: str  # its address
    stage: Stage
    where: str
    promise: Promise | None
    expected_on: date | None  # by the plan; once it is ready, the day it became so
    ends_at: datetime | None  # the same to the minute
    is_ready: bool
    even_on: date | None  # ready by then in half of the simulated courses
    safe_on: date | None  # and in four of five
    days: int | None  # expected minus promised; None while one of them is missing
    waits_for: str
    waits: tuple[Span, ...]  # the long ones of its plan
    steps: tuple[Step, ...] = ()

    @property
    def promised_on(self) -> date | None:
        return self.promise.ready_on if self.promise else None

    @property
    def is_over(self) -> bool:
        return self.days is not None and self.days > 0


@dataclass(frozen=True)
class QuestionLine:
    """An open question to an owner."""

    request: ApprovalRequest
    job: Job
    total_usd: Decimal | None
    with_on: date | None
    without_on: date | None
    days: int | None
    age: timedelta
    is_late: bool


@dataclass(frozen=True)
class TroubleLine:
    """Work of the worker that was given up; the manager may have it tried again."""

    reaction: Reaction
    job: Job
    what: str
    after: str


@dataclass(frozen=True)
class PlanNotice:
    """What the plan has to say of one coach."""

    job: Job
    words: str


@dataclass(frozen=True)
class Board:
    chart: Chart
    bands: tuple[Band, ...]
    jobs: tuple[JobLine, ...]
    overruns: tuple[JobLine, ...]
    questions: tuple[QuestionLine, ...]
    troubles: tuple[TroubleLine, ...]
    refused: tuple[Update, ...]
    left_open: tuple[SpanRow, ...]  # clocks that ran past closing time
    pausing: tuple[PausingWork, ...]
    short: tuple[ShortWork, ...]  # of equipment
    unplanned: tuple[PlanNotice, ...]
    long_waits: tuple[PlanNotice, ...]  # for people who are away
    refusal: str  # why no newer plan of the shop could be made
    planned_at: datetime | None
    later_bookings: str  # whether the odds count on coaches booked later
    odds_lag: str  # what is old about the odds, empty while they are of this plan

    @property
    def needs_a_hand(self) -> bool:
        return any(
            (
                self.refusal,
                self.unplanned,
                self.long_waits,
                self.troubles,
                self.refused,
                self.left_open,
                self.pausing,
                self.short,
            )
        )


def read_board(shop: Shop, now: datetime) -> Board:
    """The whole board of a shop: a fixed number of queries, however many coaches there are."""
    # Not `with_coach`: each job would get a shop of its own.
    jobs = list(shop.jobs.open().select_related("coach", "bay", "forecast"))
    lines = tuple(_lines(jobs))
    bands = tuple(_bands(shop, lines, now))
    plan = ShopPlan.objects.filter(shop=shop).first()
    calendar = shop.calendar()
    return Board(
        chart=draw_chart(bands, now=now, time_zone=shop.time_zone, closed=_closed(shop, calendar, now)),
        bands=bands,
        jobs=lines,
        overruns=tuple(sorted((line for line in lines if line.is_over), key=lambda line: -(line.days or 0))),
        questions=tuple(_questions(shop, now)),
        troubles=tuple(_troubles(shop)),
        refused=tuple(refused_updates(shop)),
        left_open=tuple(left_open(shop, calendar, now)),
        pausing=tuple(pausing_work(shop, calendar, now)),
        short=tuple(short_work(jobs, equipment_of(shop.pk))),
        unplanned=tuple(_unplanned(plan, jobs)),
        long_waits=tuple(_long_waits_told(plan, jobs)),
        refusal=plan.refusal if plan else "",
        planned_at=plan.made_at if plan else None,
        later_bookings=plan.later_bookings if plan else "",
        odds_lag=odds_lag(plan),
    )


def _unplanned(plan: ShopPlan | None, jobs: Sequence[Job]) -> Iterator[PlanNotice]:
    for job in jobs if plan and plan.unplanned else ():
        if plan and (words := plan.why_unplanned(job.pk)):
            yield PlanNotice(job, words)


def _long_waits_told(plan: ShopPlan | None, jobs: Sequence[Job]) -> Iterator[PlanNotice]:
    by_pk = {job.pk: job for job in jobs}
    for job_id, words in plan.long_waits if plan else ():
        if job_id in by_pk:
            yield PlanNotice(by_pk[job_id], words)


def refused_updates(shop: Shop) -> Iterable[Update]:
    """Messages of open jobs that the mail server will not take: the owner must be reached another way."""
    refused = Update.objects.filter(job__shop=shop, job__collected_at__isnull=True, failed_at__isnull=False)
    return refused.select_related("job__coach", "owner")


def forecast_of(job: Job) -> JobForecast | None:
    try:
        return job.forecast
    except ObjectDoesNotExist:
        return None


def _lines(jobs: Sequence[Job]) -> Iterator[JobLine]:
    progress, promises = progress_of(jobs), Promise.objects.latest_of(jobs)
    held, waits = _held(jobs), _long_waits(jobs)
    lines = [
        _job_line(job, progress[job.pk], promises.get(job.pk), held.get(job.pk, ()), waits.get(job.pk, ()))
        for job in jobs
    ]
    changes = _by_job(DateChange.objects.filter(job__in=[line.job for line in lines if line.is_over]))
    for line in lines:
        if line.promise and line.days and line.is_over:
            line = replace(line, steps=steps_until(line.promise, changes.get(line.job.pk, ()), line.days))
        yield line


def _job_line(
    job: Job, progress: Progress, promise: Promise | None, held: Sequence[int], waits: Sequence[Span]
) -> JobLine:
    forecast = forecast_of(job)
    was_ready_on = progress.ready_on(job.shop)
    expected_on = was_ready_on or (forecast.expected_on if forecast else None)
    odds = None if was_ready_on else forecast
    return JobLine(
        job=job,
        page=reverse("shopfloor:job-detail", args=[job.pk]),
        stage=progress.stage,
        where=where_words(job),
        promise=promise,
        expected_on=expected_on,
        ends_at=progress.ready_at or (forecast.expected_at if forecast else None),
        is_ready=was_ready_on is not None,
        even_on=odds.even_on if odds else None,
        safe_on=odds.safe_on if odds else None,
        days=(expected_on - promise.ready_on).days if expected_on and promise else None,
        waits_for="; ".join(filter(None, [forecast.waits_for if forecast else "", _held_words(held)])),
        waits=tuple(waits),
    )


def _by_job(changes: Iterable[DateChange]) -> dict[int, list[DateChange]]:
    by_job: dict[int, list[DateChange]] = defaultdict(list)
    for change in changes:
        by_job[change.job_id].append(change)
    return by_job


def _held(jobs: Sequence[Job]) -> dict[int, list[int]]:
    """By job, the numbers of the stations that do not dry: the date beside them cannot be firm."""
    held: dict[int, list[int]] = defaultdict(list)
    stations = Station.objects.in_use().held().filter(job__in=jobs)
    for job_id, number in stations.order_by("number").values_list("job_id", "number"):
        held[job_id].append(number)
    return held


def _held_words(held: Sequence[int]) -> str:
    if not held:
        return ""
    return f"no drying date: station{'' if len(held) == 1 else 's'} {', '.join(map(str, held))}"


def _long_waits(jobs: Sequence[Job]) -> dict[int, list[Span]]:
    waits: dict[int, list[Span]] = defaultdict(list)
    tasks = PlannedTask.objects.filter(job__in=jobs, kind="wait").order_by("start_at", "pk")
    for job_id, start_at, end_at in tasks.values_list("job_id", "start_at", "end_at"):
        if end_at - start_at > SHORTEST_WAIT:
            waits[job_id].append((start_at, end_at))
    return waits


def where_words(job: Job) -> str:
    if job.arrived_at is None:
        return "not here yet"
    return str(job.bay) if job.is_in_bay else "outside"


def _bands(shop: Shop, lines: Sequence[JobLine], now: datetime) -> Iterable[Band]:
    by_bay: dict[int, list[Stay]] = {}
    outside, booked = [], []
    for line in lines:
        bay_id, stay = _bay_stay(line, now)
        if bay_id and stay:
            by_bay.setdefault(bay_id, []).append(stay)
        if line.job.arrived_at is None:
            booked.append(_lane_stay(line, now, stay))
        elif not line.job.is_in_bay:
            outside.append(_lane_stay(line, now, stay))
    for bay in Bay.objects.filter(shop=shop):
        stays = tuple(by_bay.get(bay.pk, ()))
        yield Band(bay.name, _bay_note(bay, lines), stays)
    yield Band("Outside", _count(len(outside), "coach", "coaches"), tuple(outside), is_lanes=True)
    yield Band("Booked", _count(len(booked), "coach", "coaches"), tuple(booked), is_lanes=True)


def _bay_note(bay: Bay, lines: Sequence[JobLine]) -> str:
    standing = [line.job.number for line in lines if line.job.is_in_bay and line.job.bay_id == bay.pk]
    return f"job {standing[0]}" if standing else "empty"


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _bay_stay(line: JobLine, now: datetime) -> tuple[int | None, Stay | None]:
    """The bay this coach stands in or is planned for, and its bar there."""
    job, forecast = line.job, forecast_of(line.job)
    if job.is_in_bay and job.entered_bay_at:
        until_at = forecast.bay_until_at if forecast and forecast.bay_id == job.bay_id else None
        return job.bay_id, _stay(line, job.entered_bay_at, max(until_at or now, now))
    if forecast and forecast.bay_id and forecast.bay_from_at and forecast.bay_until_at:
        return forecast.bay_id, _stay(line, forecast.bay_from_at, forecast.bay_until_at)
    return None, None


def _lane_stay(line: JobLine, now: datetime, bay_stay: Stay | None) -> Stay:
    """The thin bar of a coach in no bay: until it goes into one, or until it is ready."""
    job = line.job
    arrival = job.arrived_at or midnight(job.arrives_on, ZoneInfo(job.shop.time_zone))
    from_at = max(arrival, job.left_bay_at or arrival)
    if bay_stay:
        return _stay(line, from_at, max(from_at, bay_stay.from_at), is_whole=False)
    until_at = line.ends_at or now
    return _stay(line, from_at, max(from_at, until_at))


def _stay(line: JobLine, from_at: datetime, until_at: datetime, *, is_whole: bool = True) -> Stay:
    """is_whole: this bar ends with the job, so it carries the flag, the post and the waits."""
    job = line.job
    return Stay(
        job_id=job.pk,
        page=line.page,
        number=job.number,
        coach=str(job.coach),
        words=_stay_words(line, from_at, until_at, is_whole=is_whole),
        from_at=from_at,
        until_at=until_at,
        expected_at=line.ends_at if is_whole else None,
        promised_on=line.promised_on if is_whole else None,
        over_days=over_days(line.promised_on, line.expected_on) if is_whole else 0,
        waits=line.waits if is_whole else (),
    )


def _stay_words(line: JobLine, from_at: datetime, until_at: datetime, *, is_whole: bool) -> str:
    job = line.job
    zone = ZoneInfo(job.shop.time_zone)
    span = f"{day_words(from_at.astimezone(zone).date())} to {day_words(until_at.astimezone(zone).date())}"
    parts = [f"Job {job.number}, {job.coach}, {line.stage}, {span}"]
    if is_whole and line.promised_on:
        parts.append(f"promised {day_words(line.promised_on)}")
    if is_whole and line.expected_on:
        parts.append(f"{'ready since' if line.is_ready else 'expected'} {day_words(line.expected_on)}")
    if is_whole and line.is_over:
        parts.append(f"{_count(line.days or 0, 'day', 'days')} over")
    if line.waits_for:
        parts.append(f"waits for {line.waits_for}")
    return ", ".join(parts)


def day_words(on: date) -> str:
    return bare_day(on, timezone.localdate())


def _closed(shop: Shop, calendar: ShopCalendar, now: datetime) -> frozenset[date]:
    zone = ZoneInfo(shop.time_zone)
    first_on = shop.local_date(now) - timedelta(days=PAST_DAYS)
    end = midnight(first_on + timedelta(days=LONGEST_DAYS), zone)
    return closed_days(calendar.shifts(midnight(first_on, zone), end), first_on, LONGEST_DAYS, zone)


def _questions(shop: Shop, now: datetime) -> Iterable[QuestionLine]:
    requests = list(
        ApprovalRequest.objects.open()
        .filter(finding__job__shop=shop)
        .select_related("finding__job__coach", "finding__job__forecast", "remedy__standard", "outlook")
        .order_by("asked_at", "pk")
    )
    shown = Offer.objects.filter(sha256__in=[request.offer_sha256 for request in requests])
    offers = {offer.sha256: offer for offer in shown}
    for request in requests:
        yield _question(request, offers.get(request.offer_sha256), now)


def _question(request: ApprovalRequest, offer: Offer | None, now: datetime) -> QuestionLine:
    """Dates by the plan as it is now; by the offer until there is one."""
    job = request.finding.job
    forecast = forecast_of(job)
    outlook = getattr(request, "outlook", None)
    with_on = offer.ready_with_on if offer else None
    without_on = offer.ready_without_on if offer else None
    if forecast and outlook:
        with_on, without_on = forecast.expected_on, outlook.ready_without_on
    return QuestionLine(
        request=request,
        job=job,
        total_usd=offer.total_usd if offer else None,
        with_on=with_on,
        without_on=without_on,
        days=(with_on - without_on).days if with_on and without_on else None,
        age=now - request.asked_at,
        is_late=now > request.answer_by_at,
    )


def _troubles(shop: Shop) -> Iterable[TroubleLine]:
    given_up = (
        Reaction.objects.filter(entry__job__shop=shop, state=Reaction.State.GIVEN_UP)
        .select_related("entry__job__coach")
        .order_by("pk")
    )
    for reaction in given_up:
        kind = KINDS.get(reaction.entry.kind)
        after = kind.words if kind else reaction.entry.kind
        yield TroubleLine(reaction, reaction.entry.job, reaction.name, after)
