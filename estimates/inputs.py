"""The one bridge from rows to the planner: everything it must know about a shop, in a few queries."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Max, Prefetch

from estimates.calc.plan import HorizonTooShort, PlanJob, Problem, Schedule, Task, Worker, plan
from estimates.drying import wait_duration
from estimates.models import Offer
from jobs.calc.workdays import ShopCalendar
from jobs.models import Bay, Finding, Job, JournalEntry, Operation, Person, Shop, Station
from jobs.models.work import Phase
from jobs.services.work import NewOperation

HORIZON_DAYS = (120, 400, 1200)
DurationOf = Callable[[Operation | NewOperation, Finding], timedelta]


@dataclass(frozen=True)
class Pending:
    """Work that waits for an owner's yes: an open question, or an offer being worked out."""

    finding: Finding
    operations: tuple[NewOperation, ...]
    answer_at: datetime


@dataclass
class Snapshot:
    """The shop as it was when read. What-ifs are asked of it without reading again."""

    shop: Shop
    now: datetime
    last_entry: int
    calendar: ShopCalendar
    jobs: list[Job]
    bays: list[Bay]
    workers: tuple[Worker, ...]
    pending: dict[int, list[Pending]] = field(default_factory=dict)
    stations: dict[int, list[Station]] = field(default_factory=lambda: defaultdict(list))

    def schedule(self, *, without: Iterable[int] = (), adding: Pending | None = None) -> Schedule:
        """The plan without the pending work of some findings (primary keys), or with one more.

        Raises ValueError in words when the shop cannot do the work at all (no hours, nobody with the skill).
        """
        left_out = set(without)
        for days in HORIZON_DAYS:
            try:
                return plan(self._problem(days, left_out, adding))
            except HorizonTooShort:
                if days == HORIZON_DAYS[-1]:
                    raise
        raise AssertionError  # the loop returns or raises

    def _problem(self, days: int, left_out: set[int], adding: Pending | None) -> Problem:
        begin = min([self.now, *(begun_at for job in self.jobs for begun_at in _begun(job))])
        return Problem(
            now=self.now,
            shifts=tuple(self.calendar.shifts(begin, self.now + timedelta(days=days))),
            workers=self.workers,
            bays=tuple(_bay_key(bay.pk) for bay in self.bays),
            jobs=tuple(self._plan_job(job, left_out, adding) for job in self.jobs),
        )

    def _plan_job(self, job: Job, left_out: set[int], adding: Pending | None) -> PlanJob:
        pending = [each for each in self.pending.get(job.pk, []) if each.finding.pk not in left_out]
        if adding and adding.finding.job_id == job.pk:
            pending = [each for each in pending if each.finding.pk != adding.finding.pk] + [adding]
        promise = job.promise
        return PlanJob(
            key=job_key(job.pk),
            priority=job.priority,
            release_at=job.arrived_at or max(self.now, self._opening(job.arrives_on)),
            promised_at=self._opening(promise.ready_on) if promise else None,
            bay=_bay_key(job.bay_id) if job.bay_id and not job.left_bay_at else None,
            is_in_bay=job.is_in_bay,
            bay_choices=tuple(_bay_key(bay.pk) for bay in self.bays if bay.longest_coach_mm >= job.coach.length_mm),
            tasks=tuple(_job_tasks(job, pending, self._duration)),
        )

    def _duration(self, operation: Operation | NewOperation, finding: Finding) -> timedelta:
        """Standard hours; a drying wait takes what the stations at the finding's place say."""
        standard = timedelta(hours=operation.hours)
        if not operation.is_drying:
            return standard
        started_at = operation.started_at if isinstance(operation, Operation) else None
        stations = self.stations[finding.job_id]
        return wait_duration(finding, stations, standard=standard, started_at=started_at, now=self.now)

    def _opening(self, day: date) -> datetime:
        """The first open moment on or after a day."""
        midnight = datetime.combine(day, time.min, tzinfo=ZoneInfo(self.shop.time_zone))
        return self.calendar.next_open(midnight)


def read_shop(shop: Shop, now: datetime) -> Snapshot:
    """Read all that the planner needs: a fixed number of queries whatever the number of jobs."""
    last = JournalEntry.objects.filter(job__shop=shop).aggregate(last=Max("pk"))["last"]
    operations = Operation.objects.select_related("skill", "hold_point", "remedy__finding").prefetch_related("workers")
    jobs = (
        Job.objects.open()
        .filter(shop=shop)
        .with_coach()
        .prefetch_related(Prefetch("operations", queryset=operations), "promises")
        .order_by("pk")
    )
    snapshot = Snapshot(
        shop=shop,
        now=now,
        last_entry=last or 0,
        calendar=shop.calendar(),
        jobs=list(jobs),
        bays=list(shop.bays.order_by("position")),
        workers=tuple(_workers(shop)),
    )
    for station in Station.objects.in_use().filter(job__in=snapshot.jobs).select_related("forecast"):
        snapshot.stations[station.job_id].append(station)
    for pending in _open_questions(shop, now):
        snapshot.pending.setdefault(pending.finding.job_id, []).append(pending)
    return snapshot


def job_key(pk: int) -> str:
    return f"job{pk}"


def operations_as_json(operations: Sequence[NewOperation]) -> list[dict[str, Any]]:
    """Operations in the form an offer keeps; the skill by its primary key."""
    return [vars(each) | {"skill": each.skill.pk if each.skill else None} for each in operations]


