"""Keeping the odds of every coach's date beside the plan."""

from datetime import datetime

from django.db import transaction
from django.db.models import F

from estimates.inputs import read_shop
from estimates.models import JobForecast, ShopPlan
from estimates.odds import odds_of
from jobs.models import Shop

# Enough for a date that is told to somebody.
SAMPLES = 1000


def work_out_odds(shop: Shop, *, now: datetime) -> bool:
    """Simulate the shop and keep each coach's even and safe date, unless they are those of the plan in force.

    Returns whether there was something to work out. Raises ValueError in words when the shop cannot be planned.
    """
    due = ShopPlan.objects.filter(shop=shop).exclude(odds_at__gte=F("made_at"))
    if not due.exists():
        return False
    odds = odds_of(read_shop(shop, now), samples=SAMPLES)
    with transaction.atomic():
        JobForecast.objects.filter(job__shop=shop).exclude(job__in=odds).update(even_on=None, safe_on=None)
        for job_id, each in odds.items():
            JobForecast.objects.filter(job_id=job_id).update(even_on=each.even_on, safe_on=each.safe_on)
        ShopPlan.objects.filter(shop=shop).update(odds_at=now)
    return True
