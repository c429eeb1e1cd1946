"""The one bridge from rows to the planner: everything it must know about a shop, in a few queries."""

from collections import defaultdict
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, time, timedelta
from itertools import chain
from typing import TypeVar
from zoneinfo import ZoneInfo

from django.db.models import Max, Prefetch

from estimates import kinds as estimate_kinds
from estimates.agreed_work import AgreedWork, read_agreed_work
from estimates.calc.plan import (
    Change,
    Choice,
    Combination,
    Forecast,
    HorizonTooShort,
    OrderHunt,
    PlanJob,
    Prepared,
    Problem,
    Schedule,
    Spreads,
    Task,
    Worker,
    combinations,
    forecast,
    letting_pause,
    longest_shift,
    prepare,
    refused_jobs,
)
from estimates.calc.plan.to_come import Bookings
from estimates.drying import Lasting, wait_lasts
from estimates.equipment import equipment_of, holding_what_there_is
from estimates.job_tasks import job_tasks
from estimates.models import GivenOut, Offer, PlannedTask, ShopPlan
from estimates.people import read_workers, with_own_hours
from estimates.plan_keys import bay_key, job_key
from estimates.questions import Option, Pending, operations_from_json, skills_of
from estimates.standing import Presence, ended_at, going_on, standing_starts
from jobs import kinds
from jobs.calc.workdays import ShopCalendar
from jobs.models import ApprovalRequest, Bay, Finding, Job, JournalEntry, Shop, Skill, Station
from jobs.services.work import NewOperation

HORIZON_DAYS = (120, 400, 1200)
# What calls for a new plan.
REPLANNED_ON = (
    kinds.COACH_ARRIVED,
    kinds.COACH_MOVED,
    kinds.COACH_COLLECTED,
    kinds.TURN_CHANGED,
    kinds.DATE_PROMISED,
    kinds.OWNER_ASKED,
    kinds.REQUEST_WITHDRAWN,
    kinds.OPERATION_STARTED,
    kinds.OPERATION_JOINED,
    kinds.OPERATION_FINISHED,
    kinds.HOLD_POINT_PASSED,
    kinds.HOLD_POINT_FAILED,
    kinds.DRYING_WORKED_OUT,
    estimate_kinds.SCOPE_SETTLED,
)
# Of these, what closes a question.
CLOSING = (kinds.REQUEST_WITHDRAWN, estimate_kinds.SCOPE_SETTLED)
# For a finding (primary key) the remedy that is taken, or None for leaving it as it is.
Picks = Mapping[int, int | None]
Answer = TypeVar("Answer")
# A task by the planner's keys of its job and itself.
Turn = tuple[str, str]


