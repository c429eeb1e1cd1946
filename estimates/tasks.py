"""The estimate side's periodic work."""

import time

from celery import shared_task
from celery.signals import worker_process_init
from django.db.models import F
from django.utils import timezone

from estimates.calc.plan.warming import warm_up_aside
from estimates.inputs import read_shop
from estimates.services.odds import work_out_odds
from estimates.services.order_search import look_for_order
from estimates.services.planning import note_refusal, replan_for_time, work_out_plan
from jobs.models import Shop

# Well under the task time limit; what is left is taken by the next beat.
SECONDS_A_TASK = 30.0


@worker_process_init.connect  # type: ignore[untyped-decorator]
def have_the_planner_ready(**_: object) -> None:
    """Read or compile the plan engine's code before the first task needs it."""
    warm_up_aside()


@shared_task(name="estimates.replan_shops")  # type: ignore[untyped-decorator]
def replan_shops() -> None:
    """Plan every shop again: work that was due to begin or end by now may not have."""
    for shop in Shop.objects.order_by("pk"):
        now = timezone.now()
        try:
            replan_for_time(work_out_plan(read_shop(shop, now)), now=now)
        except ValueError as error:
            # Said on its board; the other shops are planned all the same.
            note_refusal(shop, error)


@shared_task(name="estimates.work_out_odds")  # type: ignore[untyped-decorator]
def work_out_shops_odds() -> None:
    """Simulate every shop whose plan is newer than its odds."""
    for shop in Shop.objects.order_by("pk"):
        try:
            work_out_odds(shop, now=timezone.now())
        except ValueError as error:
            note_refusal(shop, error)


@shared_task(name="estimates.look_for_orders")  # type: ignore[untyped-decorator]
def look_for_orders() -> None:
    """Search a better order for every shop whose plan has changed, or whose manager asked; the longest ago first."""
    started = time.monotonic()
    for shop in Shop.objects.order_by(F("order_search__found_at").asc(nulls_first=True), "pk"):
        look_for_order(shop, now=timezone.now())
        if time.monotonic() - started > SECONDS_A_TASK:
            return
