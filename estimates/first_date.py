"""The first date that the shop can promise a coach it has not booked yet. Stores nothing."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from estimates.agreed_work import AgreedWork
from estimates.calc.plan import PlanJob, Problem, letting_pause, longest_shift
from estimates.drying import Lasting
from estimates.equipment import holding_what_there_is
from estimates.inputs import Snapshot
from estimates.job_tasks import job_tasks
from estimates.models import LaterBookings
from estimates.odds import with_drying, with_hidden_damage, with_later_bookings
from estimates.plan_keys import bay_key
from estimates.pricing import work_out
from estimates.questions import Option, Pending
from estimates.shop_spreads import shop_spreads
from jobs.calc.faces import Face, Place
from jobs.models import Coach, Finding, Job, Remedy, Shop, StandardRemedy
from jobs.services.work import NewOperation

KEY = "prospect"
# For a promise; its error is small against a day.
SAMPLES = 1000
PRIORITY = 5
# How often of a hundred times a coach is ready by the day asked for.
ODDS = (50, 60, 70, 80, 90)
USUAL_ODDS = 80
# Width and height matter only to places that reach over an edge of the body; a usual trailer's.
BODY_WIDTH_MM, BODY_HEIGHT_MM = 2500.0, 2500.0


@dataclass(frozen=True)
class PlacedRemedy:
    """A remedy of the catalogue and the size of the place it is for [mm]."""

    standard: StandardRemedy
    face: str
    width_mm: float
    height_mm: float
    left_mm: float = 0.0
    top_mm: float = 0.0


@dataclass(frozen=True)
class Prospect:
    """A coach that might be booked. operations: one chain of work for each thing that is wrong."""

    length_mm: float
    arrives_on: date
    operations: tuple[tuple[NewOperation, ...], ...]


@dataclass(frozen=True)
class PushedCoach:
    """A coach whose date would move if this one were booked so."""

    job: Job
    before_on: date
    after_on: date

    @property
    def days(self) -> int:
        return (self.after_on - self.before_on).days


@dataclass(frozen=True)
class FirstDate:
    """planned_on: by the plan alone, every operation taking just its hours. by_odds: by how many of a hundred simulated
    courses of the shop are ready on a day, the day. promise_on: the first open day from the chosen odds' on."""

    planned_on: date
    by_odds: Mapping[int, date]
    chosen: int
    promise_on: date
    pushed: tuple[PushedCoach, ...]
    later_bookings: LaterBookings

    @property
    def chosen_on(self) -> date:
        return self.by_odds[self.chosen]


def operations_at(remedy: PlacedRemedy, shop: Shop, length_mm: float) -> tuple[NewOperation, ...]:
    """The operations that the catalogue works out for a remedy at a place of this size.

    Raises ValueError in words when the place does not fit on the coach.
    """
    coach = Coach(shop=shop, length_mm=length_mm, width_mm=BODY_WIDTH_MM, height_mm=BODY_HEIGHT_MM)
    place = Place(Face(remedy.face), remedy.left_mm, remedy.top_mm, remedy.width_mm, remedy.height_mm)
    finding = Finding(
        job=Job(shop=shop, coach=coach),
        face=place.face,
        left_mm=place.left_mm,
        top_mm=place.top_mm,
        width_mm=place.width_mm,
        height_mm=place.height_mm,
    )
    return work_out(Remedy(finding=finding, standard=remedy.standard), shop.rates).operations


def first_date(snapshot: Snapshot, prospect: Prospect, *, in_100: int = USUAL_ODDS) -> FirstDate:
    """Plan the shop with one coach more, after those it has. in_100: the odds asked for, one of ODDS.

    Raises ValueError in words when it cannot be done.
    """
    before_on = snapshot.ready_on()
    with_it = snapshot.altered_too(lambda problem: _with(problem, snapshot, prospect))
    after_on = with_it.ready_on()
    likely = with_drying(with_hidden_damage(snapshot)).altered_too(lambda problem: _with(problem, snapshot, prospect))
    spreads = shop_spreads(snapshot.shop, now=snapshot.now)
    likely, bookings, later = with_later_bookings(likely)
    found = likely.forecast(samples=SAMPLES, spreads=spreads, bookings=bookings)
    by_odds = {each: snapshot.shop.local_date(found.at(KEY, each / 100)) for each in ODDS}
    return FirstDate(
        planned_on=snapshot.shop.local_date(with_it.ready()[KEY]),
        by_odds=by_odds,
        chosen=in_100,
        promise_on=snapshot.calendar.workday_from(by_odds[in_100]),
        pushed=tuple(
            PushedCoach(job, before_on[job.pk], after_on[job.pk])
            for job in snapshot.jobs
            if before_on[job.pk] != after_on[job.pk]
        ),
        later_bookings=later,
    )


def _with(problem: Problem, snapshot: Snapshot, prospect: Prospect) -> Problem:
    finding = Finding(number=0)
    options = tuple(Option(-number, chain) for number, chain in enumerate(prospect.operations, start=1))
    tasks = job_tasks((), [Pending(finding, options, snapshot.now)], _standard_time, {})
    equipped = holding_what_there_is(tasks, dict(problem.equipment))
    job = PlanJob(
        key=KEY,
        priority=PRIORITY,
        release_at=max(snapshot.now, snapshot.opening(prospect.arrives_on)),
        bay_choices=tuple(bay_key(bay.pk) for bay in snapshot.bays if bay.longest_coach_mm >= prospect.length_mm),
        tasks=tuple(letting_pause(equipped, longest_shift(problem.shifts))),
    )
    return replace(problem, jobs=(*problem.jobs, job))


def _standard_time(operation: AgreedWork | NewOperation, finding_id: int) -> Lasting:
    return Lasting(timedelta(hours=operation.hours))