@dataclass
class Snapshot:
    """The shop as it was when read. What-ifs are asked of it without reading again."""

    shop: Shop
    now: datetime
    last_entry: int
    calendar: ShopCalendar
    jobs: list[Job]
    work: Mapping[int, Sequence[AgreedWork]]  # by job
    bays: list[Bay]
    workers: tuple[Worker, ...]
    weeks: dict[str, ShopCalendar] = field(default_factory=dict)  # of people who keep their own, by worker
    pending: dict[int, list[Pending]] = field(default_factory=dict)
    ended_at: Mapping[int, datetime] = field(default_factory=dict)  # of jobs with nothing left to do
    given_out: dict[int, GivenOut] = field(default_factory=dict)  # today's, by operation
    # What happened since the plan in force, oldest first, and what it needs to be taken out again: questions closed
    # by it (by finding), and the begin and end of each drying wait (by operation) in that plan.
    entries: list[JournalEntry] = field(default_factory=list)
    closed: dict[int, Pending] = field(default_factory=dict)
    waits_until: dict[int, tuple[datetime, datetime]] = field(default_factory=dict)
    unplanned: dict[int, str] = field(default_factory=dict)  # open jobs not in `jobs`: why they cannot be planned
    equipment: Mapping[str, int] = field(default_factory=dict)  # how many of each kind, of those counted
    turns: tuple[Turn, ...] = ()  # an order of work that was adopted
    stations: dict[int, list[Station]] = field(default_factory=lambda: defaultdict(list))
    dried: Mapping[int, Finding] = field(default_factory=dict)  # those that an agreed drying wait is for
    alter: Callable[[Problem], Problem] | None = None  # a change of what the planner is given
    # By days of horizon, and begun anew by `replace`: the problem with nothing altered, and as it is asked about.
    problems: dict[int, Problem] = field(default_factory=dict, init=False)
    made_ready: dict[int, Prepared] = field(default_factory=dict, init=False)

    def schedule(self, picks: Picks | None = None, answers: Mapping[int, datetime] | None = None) -> Schedule:
        """The plan with each open question answered by its recommended remedy, unless picks say otherwise.

        answers: for a finding (primary key) when the answer comes, if not at the time it was asked for.
        Raises ValueError in words when the shop cannot do the work at all (no hours, nobody with the skill).
        """
        change = self._change(picks or {}, answers or {})
        return self._ask(lambda prepared: prepared.plan(change))

    def ready(self, picks: Picks | None = None, answers: Mapping[int, datetime] | None = None) -> dict[str, datetime]:
        """When each coach is ready (by job_key), as schedule() has it."""
        change = self._change(picks or {}, answers or {})
        return self._ask(lambda prepared: prepared.ready(change))

    def ready_on(self, picks: Picks | None = None, answers: Mapping[int, datetime] | None = None) -> dict[int, date]:
        """The day each coach (primary key of its job) is ready on."""
        ready_at = self.ready(picks, answers)
        return {job.pk: self.shop.local_date(ready_at[job_key(job.pk)]) for job in self.jobs}

    def combinations(self, choices: Sequence[Choice]) -> tuple[Combination, ...]:
        """The dates of every job for each way to answer these choices; other questions by what is recommended."""
        mentioned = {part for choice in choices for option in choice.options for part in option}
        left_out = frozenset(self._change({}, {}).left_out - mentioned)
        return self._ask(lambda prepared: combinations(prepared, choices, left_out=left_out))

    def forecast(
        self, *, samples: int, spreads: Spreads, picks: Picks | None = None, bookings: Bookings | None = None
    ) -> Forecast:
        """The plan simulated, each open question answered by its recommended remedy, unless picks say otherwise.

        bookings: the record by which coaches are booked later, where the problem has places for them.
        """
        change = self._change(picks or {}, {})
        return self._ask(
            lambda prepared: forecast(prepared, samples=samples, spreads=spreads, change=change, bookings=bookings)
        )

    def hunt(self, *, seed: int) -> OrderHunt:
        """A search for a better order of work that can be gone on with, every question answered as recommended."""
        left_out = self._change({}, {}).left_out
        return self._ask(lambda prepared: OrderHunt(_left_out(prepared, left_out), seed))

    def adding(self, new: Pending) -> "Snapshot":
        """The shop with one more question, in place of any about the same finding."""
        others = self._questions_beside(new.finding.job_id, new.finding.pk)
        return replace(self, pending=self.pending | {new.finding.job_id: [*others, new]})

    def without_question(self, job_id: int, finding_id: int) -> "Snapshot":
        """The shop as if nobody had been asked about a finding."""
        return replace(self, pending=self.pending | {job_id: self._questions_beside(job_id, finding_id)})

    def plannable(self) -> "Snapshot":
        """The shop without the coaches that cannot be planned at all, so that one of them does not stop all others.

        As it is where they all can, or where the shop itself is at fault: then the first question says why.
        """
        try:
            self.ready()
        except ValueError as error:
            change = self._change({}, {})
            days = HORIZON_DAYS[-1] if isinstance(error, HorizonTooShort) else HORIZON_DAYS[0]
            # Making ready checks all but the horizon, and a longer one may do.
            is_last = days == HORIZON_DAYS[-1]
            refused = refused_jobs(self._altered_problem(days), lambda ready: ready.ready(change) if is_last else None)
            without = self._without(refused)
            return without.plannable() if len(without.jobs) < len(self.jobs) else self
        return self

    def _without(self, refused: Mapping[str, str]) -> "Snapshot":
        unplanned = {job.pk: refused[job_key(job.pk)] for job in self.jobs if job_key(job.pk) in refused}
        return replace(
            self,
            jobs=[job for job in self.jobs if job.pk not in unplanned],
            pending={pk: questions for pk, questions in self.pending.items() if pk not in unplanned},
            unplanned=self.unplanned | unplanned,
        )

    @property
    def today(self) -> date:
        return self.shop.local_date(self.now)

    def given_out_anew(self) -> "Snapshot":
        """The shop as if nothing had been given out for today."""
        return replace(self, given_out={})

    def altered(self, alter: Callable[[Problem], Problem]) -> "Snapshot":
        """The shop with something changed about it that no row says, in place of any such change before."""
        altered = replace(self, alter=alter)
        altered.problems = self.problems
        return altered

    def altered_too(self, alter: Callable[[Problem], Problem]) -> "Snapshot":
        """The same on top of what was changed before."""
        before = self.alter
        return self.altered((lambda problem: alter(before(problem))) if before else alter)

    def agreed_work(self) -> Iterator[AgreedWork]:
        return (each for work in self.work.values() for each in work)

    def questions(self) -> Iterator[Pending]:
        return (each for pending in self.pending.values() for each in pending)

    def _questions_beside(self, job_id: int, finding_id: int) -> list[Pending]:
        return [each for each in self.pending.get(job_id, []) if each.finding.pk != finding_id]

    def _change(self, picks: Picks, answers: Mapping[int, datetime]) -> Change:
        left_out: set[str] = set()
        for each in self.questions():
            left_out |= each.parts - each.taken(picks.get(each.finding.pk, each.options[0].remedy_id))
        not_before = {
            (job_key(each.finding.job_id), each.part): answers[each.finding.pk]
            for each in self.questions()
            if each.finding.pk in answers
        }
        return Change(left_out=frozenset(left_out), not_before=not_before)

    def _ask(self, question: Callable[[Prepared], Answer]) -> Answer:
        """Ask over a longer horizon until the work ends within it."""
        for days in HORIZON_DAYS:
            try:
                return question(self._prepared(days))
            except HorizonTooShort:
                if days == HORIZON_DAYS[-1]:
                    raise
        raise AssertionError  # the loop returns or raises

    def _prepared(self, days: int) -> Prepared:
        if days not in self.made_ready:
            self.made_ready[days] = prepare(self._altered_problem(days))
        return self.made_ready[days]

    def _altered_problem(self, days: int) -> Problem:
        if days not in self.problems:
            self.problems[days] = self._problem(days)
        problem = self.problems[days]
        return self.alter(problem) if self.alter else problem

    def _problem(self, days: int) -> Problem:
        begun_at = (each.started_at for each in self.agreed_work() if each.started_at)
        begin, end = min([self.now, *begun_at]), self.now + timedelta(days=days)
        shifts = tuple(self.calendar.shifts(begin, end))
        longest = longest_shift(shifts)
        return Problem(
            now=self.now,
            shifts=shifts,
            workers=tuple(with_own_hours(self.workers, self.weeks, shifts, begin, end)),
            bays=tuple(bay_key(bay.pk) for bay in self.bays),
            jobs=tuple(self._plan_job(job, longest) for job in self.jobs),
            equipment=tuple((kind, count) for kind, count in self.equipment.items() if count),
            turns=self.turns,
        )

    def _plan_job(self, job: Job, longest: timedelta) -> PlanJob:
        promise = job.promise
        return PlanJob(
            key=job_key(job.pk),
            name=f"job {job.number}",
            priority=job.priority,
            # What is over is ready no sooner than its last check and answer.
            release_at=self.ended_at.get(job.pk) or job.arrived_at or max(self.now, self.opening(job.arrives_on)),
            promised_at=self.opening(promise.ready_on) if promise else None,
            bay=bay_key(job.bay_id) if job.bay_id and not job.left_bay_at else None,
            is_in_bay=job.is_in_bay,
            bay_choices=tuple(bay_key(bay.pk) for bay in self.bays if bay.longest_coach_mm >= job.coach.length_mm),
            # One slip of a number must not leave the whole shop without a plan.
            tasks=tuple(letting_pause(holding_what_there_is(self._tasks(job), self.equipment), longest)),
        )

    def _tasks(self, job: Job) -> Iterator[Task]:
        return job_tasks(self.work[job.pk], self.pending.get(job.pk, []), self._duration, self.given_out)

    def _duration(self, operation: AgreedWork | NewOperation, finding_id: int) -> Lasting:
        """Standard hours; a drying wait takes what the stations at the finding's place say."""
        standard = timedelta(hours=operation.hours)
        if not operation.is_drying:
            return Lasting(standard)
        finding = self.dried.get(finding_id) or next(
            each.finding for each in self.questions() if each.finding.pk == finding_id
        )
        started_at = operation.started_at if isinstance(operation, AgreedWork) else None
        stations = self.stations[finding.job_id]
        return wait_lasts(finding, stations, standard=standard, started_at=started_at, now=self.now)

    def opening(self, day: date) -> datetime:
        """The first open moment on or after a day."""
        midnight = datetime.combine(day, time.min, tzinfo=ZoneInfo(self.shop.time_zone))
        return self.calendar.next_open(midnight)


