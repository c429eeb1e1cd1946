"""When coaches will really be ready: the plan simulated, with what may yet be found behind a skin not opened."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, timedelta

from estimates.agreed_work import is_shut
from estimates.bookings import read_bookings
from estimates.calc.contingency import Contingency
from estimates.calc.plan import LogNormal, PlanJob, Problem, Task
from estimates.calc.plan.to_come import Bookings, with_room_for
from estimates.drying import DATED, SAFE_DEVIATE, wait_spread
from estimates.inputs import Picks, Snapshot
from estimates.models import LaterBookings, Rates
from estimates.outlook import hidden_damages
from estimates.outlooks import moved
from estimates.plan_keys import job_key, phase_key
from estimates.shop_spreads import shop_spreads
from jobs.models import Finding, Job
from jobs.models.work import Phase

# Share of hidden damage's price that is labour. Planning value, no source.
LABOUR_SHARE = 0.5
HIDDEN = "hidden"


@dataclass(frozen=True)
class ReadyOdds:
    """The days by which a coach is ready in half, and in four of five, of the simulated courses."""

    even_on: date
    safe_on: date


@dataclass(frozen=True)
class AnswerOdds:
    """What a yes to one open question does to its coach's odds, all others answered as recommended.

    others: other coaches whose safe date it makes later, as job (primary key) and days, most days first.
    """

    with_it: ReadyOdds
    without: ReadyOdds
    others: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class ShopOdds:
    """By job, without those that a station holds up: nobody knows when a spot dries that does not. By finding, what its
    open question does to that."""

    ready: dict[int, ReadyOdds]
    answers: dict[int, AnswerOdds]
    later: LaterBookings


def odds_of(snapshot: Snapshot, *, samples: int) -> dict[int, ReadyOdds]:
    """By job, each open question answered by its recommended remedy.

    Raises ValueError in words when the shop cannot be planned.
    """
    return _Simulated(snapshot, samples).ready()


def shop_odds(snapshot: Snapshot, *, samples: int) -> ShopOdds:
    """The same, and what each open question does to it: one simulation more for each."""
    simulated = _Simulated(snapshot, samples)
    ready = simulated.ready()
    answers = {
        each.finding.pk: _answer_odds(each.finding, ready, simulated.ready({each.finding.pk: None}))
        for each in snapshot.questions()
        if each.finding.job_id in ready
    }
    return ShopOdds(ready, answers, simulated.later)


def _answer_odds(finding: Finding, ready: dict[int, ReadyOdds], without: dict[int, ReadyOdds]) -> AnswerOdds:
    own = finding.job_id
    with_on, without_on = ({pk: each.safe_on for pk, each in odds.items()} for odds in (ready, without))
    later = tuple(each for each in moved(with_on, without_on, own) if each[1] > 0)
    return AnswerOdds(ready[own], without[own], later)


def with_later_bookings(snapshot: Snapshot) -> tuple[Snapshot, Bookings | None, LaterBookings]:
    """The shop with places for coaches booked later that go before others, and the record to fill them by."""
    if snapshot.turns:
        return snapshot, None, LaterBookings.AFTER
    record = read_bookings(snapshot.shop, now=snapshot.now)
    if not record.is_enough:
        return snapshot, None, LaterBookings.FEW
    return snapshot.altered_too(lambda problem: with_room_for(problem, record)), record, LaterBookings.COUNTED


class _Simulated:
    """A shop made ready to be simulated more than once, with the same random numbers each time."""

    def __init__(self, snapshot: Snapshot, samples: int) -> None:
        self.snapshot, self.samples = snapshot, samples
        self.spreads = shop_spreads(snapshot.shop, now=snapshot.now)
        likely = with_drying(with_hidden_damage(snapshot))
        self.likely, self.bookings, self.later = with_later_bookings(likely)
        self.told = [job for job in snapshot.jobs if not _is_held(snapshot, job)]

    def ready(self, picks: Picks | None = None) -> dict[int, ReadyOdds]:
        found = self.likely.forecast(samples=self.samples, spreads=self.spreads, picks=picks, bookings=self.bookings)
        on = self.snapshot.shop.local_date
        odds = {job.pk: found.odds(job_key(job.pk)) for job in self.told}
        return {pk: ReadyOdds(on(each.p50_at), on(each.p80_at)) for pk, each in odds.items()}


def with_hidden_damage(snapshot: Snapshot) -> Snapshot:
    """The shop with the damage that may yet be found in coaches not opened yet, at its odds. No plan counts on it."""
    shut = [job for job in snapshot.jobs if is_shut(snapshot.work[job.pk])]
    rates = Rates.objects.filter(shop=snapshot.shop).first()
    if not shut or rates is None or not rates.labour_usd_per_hour:
        return snapshot
    labour_usd = float(rates.labour_usd_per_hour)
    hidden = {job_key(pk): each for pk, each in hidden_damages(snapshot.shop, shut).items()}

    def with_it(problem: Problem) -> Problem:
        return replace(problem, jobs=tuple(_with_it(job, hidden, labour_usd) for job in problem.jobs))

    return snapshot.altered_too(with_it)


def with_drying(snapshot: Snapshot) -> Snapshot:
    """The shop with each drying wait as sure as the stations at its place are."""
    spreads = dict(drying_spreads(snapshot))

    def with_it(problem: Problem) -> Problem:
        return replace(problem, jobs=tuple(_with_spreads(job, spreads) for job in problem.jobs))

    return snapshot.altered_too(with_it) if spreads else snapshot


def _with_spreads(job: PlanJob, spreads: Mapping[str, LogNormal]) -> PlanJob:
    return replace(job, tasks=tuple(replace(task, spread=spreads.get(task.key, task.spread)) for task in job.tasks))


def drying_spreads(snapshot: Snapshot) -> Iterator[tuple[str, LogNormal]]:
    """Key of each drying wait still to end, and how sure it is; those whose stations have no date are left out."""
    for each in snapshot.agreed_work():
        if each.is_drying and not each.finished_at:
            finding, stations = snapshot.dried[each.finding_id], snapshot.stations[each.job_id]
            if spread := wait_spread(finding, stations, started_at=each.started_at, now=snapshot.now):
                yield each.key, spread


def _is_held(snapshot: Snapshot, job: Job) -> bool:
    forecasts = (each.forecast for each in snapshot.stations[job.pk] if hasattr(each, "forecast"))
    return any(each.outcome not in DATED for each in forecasts)


def _with_it(job: PlanJob, hidden: Mapping[str, Contingency], labour_usd: float) -> PlanJob:
    crew = _crew(job)
    if job.key not in hidden or crew is None:
        return job
    return replace(job, tasks=tuple(_tasks_with_it(job, hidden[job.key], crew, labour_usd)))


def _tasks_with_it(job: PlanJob, found: Contingency, crew: tuple[str, int], labour_usd: float) -> Iterator[Task]:
    """Its work comes once the coach is open, and nothing is closed in before it is done."""
    opened = phase_key(Phase.OPEN_UP)
    keys = {task.key for task in job.tasks}
    last = next((phase_key(each) for each in (Phase.FRAMING, Phase.DRY_OUT) if phase_key(each) in keys), None)
    yield Task(
        key=HIDDEN,
        words="Damage not yet found",
        kind="labour",
        duration=timedelta(hours=LABOUR_SHARE * float(found.if_found_p50_usd) / labour_usd),
        crew=(crew,),
        after=(opened,),
        needs_bay=True,
        chance=found.odds,
        spread=LogNormal(1.0, math.log(found.if_found_p80_usd / found.if_found_p50_usd) / SAFE_DEVIATE),
    )
    for task in job.tasks:
        waits = task.key == last if last else opened in task.after
        yield replace(task, after=(*task.after, HIDDEN)) if waits else task


def _crew(job: PlanJob) -> tuple[str, int] | None:
    """One person with the skill of the job's first labour."""
    return next(((skill, 1) for task in job.tasks for skill, _ in task.crew), None)
