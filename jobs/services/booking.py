"""A job's stay: booked, promised, arrived, moved, collected."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from django.db import IntegrityError, transaction
from django.db.models import Max

from jobs import kinds
from jobs.calc.faces import Place
from jobs.calc.promises import refusal
from jobs.errors import NotNow
from jobs.journal import record
from jobs.models import Bay, Coach, Finding, HoldPoint, Job, Person, Promise, Remedy, Shop, StandardRemedy

NO_LIMIT = Decimal("0.00")


@dataclass(frozen=True)
class BookedWork:
    """Damage the owner brought in, with the remedy agreed at the desk."""

    kind: str
    place: Place
    seen: str
    standard_remedy: StandardRemedy


@transaction.atomic
def book_job(
    *,
    coach: Coach,
    complaint: str,
    arrives_on: date,
    work: Sequence[BookedWork],
    bay: Bay | None = None,
    priority: int = 5,
    go_ahead_usd: Decimal = NO_LIMIT,
    go_ahead_days: int = 0,
    leak: str = "unknown",
    by: Person,
    now: datetime,
) -> Job:
    """Book a coach in with the work agreed at the desk.

    go_ahead_usd [USD, tax included], go_ahead_days: what the owner agrees to in advance for what is found later.

    Raises NotNow if the coach already has an open job, or no work is named.
    After commit: the worker writes the first revision and plans the job.
    """
    if not work:
        raise NotNow("Name at least one piece of work for this coach.")
    if Job.objects.open().filter(coach=coach).exists():
        raise NotNow(f"{coach} already has an open job.")
    Shop.objects.select_for_update().get(pk=coach.shop_id)  # one number at a time
    last = Job.objects.filter(shop_id=coach.shop_id).aggregate(last=Max("number"))["last"]
    job = Job.objects.create(
        shop_id=coach.shop_id,
        coach=coach,
        number=(last or 100) + 1,
        complaint=complaint,
        priority=priority,
        go_ahead_usd=go_ahead_usd,
        go_ahead_days=go_ahead_days,
        leak=leak,
        booked_at=now,
        arrives_on=arrives_on,
        bay=bay,
    )
    for number, item in enumerate(work, start=1):
        finding = Finding.objects.create(
            job=job,
            number=number,
            is_booked=True,
            kind=item.kind,
            face=item.place.face,
            left_mm=item.place.left_mm,
            top_mm=item.place.top_mm,
            width_mm=item.place.width_mm,
            height_mm=item.place.height_mm,
            seen=item.seen,
            posted_by=by,
            posted_at=now,
        )
        Remedy.objects.create(finding=finding, standard=item.standard_remedy)
    record(job, kinds.JOB_BOOKED, now=now, person=by, data={"arrives_on": arrives_on.isoformat(), "works": len(work)})
    return job


@transaction.atomic
def promise_date(
    *, job: Job, ready_on: date, expected_on: date | None, reason: str, by: Person, now: datetime
) -> Promise:
    """Give the owner a ready date, or a new one with the reason.

    Raises NotNow if the day has passed or lies before the coach arrives, or the coach has been collected.
    After commit: the owner is told.
    """
    if job.collected_at:
        raise NotNow("This coach has been collected.")
    arrives_on = None if job.arrived_at else job.arrives_on
    today = job.shop.local_date(now)
    if refused := refusal(ready_on, today=today, arrives_on=arrives_on):
        raise NotNow(refused)
    if job.promise and not reason.strip():
        raise NotNow("Tell the owner why the date changes.")
    before = job.promise
    promise = Promise.objects.create(
        job=job, ready_on=ready_on, expected_on=expected_on, reason=reason.strip(), promised_at=now, promised_by=by
    )
    record(
        job,
        kinds.DATE_PROMISED,
        now=now,
        person=by,
        data={
            "promise": promise.pk,
            "ready_on": ready_on.isoformat(),
            "before": before.ready_on.isoformat() if before else None,
            "reason": promise.reason,
        },
    )
    return promise


@transaction.atomic
def set_priority(*, job_id: int, priority: int, by: Person, now: datetime) -> Job:
    """Give a coach another turn: 1 goes before 9.

    Raises NotNow if there is no such turn, the coach has been collected, or it has this turn already.
    After commit: the shop is replanned.
    """
    job = Job.objects.select_for_update().get(pk=job_id)
    if priority not in range(1, 10):
        raise NotNow("A turn is a number from 1 to 9.")
    if job.collected_at:
        raise NotNow("This coach has been collected.")
    if job.priority == priority:
        raise NotNow(f"This coach has turn {priority} already.")
    before, job.priority = job.priority, priority
    job.save(update_fields=["priority"])
    record(job, kinds.TURN_CHANGED, now=now, person=by, data={"priority": priority, "before": before})
    return job


@transaction.atomic
def check_in(*, job_id: int, by: Person, now: datetime) -> Job:
    """Note that the coach has arrived. Raises NotNow if it has already."""
    job = Job.objects.select_for_update().get(pk=job_id)
    if job.arrived_at:
        raise NotNow("This coach is already checked in.")
    job.arrived_at = now
    job.save(update_fields=["arrived_at"])
    record(job, kinds.COACH_ARRIVED, now=now, person=by)
    return job


@transaction.atomic
def move_to_bay(*, job_id: int, bay: Bay, by: Person, now: datetime) -> Job:
    """Bring a coach into a bay, from outside or from another bay.

    Raises NotNow if it has not arrived, has been collected, is too long for the bay, or the bay is taken.
    """
    job = Job.objects.select_for_update().select_related("coach").get(pk=job_id)
    if not job.arrived_at or job.collected_at:
        raise NotNow("Only a coach that is at the shop can be brought into a bay.")
    if bay.shop_id != job.shop_id:
        raise NotNow("That bay belongs to another shop.")
    if job.coach.length_mm > bay.longest_coach_mm:
        raise NotNow(f"{job.coach} is too long for {bay}.")
    job.bay, job.entered_bay_at, job.left_bay_at = bay, now, None
    try:
        with transaction.atomic():
            job.save(update_fields=["bay", "entered_bay_at", "left_bay_at"])
    except IntegrityError:
        raise NotNow(f"Another coach stands in {bay}.") from None
    record(job, kinds.COACH_MOVED, now=now, person=by, data={"bay": bay.name})
    return job


@transaction.atomic
def leave_bay(*, job_id: int, by: Person, now: datetime) -> Job:
    """Take a coach out of its bay and park it. Raises NotNow if it is in none."""
    job = Job.objects.select_for_update().get(pk=job_id)
    if not job.is_in_bay:
        raise NotNow("This coach is not in a bay.")
    job.left_bay_at = now
    job.save(update_fields=["left_bay_at"])
    record(job, kinds.COACH_MOVED, now=now, person=by, data={"bay": None})
    return job


@transaction.atomic
def collect_coach(*, job_id: int, by: Person, now: datetime) -> Job:
    """Hand the coach back to its owner.

    Raises NotNow while work, a hold point or a question to the owner is open.
    """
    job = Job.objects.select_for_update().get(pk=job_id)
    if job.collected_at or not job.arrived_at:
        raise NotNow("This coach is not at the shop.")
    if job.operations.unfinished().exists():
        raise NotNow("There is still work to finish on this coach.")
    if HoldPoint.objects.waiting().filter(operation__job=job).exists():
        raise NotNow("A hold point has not been signed off yet.")
    if job.findings.undecided().exists():
        raise NotNow("The owner has not answered every question yet.")
    if job.is_in_bay:
        job.left_bay_at = now
    job.collected_at = now
    job.save(update_fields=["left_bay_at", "collected_at"])
    record(job, kinds.COACH_COLLECTED, now=now, person=by)
    return job
