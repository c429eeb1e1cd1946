"""Adopting a better order of work, and going back to the rule."""

from collections.abc import Sequence
from datetime import datetime

from django.db import transaction

from estimates.inputs import Snapshot, Turn
from estimates.models import ShopPlan
from estimates.reasons import Cause, Reason
from estimates.services.planning import replan_after
from jobs.errors import Stale
from jobs.models import Shop

ADOPTED = Reason(Cause.WORK, "Better order of work adopted")
DROPPED = Reason(Cause.WORK, "Back to the rule’s order of work")


@transaction.atomic
def adopt_order(*, before: Snapshot, turns: Sequence[Turn], seen_entry: int, now: datetime) -> None:
    """Plan by this order from now on, until it is dropped or a coach is given another turn.

    before: the shop as it is. Raises Stale if something has happened since the order was looked for.
    """
    Shop.objects.select_for_update().get(pk=before.shop.pk)
    if before.last_entry != seen_entry:
        raise Stale("Something has happened in the shop since. Please look for an order again.")
    ShopPlan.objects.filter(shop=before.shop).update(
        turns=[list(turn) for turn in turns], turns_entry=before.last_entry, turns_at=now
    )
    replan_after(before, reason=ADOPTED, now=now)


@transaction.atomic
def drop_order(*, before: Snapshot, now: datetime) -> None:
    """Plan by the rule again."""
    ShopPlan.objects.filter(shop=before.shop).update(turns=[], turns_at=None)
    replan_after(before, reason=DROPPED, now=now)
