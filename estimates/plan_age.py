"""Whether the plan in force, and the odds beside it, still tell how things stand."""

from django.db.models import F

from estimates.inputs import REPLANNED_ON
from estimates.models import ShopPlan
from jobs.models import JournalEntry

BEFORE_THE_CHANGE = "from before the last change, which the plan does not take in yet either"
BEFORE_THE_PLAN = "from before the last plan; new ones are being worked out"


def is_to_be_planned(plan: ShopPlan) -> bool:
    """Whether something has happened since that calls for a new plan, or called for one that could not be made."""
    entries = JournalEntry.objects.filter(job__shop=plan.shop_id, kind__in=REPLANNED_ON)
    return entries.filter(pk__gt=plan.last_entry).exists()


def odds_lag(plan: ShopPlan | None) -> str:
    """What is old about the odds beside a plan, to go on after “They are”; empty while they are the plan's own."""
    if plan is None or plan.odds_at is None:
        return ""
    if is_to_be_planned(plan):
        return BEFORE_THE_CHANGE
    return "" if plan.odds_at >= plan.made_at else BEFORE_THE_PLAN


def of_the_plan(path: str) -> dict[str, F]:
    """What to filter rows of odds by, to have those alone that are of the plan in force. path: to the shop."""
    return {f"{path}__plan__odds_at__gte": F(f"{path}__plan__made_at")}
