"""Adopting a better order of work, and going back to the rule."""

from datetime import datetime

from django.db import transaction

from estimates.better_order import LEAST_GAIN, plan_mark
from estimates.inputs import Snapshot
from estimates.models import OrderSearch, ShopPlan
from estimates.reasons import Cause, Reason
from estimates.services.planning import replan_after
from jobs.errors import Stale
from jobs.models import Shop

ADOPTED = Reason(Cause.WORK, "Better order of work adopted")
DROPPED = Reason(Cause.WORK, "Back to the rule’s order of work")


@transaction.atomic
def adopt_order(*, before: Snapshot, seen_version: int, now: datetime) -> None:
    """Plan by the order proposed from now on, until it is dropped or a coach is given another turn.

    before: the shop as it is; seen_version: of the order that was on screen. Raises Stale if another is proposed by
    now, or something has happened since it was looked for.
    """
    Shop.objects.select_for_update().get(pk=before.shop.pk)
    search = OrderSearch.objects.filter(shop=before.shop).first()
    if search is None or search.version != seen_version or search.gain < LEAST_GAIN:
        raise Stale("Another order has been found since. Please look at it first.")
    if search.mark != plan_mark(before.shop):
        raise Stale("Something has happened in the shop since. The order is looked for again; please look at it first.")
    ShopPlan.objects.filter(shop=before.shop).update(turns=search.turns, turns_entry=before.last_entry, turns_at=now)
    replan_after(before, reason=ADOPTED, now=now)


@transaction.atomic
def drop_order(*, before: Snapshot, now: datetime) -> None:
    """Plan by the rule again."""
    ShopPlan.objects.filter(shop=before.shop).update(turns=[], turns_at=None)
    replan_after(before, reason=DROPPED, now=now)
