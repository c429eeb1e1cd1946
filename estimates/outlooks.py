"""What owners' answers do to the dates: the latest that moves nothing, and all answers of a job together."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from math import prod

from estimates.calc.plan import Choice
from estimates.inputs import Picks, Snapshot
from estimates.plan_keys import job_key
from estimates.questions import Pending

# How far ahead an answer's day is looked at, and after how many days that move the coach's date it is clear enough.
LOOK_AHEAD_DAYS, ENOUGH_LATER_DAYS = 21, 3
# With more ways to answer than this, each question is looked at with a yes to the recommended remedy or a no.
MOST_WAYS = 64


@dataclass(frozen=True)
class AnsweredOn:
    """What an answer at closing time of that day does: the coach's ready date, and how many others get a later one."""

    day: date
    ready_on: date
    others_later: int


@dataclass(frozen=True)
class Outlook:
    """What one open question does to the dates of the shop, by the plan.

    ready_now_on: with the recommended remedy, answered at once. days: workday after workday from today, until
    it is clear what each later day costs.
    """

    ready_without_on: date
    ready_now_on: date
    days: tuple[AnsweredOn, ...]


@dataclass(frozen=True)
class Answered:
    """One way to answer all of a job's open questions: finding -> remedy or None, and the ready date with it."""

    picks: Picks
    ready_on: date


def outlook_of(snapshot: Snapshot, pending: Pending) -> Outlook:
    """One shop plan for each day looked at. Raises ValueError in words when the shop cannot be planned."""
    finding = pending.finding.pk
    without = snapshot.ready({finding: None})
    at_once = snapshot.ready(answers={finding: snapshot.now})
    own = job_key(pending.finding.job_id)
    return Outlook(
        ready_without_on=snapshot.shop.local_date(without[own]),
        ready_now_on=snapshot.shop.local_date(at_once[own]),
        days=tuple(_days(snapshot, finding, own, _dates(snapshot, at_once))),
    )


def answers_of(snapshot: Snapshot, job_id: int) -> tuple[Answered, ...]:
    """Every way to answer the open questions of a job, each answered when it was asked for; none for fewer than two."""
    pending = snapshot.pending.get(job_id, [])
    if len(pending) < 2:
        return ()
    return tuple(_answered(snapshot, job_id, pending))


def _days(snapshot: Snapshot, finding: int, own: str, at_once: Mapping[str, date]) -> Iterator[AnsweredOn]:
    later = 0
    for closes_at in _closing_times(snapshot):
        dates = _dates(snapshot, snapshot.ready(answers={finding: closes_at}))
        others = sum(dates[key] > at_once[key] for key in dates if key != own)
        yield AnsweredOn(snapshot.shop.local_date(closes_at), dates[own], others)
        later += dates[own] > at_once[own]
        if later == ENOUGH_LATER_DAYS:
            return


def _dates(snapshot: Snapshot, ready_at: Mapping[str, datetime]) -> dict[str, date]:
    return {key: snapshot.shop.local_date(at) for key, at in ready_at.items()}


def _closing_times(snapshot: Snapshot) -> Iterator[datetime]:
    """When the shop closes, today if it is not over yet and on each workday after."""
    today = snapshot.calendar.local_date(snapshot.now)
    for number in range(LOOK_AHEAD_DAYS):
        shifts = snapshot.calendar.day_shifts(today + timedelta(days=number))
        if shifts and shifts[-1][1] > snapshot.now:
            yield shifts[-1][1]


def _answered(snapshot: Snapshot, job_id: int, pending: list[Pending]) -> Iterator[Answered]:
    is_all = prod(len(each.options) + 1 for each in pending) <= MOST_WAYS
    remedies: list[list[int | None]] = [
        [*(option.remedy_id for option in (each.options if is_all else each.options[:1])), None] for each in pending
    ]
    if prod(map(len, remedies)) > MOST_WAYS:
        return
    choices = [
        Choice(each.part, tuple(tuple(each.taken(remedy)) for remedy in ways))
        for each, ways in zip(pending, remedies, strict=True)
    ]
    for way in snapshot.combinations(choices):
        picks = {each.finding.pk: ways[pick] for each, ways, pick in zip(pending, remedies, way.picks, strict=True)}
        yield Answered(picks, snapshot.shop.local_date(way.ready_at[job_key(job_id)]))
