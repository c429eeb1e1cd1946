"""What if: the plan of the whole shop under changes that nobody has made, beside the plan as it is. Stores nothing."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from estimates.answer_days import answered_at
from estimates.calc.plan import PlanJob, Problem, Worker
from estimates.inputs import Picks, Snapshot
from estimates.lateness import days_past_promises
from estimates.plan_keys import bay_key, job_key, worker_key
from jobs.calc.workdays import ShopCalendar
from jobs.models import Job

EXTRA = "extra"


@dataclass(frozen=True)
class Overtime:
    """Hours that one person adds at the end of each day, both days included; on a closed day from the usual opening."""

    person_id: int
    first_on: date
    last_on: date
    hours: float


@dataclass(frozen=True)
class ExtraPerson:
    """Somebody who could help out from a day on, in the shop's hours."""

    skills: frozenset[str]
    from_on: date


@dataclass(frozen=True)
class WhatIf:
    """The changes asked about; rows by their primary keys.

    bays: job to the bay it moves to. parked: jobs taken outside between their work in a bay.
    priorities: job to 1 (first) to 9. answers: finding to the day its owner answers
    (estimates.answer_days). picks: finding to the remedy.
    """

    bays: Mapping[int, int] = field(default_factory=dict)
    parked: frozenset[int] = frozenset()
    priorities: Mapping[int, int] = field(default_factory=dict)
    overtime: tuple[Overtime, ...] = ()
    extra: ExtraPerson | None = None
    answers: Mapping[int, date] = field(default_factory=dict)
    picks: Picks = field(default_factory=dict)


@dataclass(frozen=True)
class CoachThen:
    """One coach: its date now and under the changes."""

    job: Job
    promised_on: date | None
    now_on: date
    then_on: date

    @property
    def days(self) -> int:
        return (self.then_on - self.now_on).days

    @property
    def words(self) -> str:
        if not self.days:
            return "the same"
        return "later" if self.days > 0 else "sooner"


@dataclass(frozen=True)
class WhatIfAnswer:
    """Every coach, those that move first. ends_order: whether an adopted order of work would end with it."""

    coaches: tuple[CoachThen, ...]
    ends_order: bool = False

    @property
    def sooner(self) -> tuple[CoachThen, ...]:
        return tuple(coach for coach in self.coaches if coach.days < 0)

    @property
    def later(self) -> tuple[CoachThen, ...]:
        return tuple(coach for coach in self.coaches if coach.days > 0)

    @property
    def late_days_now(self) -> int:
        """Days past promises, of all coaches together."""
        return days_past_promises((coach.now_on, coach.promised_on) for coach in self.coaches)

    @property
    def late_days_then(self) -> int:
        return days_past_promises((coach.then_on, coach.promised_on) for coach in self.coaches)


def ask(snapshot: Snapshot, what_if: WhatIf) -> WhatIfAnswer:
    """Plan the shop as it is and as it would be. Raises ValueError in words when it could not be done at all."""
    now_on = snapshot.ready_on()
    answers = {finding: answered_at(snapshot, day) for finding, day in what_if.answers.items()}
    then_on = snapshot.altered(lambda problem: _changed(problem, snapshot, what_if)).ready_on(what_if.picks, answers)
    coaches = [
        CoachThen(job, job.promise.ready_on if job.promise else None, now_on[job.pk], then_on[job.pk])
        for job in snapshot.jobs
    ]
    coaches.sort(key=lambda coach: (not coach.days, coach.job.number))
    return WhatIfAnswer(tuple(coaches), ends_order=bool(snapshot.turns and new_turns(snapshot, what_if)))


def new_turns(snapshot: Snapshot, what_if: WhatIf) -> dict[int, int]:
    """The turns asked for that are not the coach's already, by job."""
    has = {job.pk: job.priority for job in snapshot.jobs}
    return {job_id: turn for job_id, turn in what_if.priorities.items() if has[job_id] != turn}


def overtime_spans(calendar: ShopCalendar, overtime: Overtime) -> Iterator[tuple[datetime, datetime]]:
    """The spans it adds, in order."""
    zone = ZoneInfo(calendar.time_zone)
    usual = min((opens for _, opens, _ in calendar.weekly), default=time(8))
    for number in range((overtime.last_on - overtime.first_on).days + 1):
        day = overtime.first_on + timedelta(days=number)
        shifts = calendar.day_shifts(day)
        begin = shifts[-1][1] if shifts else datetime.combine(day, usual, tzinfo=zone).astimezone(UTC)
        yield begin, begin + timedelta(hours=overtime.hours)


def days_away(snapshot: Snapshot, overtime: Overtime) -> tuple[date, ...]:
    """The days of overtime on which the person is away, so that it brings nothing."""
    away = [span for worker in snapshot.workers if worker.key == worker_key(overtime.person_id) for span in worker.away]
    return tuple(
        snapshot.shop.local_date(begin)
        for begin, end in overtime_spans(snapshot.calendar, overtime)
        if any(first <= begin and end <= last for first, last in away)
    )


def _changed(problem: Problem, snapshot: Snapshot, what_if: WhatIf) -> Problem:
    taken = _taken_bays(snapshot, what_if)
    by_key = {job_key(job.pk): job for job in snapshot.jobs}
    jobs = tuple(_changed_job(plan_job, by_key[plan_job.key], taken, what_if) for plan_job in problem.jobs)
    if new_turns(snapshot, what_if):
        # An order that was adopted ends with the next turn that is given.
        problem = replace(problem, turns=())
    workers = tuple(_changed_worker(worker, snapshot, what_if) for worker in problem.workers)
    if what_if.extra:
        workers += (_extra_worker(snapshot, what_if.extra),)
    return replace(problem, jobs=jobs, workers=workers)


def _taken_bays(snapshot: Snapshot, what_if: WhatIf) -> set[int]:
    """Bays in which a coach that stays where it is stands now."""
    return {job.bay_id for job in snapshot.jobs if job.is_in_bay and job.bay_id and job.pk not in what_if.bays}


def _changed_job(plan_job: PlanJob, job: Job, taken: set[int], what_if: WhatIf) -> PlanJob:
    bay_id = what_if.bays.get(job.pk)
    if bay_id is not None:
        # Into a bay that is free it goes at once, if it is here; else it takes its turn there.
        stands_there = job.is_in_bay and bay_id not in taken
        if stands_there:
            taken.add(bay_id)
        plan_job = replace(plan_job, bay=bay_key(bay_id), is_in_bay=stands_there)
    if job.pk in what_if.parked:
        plan_job = replace(plan_job, parks_outside=True)
    return replace(plan_job, priority=what_if.priorities.get(job.pk, plan_job.priority))


def _changed_worker(worker: Worker, snapshot: Snapshot, what_if: WhatIf) -> Worker:
    spans = [
        span
        for overtime in what_if.overtime
        if worker_key(overtime.person_id) == worker.key
        for span in overtime_spans(snapshot.calendar, overtime)
    ]
    return replace(worker, overtime=tuple(sorted({*worker.overtime, *spans}))) if spans else worker


def _extra_worker(snapshot: Snapshot, extra: ExtraPerson) -> Worker:
    comes_at = datetime.combine(extra.from_on, time.min, tzinfo=ZoneInfo(snapshot.shop.time_zone))
    away = ((snapshot.now, comes_at),) if comes_at > snapshot.now else ()
    return Worker(EXTRA, extra.skills, away)
