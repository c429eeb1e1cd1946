"""The estimate side's periodic work."""

from celery import shared_task
from django.utils import timezone

from estimates.inputs import read_shop
from estimates.services.odds import work_out_odds
from estimates.services.planning import replan_for_time, work_out_plan
from jobs.models import Shop


@shared_task(name="estimates.replan_shops")  # type: ignore[untyped-decorator]
def replan_shops() -> None:
    """Plan every shop again: work that was due to begin or end by now may not have."""
    for shop in Shop.objects.order_by("pk"):
        now = timezone.now()
        replan_for_time(work_out_plan(read_shop(shop, now)), now=now)


@shared_task(name="estimates.work_out_odds")  # type: ignore[untyped-decorator]
def work_out_shops_odds() -> None:
    """Simulate every shop whose plan is newer than its odds."""
    for shop in Shop.objects.order_by("pk"):
        work_out_odds(shop, now=timezone.now())