def operations_from_json(rows: Sequence[dict[str, Any]], shop: Shop) -> tuple[NewOperation, ...]:
    """The inverse of operations_as_json."""
    skills = {skill.pk: skill for skill in shop.skills.all()}
    return tuple(NewOperation(**row | {"skill": skills.get(row["skill"])}) for row in rows)


def _open_questions(shop: Shop, now: datetime) -> Iterator[Pending]:
    """Findings whose owner has not answered yet, at the offer that was put to them."""
    findings = Finding.objects.filter(
        job__shop=shop, job__collected_at__isnull=True, requests__isnull=False, requests__closed_at__isnull=True
    ).prefetch_related("requests", Prefetch("offers", queryset=Offer.objects.order_by("pk")))
    for finding in findings.order_by("pk"):
        request = next(each for each in finding.requests.all() if each.closed_at is None)
        offer = next(each for each in finding.offers.all() if each.sha256 == request.offer_sha256)
        operations = operations_from_json(offer.choices[0]["operations"], shop)
        yield Pending(finding, operations, max(now, request.answer_by_at))


def _workers(shop: Shop) -> Iterator[Worker]:
    zone = ZoneInfo(shop.time_zone)
    people = Person.objects.filter(shop=shop, is_active=True).prefetch_related("skills", "absences").order_by("pk")
    for person in people:
        away = tuple(
            (
                datetime.combine(absence.first_on, time.min, tzinfo=zone),
                datetime.combine(absence.last_on + timedelta(days=1), time.min, tzinfo=zone),
            )
            for absence in person.absences.all()
        )
        skills = frozenset(skill.name for skill in person.skills.all())
        if skills:
            yield Worker(worker_key(person.pk), skills, away)


def worker_key(pk: int) -> str:
    return f"person{pk}"


def _bay_key(pk: int) -> str:
    return f"bay{pk}"


def bay_pk(key: str) -> int:
    return int(key.removeprefix("bay"))


def _begun(job: Job) -> Iterator[datetime]:
    """When each operation that has begun did so."""
    return (operation.started_at for operation in job.operations.all() if operation.started_at)


def _job_tasks(job: Job, pending: Sequence[Pending], duration_of: DurationOf) -> Iterator[Task]:
    """The job's tasks: phase after phase, within a phase each remedy's own order, remedies side by side.

    A marker closes each phase, so that the chain of phases costs few edges. Nothing is closed in
    before the owner's open questions are answered: the answers stand before that phase.
    """
    chains: dict[int, dict[str, list[Task]]] = defaultdict(lambda: defaultdict(list))
    for operation in job.operations.all():
        chains[operation.phase][f"remedy{operation.remedy_id}"].extend(_operation_tasks(operation, duration_of))
    answers = []
    for each in pending:
        answer = _answer_task(each)
        answers.append(answer)
        for number, new in enumerate(each.operations, start=1):
            chains[new.phase][f"new{each.finding.pk}"].extend(_new_tasks(each, number, new, answer.key, duration_of))
    yield from answers
    answer_keys = tuple(task.key for task in answers)
    marker: tuple[str, ...] = ()
    for phase in Phase:
        if phase == Phase.CLOSE_IN:
            marker += answer_keys
        if phase not in chains:
            continue
        ends = []
        for chain in chains[phase].values():
            yield from _linked(chain, marker)
            ends.append(chain[-1].key)
        key = f"phase{phase.value}"
        yield Task(key=key, words=phase.label, kind="event", duration=timedelta(0), after=(*ends, *marker))
        marker = (key,)


def _linked(chain: Sequence[Task], first_after: tuple[str, ...]) -> Iterator[Task]:
    before = first_after
    for task in chain:
        yield replace(task, after=tuple(dict.fromkeys(task.after + before)))
        before = (task.key,)


def _operation_tasks(operation: Operation, duration_of: DurationOf) -> Iterator[Task]:
    yield Task(
        key=f"operation{operation.pk}",
        words=operation.words,
        kind=operation.kind,
        duration=duration_of(operation, operation.remedy.finding),
        crew=((operation.skill.name, operation.crew),) if operation.skill else (),
        in_one_shift=operation.is_in_one_shift,
        needs_bay=operation.needs_bay,
        started_at=operation.started_at,
        finished_at=operation.finished_at,
        fixed_workers=tuple(worker_key(person.pk) for person in operation.workers.all()),
    )
    hold_point = getattr(operation, "hold_point", None)
    if hold_point and not hold_point.passed_at and not hold_point.failed_at:
        # A signature takes no labour but needs somebody at the shop.
        yield Task(
            key=f"hold{hold_point.pk}", words=hold_point.words, kind="event", duration=timedelta(0), in_shop_hours=True
        )


def _answer_task(pending: Pending) -> Task:
    return Task(
        key=f"answer{pending.finding.pk}",
        words=f"Owner's answer to finding {pending.finding.number}",
        kind="event",
        duration=timedelta(0),
        not_before=pending.answer_at,
    )


def _new_tasks(
    pending: Pending, number: int, new: NewOperation, answer_key: str, duration_of: DurationOf
) -> Iterator[Task]:
    key = f"new{pending.finding.pk}-{number}"
    yield Task(
        key=key,
        words=new.words,
        kind=new.kind,
        duration=duration_of(new, pending.finding),
        crew=((new.skill.name, new.crew),) if new.skill else (),
        after=(answer_key,),
        in_one_shift=new.is_in_one_shift,
        needs_bay=new.needs_bay,
    )
    if new.hold_point:
        yield Task(key=f"{key}-hold", words=new.hold_point, kind="event", duration=timedelta(0), in_shop_hours=True)
