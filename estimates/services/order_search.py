"""Searching for a better order of work, in the worker. It may die at any line and run twice: the row says what is left.

A second first, so that something stands there soon; then a longer search that goes on from it. No transaction is open
while it searches.
"""

import logging
import uuid
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction
from django.db.models import F, Q
from kombu.exceptions import OperationalError

from estimates.better_order import plan_mark
from estimates.calc.plan import Found, OrderHunt
from estimates.inputs import Snapshot, Turn, read_shop
from estimates.models import OrderSearch, PlannedTask
from estimates.plan_keys import job_key
from jobs.models import Shop

log = logging.getLogger(__name__)
LEASE = timedelta(seconds=settings.REACTION_LEASE_SECONDS)
FREE: Mapping[str, Any] = {"claim": None, "claimed_until": None}


@dataclass(frozen=True)
class Claim:
    """A search that this worker does: the plan it begins with, and the order proposed for that plan already."""

    shop: Shop
    token: uuid.UUID
    mark: str
    turns: tuple[Turn, ...]

    def write(self, **fields: Any) -> bool:
        """Write to the row while it is still ours."""
        return OrderSearch.objects.filter(shop=self.shop, claim=self.token).update(**fields) == 1


@transaction.atomic
def ask_for_order(*, shop: Shop, now: datetime) -> None:
    """Have the worker search once more. After commit: the worker is woken; if the broker is down, beat does it."""
    OrderSearch.objects.update_or_create(shop=shop, defaults={"asked_at": now})
    transaction.on_commit(_wake, robust=True)


def look_for_order(shop: Shop, *, now: datetime) -> bool:
    """Search if the shop's plan is not the one searched from last, or a manager asked; keep what is found.

    Returns whether there was something to do. A plan that changes meanwhile ends the search; the next begins with it.
    """
    claim = _claim(shop, now)
    if claim is None:
        return False
    try:
        snapshot = read_shop(shop, now)
        hunt = _begin(snapshot, claim, now)
    except ValueError as error:
        claim.write(**FREE, mark="", refusal=str(error)[:300], found_at=None)
        return True
    hunt.go_on(limit_s=settings.ORDER_SEARCH_SECONDS)
    first = hunt.found()
    seconds = settings.ORDER_SEARCH_SECONDS
    if claim.write(**_proposal(snapshot, first), **_first(claim, first, seconds, now)) and _is_still(claim):
        value = hunt.value
        hunt.go_on(limit_s=settings.ORDER_POLISH_SECONDS)
        _store_polished(claim, snapshot, hunt, is_better=hunt.value < value)
    claim.write(**FREE)
    return True


def _claim(shop: Shop, now: datetime) -> Claim | None:
    """Take the row if there is something to search: one UPDATE that must change one row."""
    mark = plan_mark(shop)
    if not mark:
        return None
    row, _ = OrderSearch.objects.get_or_create(shop=shop)
    if row.mark == mark and row.is_polished and not row.asked_at:
        return None
    token = uuid.uuid4()
    free = Q(claimed_until__isnull=True) | Q(claimed_until__lt=now)
    taken = OrderSearch.objects.filter(free, pk=row.pk).update(
        claim=token, claimed_until=now + LEASE, asked_at=None, is_polished=False
    )
    turns = tuple((job, task) for job, task in row.turns) if row.mark == mark else ()
    return Claim(shop, token, mark, turns) if taken else None


def _begin(snapshot: Snapshot, claim: Claim, now: datetime) -> OrderHunt:
    """The plan in force, and what was found for it before."""
    last = _last_starts(snapshot.shop)
    asked = snapshot.altered_too(lambda problem: replace(problem, last_starts=last))
    # Asked again, it shall not go the same way again.
    hunt = asked.hunt(seed=int(now.timestamp()))
    return hunt.try_turns(claim.turns) if claim.turns else hunt


def _last_starts(shop: Shop) -> dict[Turn, datetime]:
    """When each task starts by the plan in force: of two orders as good, the one that moves fewer starts is found."""
    tasks = PlannedTask.objects.filter(job__shop=shop).order_by()
    return {(job_key(job_id), key): at for job_id, key, at in tasks.values_list("job_id", "key", "start_at")}


def _first(claim: Claim, found: Found, seconds: float, now: datetime) -> dict[str, Any]:
    """What else is written with the first order."""
    return {
        "mark": claim.mark,
        "found_at": now,
        "first_gain": found.gain,
        "seconds": seconds,
        "refusal": "",
        "late_before": found.one_pass.late,
    }


def _store_polished(claim: Claim, snapshot: Snapshot, hunt: OrderHunt, *, is_better: bool) -> None:
    found = hunt.found()
    seconds = settings.ORDER_SEARCH_SECONDS + settings.ORDER_POLISH_SECONDS
    better = _proposal(snapshot, found) if is_better else {"schedules": found.schedules}
    claim.write(**better, seconds=seconds, is_polished=True)


def _proposal(snapshot: Snapshot, found: Found) -> dict[str, Any]:
    return {
        "turns": [list(turn) for turn in found.schedule.turns],
        "coaches": _moved(snapshot, found),
        "late_after": found.worth.late,
        "gain": found.gain,
        "schedules": found.schedules,
        "version": F("version") + 1,
    }


def _moved(snapshot: Snapshot, found: Found) -> list[dict[str, Any]]:
    """The coaches whose date the order moves, those that gain most first."""
    now_on = snapshot.ready_on()
    then_on = {job.pk: snapshot.shop.local_date(found.schedule.jobs[job_key(job.pk)].ready_at) for job in snapshot.jobs}
    moved = [job for job in snapshot.jobs if now_on[job.pk] != then_on[job.pk]]
    moved.sort(key=lambda job: ((then_on[job.pk] - now_on[job.pk]).days, job.number))
    return [_as_json(job.pk, now_on[job.pk], then_on[job.pk]) for job in moved]


def _as_json(job_id: int, now_on: date, then_on: date) -> dict[str, Any]:
    return {"job": job_id, "now_on": now_on.isoformat(), "then_on": then_on.isoformat()}


def _is_still(claim: Claim) -> bool:
    return plan_mark(claim.shop) == claim.mark


def _wake() -> None:
    from estimates.tasks import look_for_orders  # the task module imports this one

    try:
        look_for_orders.apply_async(retry=True, retry_policy=settings.CELERY_TASK_PUBLISH_RETRY_POLICY)
    except OperationalError as error:
        log.warning("broker not reached, beat will find the search: %s", error)