def _left_out(prepared: Prepared, parts: frozenset[str]) -> Prepared:
    """The problem with the work of these parts not there."""
    if not parts:
        return prepared
    jobs = tuple(
        replace(job, tasks=tuple(_nothing(task) if task.part in parts else task for task in job.tasks))
        for job in prepared.problem.jobs
    )
    return prepare(replace(prepared.problem, jobs=jobs))


def _nothing(task: Task) -> Task:
    return Task(task.key, task.words, "event", timedelta(0), after=task.after)


def read_shop(shop: Shop, now: datetime) -> Snapshot:
    """Read all that the planner needs: a fixed number of queries whatever the number of jobs."""
    last = JournalEntry.objects.filter(job__shop=shop).aggregate(last=Max("pk"))["last"]
    jobs = list(shop.jobs.open().select_related("coach", "bay").prefetch_related("promises").order_by("pk"))
    work = read_agreed_work([job.pk for job in jobs])
    dried = {each.finding_id for each in chain.from_iterable(work.values()) if each.is_drying}
    calendar = shop.calendar()
    workers, weeks = read_workers(shop, calendar)
    presence = Presence({worker.key: worker for worker in workers}, calendar, weeks, now)
    work = {job_id: going_on(each, presence) for job_id, each in work.items()}
    snapshot = Snapshot(
        shop=shop,
        now=now,
        last_entry=last or 0,
        calendar=calendar,
        jobs=jobs,
        work=work,
        bays=list(shop.bays.order_by("position")),
        workers=workers,
        weeks=weeks,
        ended_at=ended_at(jobs, work),
        equipment=equipment_of(shop.pk),
        dried=Finding.objects.in_bulk(dried),
    )
    for station in Station.objects.in_use().filter(job__in=snapshot.jobs).with_forecast():
        snapshot.stations[station.job_id].append(station)
    snapshot.given_out.update({each.operation_id: each for each in _given_out(snapshot, presence)})
    for pending in _open_questions(shop, now):
        snapshot.pending.setdefault(pending.finding.job_id, []).append(pending)
    _read_changes(snapshot)
    return snapshot.plannable()


