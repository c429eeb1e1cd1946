"""What owners' answers do to the dates: the latest that moves nothing, and all answers of a job together."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from itertools import takewhile
from math import prod

from estimates.answer_days import answered_at, workdays
from estimates.calc.plan import Choice
from estimates.inputs import Picks, Snapshot
from estimates.plan_keys import job_key
from estimates.questions import Pending

# How far beyond the time it is asked for an answer's day is looked at, and after how many days that move the coach's
# date it is clear enough.
LOOK_AHEAD_DAYS, ENOUGH_LATER_DAYS = 21, 3
# With more ways to answer than this, each question is looked at with a yes to the recommended remedy or a no.
MOST_WAYS = 64
# Other coaches that are moved: job (primary key) and days, later above nought.
Moved = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class AnsweredOn:
    """What an answer on that day does: the coach's ready date, and the others it moves, both against the plan.

    at: when it is here. days: later than the plan has it; below nought sooner.
    """

    day: date
    at: datetime
    ready_on: date
    days: int
    others: Moved

    @property
    def is_harmless(self) -> bool:
        return self.days <= 0 and not any(days > 0 for _, days in self.others)


@dataclass(frozen=True)
class Outlook:
    """What one open question does to the dates of the shop, by the plan.

    ready_with_on: the plan's own date, which counts on a yes at answer_at. days: workday after workday from today,
    until it is clear what each later day costs.
    """

    ready_without_on: date
    ready_with_on: date
    answer_at: datetime
    days: tuple[AnsweredOn, ...]

    @property
    def free_at(self) -> datetime:
        """The latest answer that leaves this coach's date where the plan has it."""
        return self._last(each for each in takewhile(lambda each: each.days <= 0, self._late))

    @property
    def free_for_all_at(self) -> datetime:
        """The same with no other coach's date later either."""
        return self._last(each for each in takewhile(lambda each: each.is_harmless, self._late))

    @property
    def _late(self) -> list[AnsweredOn]:
        return [each for each in self.days if each.at >= self.answer_at]

    def _last(self, days: Iterable[AnsweredOn]) -> datetime:
        return max([self.answer_at, *(each.at for each in days)])


@dataclass(frozen=True)
class Answered:
    """One way to answer all of a job's open questions: finding -> remedy or None, and the ready date with it.

    others: coaches that it moves, against all of the job's questions left as they are.
    """

    picks: Picks
    ready_on: date
    others: Moved = ()


def outlook_of(snapshot: Snapshot, pending: Pending) -> Outlook:
    """One shop plan for each day looked at. Raises ValueError in words when the shop cannot be planned."""
    own = pending.finding.job_id
    planned_on = snapshot.ready_on()
    return Outlook(
        ready_without_on=snapshot.ready_on({pending.finding.pk: None})[own],
        ready_with_on=planned_on[own],
        answer_at=pending.answer_at,
        days=tuple(_days(snapshot, pending, planned_on)),
    )


def answers_of(snapshot: Snapshot, job_id: int) -> tuple[Answered, ...]:
    """Every way to answer the open questions of a job, each answered when it was asked for; none for fewer than two."""
    pending = snapshot.pending.get(job_id, [])
    if len(pending) < 2:
        return ()
    return tuple(_answered(snapshot, job_id, pending))


def _days(snapshot: Snapshot, pending: Pending, planned_on: Mapping[int, date]) -> Iterator[AnsweredOn]:
    own, late = pending.finding.job_id, 0
    for day in workdays(snapshot, until=snapshot.shop.local_date(pending.answer_at) + timedelta(days=LOOK_AHEAD_DAYS)):
        at = answered_at(snapshot, day)
        ready_on = snapshot.ready_on(answers={pending.finding.pk: at})
        days = (ready_on[own] - planned_on[own]).days
        yield AnsweredOn(day, at, ready_on[own], days, moved(ready_on, planned_on, own))
        late += days > 0 and at >= pending.answer_at
        if late == ENOUGH_LATER_DAYS:
            return


def moved(ready_on: Mapping[int, date], before_on: Mapping[int, date], own: int) -> Moved:
    """The other coaches whose date is not the same, those that are most days later first."""
    days = [(pk, (on - before_on[pk]).days) for pk, on in ready_on.items() if pk != own and on != before_on[pk]]
    return tuple(sorted(days, key=lambda each: (-each[1], each[0])))


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
    left_on = snapshot.ready_on({each.finding.pk: None for each in pending})
    for way in snapshot.combinations(choices):
        picks = {each.finding.pk: ways[pick] for each, ways, pick in zip(pending, remedies, way.picks, strict=True)}
        ready_on = {job.pk: snapshot.shop.local_date(way.ready_at[job_key(job.pk)]) for job in snapshot.jobs}
        yield Answered(picks, ready_on[job_id], moved(ready_on, left_on, job_id))
