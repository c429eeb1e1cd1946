"""A better order of work than the one in force: looked for on request, in force only when a manager adopts it."""

from dataclasses import dataclass, replace
from datetime import date, datetime

from estimates.calc.plan import Found
from estimates.inputs import Snapshot, Turn
from estimates.models import PlannedTask
from estimates.plan_keys import job_key
from jobs.models import Job, Shop

# Below this share of the days past promises (or of the time to finish, with none) the unrest is not worth it.
# Planning value, no source.
LEAST_GAIN = 0.05
SEARCH_S = 1.0


@dataclass(frozen=True)
class CoachInOrder:
    """One coach under the order in force and under the one found."""

    job: Job
    now_on: date
    then_on: date

    @property
    def days(self) -> int:
        return (self.then_on - self.now_on).days


@dataclass(frozen=True)
class BetterOrder:
    """What a search found. gain: share of the days past promises that would be gone (0 to 1)."""

    gain: float
    coaches: tuple[CoachInOrder, ...]
    turns: tuple[Turn, ...]
    schedules: int
    last_entry: int

    @property
    def is_worth_it(self) -> bool:
        return self.gain >= LEAST_GAIN

    @property
    def gain_pct(self) -> int:
        return round(100 * self.gain)


def look_for_order(snapshot: Snapshot, *, limit_s: float = SEARCH_S, schedules: int | None = None) -> BetterOrder:
    """Search for a better order from the plan in force. Raises ValueError in words when no plan can be made."""
    now_on = snapshot.ready_on()
    last = read_last_starts(snapshot.shop)
    asked = snapshot.altered_too(lambda problem: replace(problem, last_starts=last))
    found = asked.search(limit_s=limit_s, schedules=schedules)
    coaches = (CoachInOrder(job, now_on[job.pk], _then_on(snapshot, found, job)) for job in snapshot.jobs)
    moved = sorted((each for each in coaches if each.days), key=lambda each: (each.days, each.job.number))
    return BetterOrder(found.gain, tuple(moved), found.schedule.turns, found.schedules, snapshot.last_entry)


def read_last_starts(shop: Shop) -> dict[Turn, datetime]:
    """When each task starts by the plan in force: of two orders as good, the one that moves fewer starts is found."""
    tasks = PlannedTask.objects.filter(job__shop=shop).order_by()
    return {(job_key(job_id), key): at for job_id, key, at in tasks.values_list("job_id", "key", "start_at")}


def _then_on(snapshot: Snapshot, found: Found, job: Job) -> date:
    return snapshot.shop.local_date(found.schedule.jobs[job_key(job.pk)].ready_at)