def _read_changes(snapshot: Snapshot) -> None:
    """What happened since the plan in force: two queries, four where a question was closed."""
    plan = ShopPlan.objects.filter(shop=snapshot.shop).first()
    if plan is None:
        return
    entries = JournalEntry.objects.filter(job__shop=snapshot.shop, pk__gt=plan.last_entry, kind__in=REPLANNED_ON)
    snapshot.entries.extend(entries.select_related("job").order_by("pk"))
    waits = PlannedTask.objects.filter(job__shop=snapshot.shop, operation__is_drying=True)
    for operation_id, start_at, end_at in waits.values_list("operation_id", "start_at", "end_at"):
        snapshot.waits_until[operation_id] = (start_at, end_at)
    if plan.turns and not _has_new_turn(snapshot.shop, plan.turns_entry):
        snapshot.turns = tuple((job, task) for job, task in plan.turns)
    finding_ids = [entry.data.get("finding") for entry in snapshot.entries if entry.kind in CLOSING]
    if any(finding_ids):
        snapshot.closed.update({each.finding.pk: each for each in _closed_questions(snapshot, finding_ids)})


def _has_new_turn(shop: Shop, after_entry: int) -> bool:
    return JournalEntry.objects.filter(job__shop=shop, pk__gt=after_entry, kind=kinds.TURN_CHANGED).exists()


def _closed_questions(snapshot: Snapshot, finding_ids: list[int | None]) -> Iterator[Pending]:
    """The questions about these findings as they last stood."""
    findings = Finding.objects.filter(pk__in=[pk for pk in finding_ids if pk]).prefetch_related(
        "requests", Prefetch("offers", queryset=Offer.objects.order_by("pk"))
    )
    skills = skills_of(snapshot.shop)
    for finding in findings:
        yield _pending(finding, list(finding.requests.all())[-1], skills, snapshot.now)


def _open_questions(shop: Shop, now: datetime) -> Iterator[Pending]:
    """Findings whose owner has not answered yet, at the offer that was put to them."""
    findings = Finding.objects.filter(
        job__shop=shop, job__collected_at__isnull=True, requests__isnull=False, requests__closed_at__isnull=True
    ).prefetch_related("requests", Prefetch("offers", queryset=Offer.objects.order_by("pk")))
    skills = skills_of(shop)
    for finding in findings.order_by("pk"):
        request = next(each for each in finding.requests.all() if each.closed_at is None)
        yield _pending(finding, request, skills, now)


def _pending(finding: Finding, request: ApprovalRequest, skills: Mapping[int, Skill], now: datetime) -> Pending:
    offer = next(each for each in finding.offers.all() if each.sha256 == request.offer_sha256)
    options = (Option(choice["remedy"], operations_from_json(choice["operations"], skills)) for choice in offer.choices)
    return Pending(finding, tuple(options), max(now, request.answer_by_at))


def _given_out(snapshot: Snapshot, presence: Presence) -> Iterator[GivenOut]:
    """Today's starts that still stand: not begun, and their people are there when the work would be done."""
    rows = GivenOut.objects.filter(operation__job__shop=snapshot.shop, on=snapshot.today)
    waiting = rows.filter(operation__started_at__isnull=True)
    return standing_starts(waiting, snapshot.agreed_work(), presence.is_here_for)
