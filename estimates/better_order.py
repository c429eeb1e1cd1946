"""A better order of work than the one in force: what the worker's search has found, as the manager sees it."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from estimates.lateness import days_past_promises
from estimates.models import JobForecast, OrderSearch, PlannedTask, ShopPlan
from estimates.plan_age import is_to_be_planned
from jobs.journal import sha256_of
from jobs.models import Job, Promise, Shop

# Below this share of the days past promises (or of the time to finish, with none) the unrest is not worth it.
# Planning value, no source.
LEAST_GAIN = 0.05


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
    """Where the search stands. search: None before the first. is_stale: something has happened since."""

    search: OrderSearch | None
    coaches: tuple[CoachInOrder, ...]
    is_stale: bool
    is_searching: bool
    is_due: bool
    late_days: tuple[int, int] | None = None  # past promises: by the plan in force, by this order; None: none is late

    @property
    def is_known(self) -> bool:
        return bool(self.search and self.search.found_at and not self.is_stale)

    @property
    def is_worth_it(self) -> bool:
        return bool(self.search and self.is_known and self.search.gain >= LEAST_GAIN and self.coaches)

    @property
    def gain_pct(self) -> int:
        return round(100 * self.search.gain) if self.search else 0

    @property
    def first_gain_pct(self) -> int:
        return round(100 * self.search.first_gain) if self.search else 0

    @property
    def is_under_way(self) -> bool:
        """Whether looking again soon will show more."""
        return self.is_searching or self.is_due


def read_better_order(shop: Shop, now: datetime) -> BetterOrder:
    """What is known at once: a handful of queries, no planning."""
    search, mark = OrderSearch.objects.filter(shop=shop).first(), plan_mark(shop)
    if search is None:
        return BetterOrder(None, (), is_stale=False, is_searching=False, is_due=bool(mark))
    jobs = Job.objects.open().filter(shop=shop).with_coach().in_bulk([each["job"] for each in search.coaches])
    coaches = tuple(
        CoachInOrder(
            jobs[each["job"]], date.fromisoformat(each["now_on"]), date.fromisoformat(each["then_on"])
        )
        for each in search.coaches
        if each["job"] in jobs
    )  # fmt: skip
    is_stale = not mark or search.mark != mark
    return BetterOrder(
        search,
        coaches,
        is_stale=is_stale,
        is_searching=bool(search.claimed_until and search.claimed_until > now),
        is_due=not search.refusal and (is_stale or bool(search.asked_at) or not search.is_polished),
        late_days=_late_days(shop, coaches) if search.late_before and search.late_after is not None else None,
    )


def _late_days(shop: Shop, moved: Iterable[CoachInOrder]) -> tuple[int, int]:
    forecasts = JobForecast.objects.filter(job__in=Job.objects.open().filter(shop=shop))
    now_on = dict(forecasts.values_list("job_id", "expected_on"))
    then_on = now_on | {each.job.pk: each.then_on for each in moved}
    now_on |= {each.job.pk: each.now_on for each in moved}
    promises = Promise.objects.filter(job__in=now_on).order_by("pk").values_list("job_id", "ready_on")
    promised_on = dict(promises)  # the last of each job
    before, after = ([(on, promised_on.get(pk)) for pk, on in ready_on.items()] for ready_on in (now_on, then_on))
    return days_past_promises(before), days_past_promises(after)


def plan_mark(shop: Shop) -> str:
    """What tells the plan in force from another: turns, promises, and when everything starts and ends.

    Empty while there is no plan, or something has happened that calls for a new one. What changes neither a start nor
    a date (a letter sent, a photo) leaves it as it is.
    """
    plan = ShopPlan.objects.filter(shop=shop).first()
    if plan is None or is_to_be_planned(plan):
        return ""
    promises = Promise.objects.filter(job__shop=shop, job__collected_at__isnull=True).order_by("pk")
    dates = JobForecast.objects.filter(job__in=Job.objects.open().filter(shop=shop)).order_by("job")
    tasks = PlannedTask.objects.filter(job__shop=shop).order_by("job", "key")
    content = {
        "adopted": str(plan.turns_at),
        "promises": [_words(row) for row in promises.values_list("job_id", "ready_on")],
        "dates": [_words(row) for row in dates.values_list("job_id", "job__priority", "expected_on")],
        "tasks": [_words(row) for row in tasks.values_list("job_id", "key", "start_at", "end_at", "worker_ids")],
    }
    return sha256_of(content)


def _words(row: Iterable[object]) -> list[str]:
    return [str(each) for each in row]
