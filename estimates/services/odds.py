"""Keeping the odds of every coach's date beside the plan, and what was said on each day for the record."""

from collections.abc import Iterator, Mapping
from datetime import datetime

from django.db import transaction
from django.db.models import F

from estimates.inputs import Snapshot, read_shop
from estimates.models import DayForecast, JobForecast, ShopPlan
from estimates.odds import ReadyOdds, odds_of
from jobs.models import Shop

# Enough for a date that is told to somebody.
SAMPLES = 1000


def work_out_odds(shop: Shop, *, now: datetime, samples: int = SAMPLES) -> bool:
    """Simulate the shop and keep each coach's even and safe date, unless they are those of the plan in force.

    The first of a day are also kept for good, one row a coach, to be held against the day it is ready on.
    Returns whether there was something to work out. Raises ValueError in words when the shop cannot be planned.
    """
    due = ShopPlan.objects.filter(shop=shop).exclude(odds_at__gte=F("made_at"))
    if not due.exists():
        return False
    snapshot = read_shop(shop, now)
    odds = odds_of(snapshot, samples=samples)
    with transaction.atomic():
        JobForecast.objects.filter(job__shop=shop).exclude(job__in=odds).update(even_on=None, safe_on=None)
        for job_id, each in odds.items():
            JobForecast.objects.filter(job_id=job_id).update(even_on=each.even_on, safe_on=each.safe_on)
        DayForecast.objects.bulk_create(_of_the_day(snapshot, odds), ignore_conflicts=True)
        ShopPlan.objects.filter(shop=shop).update(odds_at=now)
    return True


def _of_the_day(snapshot: Snapshot, odds: Mapping[int, ReadyOdds]) -> Iterator[DayForecast]:
    """What is told of each coach; nothing of one whose booked work is not written down yet."""
    planned_on = snapshot.ready_on()
    for job in snapshot.jobs:
        if not job.operations.all():
            continue
        told = odds.get(job.pk)
        yield DayForecast(
            job=job,
            on=snapshot.today,
            made_at=snapshot.now,
            planned_on=planned_on[job.pk],
            even_on=told.even_on if told else None,
            safe_on=told.safe_on if told else None,
        )
