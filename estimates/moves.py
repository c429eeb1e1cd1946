"""What the last plans moved: every coach whose date changed, together with what changed it."""

from collections import defaultdict
from dataclasses import dataclass
from datetime import datetime, timedelta

from estimates.models import DateChange
from jobs.models import Shop

SHOWN_FOR = timedelta(days=7)


@dataclass(frozen=True)
class Replan:
    """The moves of one plan: of the coach it was about, and of others through it."""

    at: datetime
    own: tuple[DateChange, ...]
    through_others: tuple[DateChange, ...]


def read_replans(shop: Shop, now: datetime) -> list[Replan]:
    """The plans of the last week that moved a date, newest first: one query."""
    changes = DateChange.objects.filter(
        job__shop=shop, job__collected_at__isnull=True, from_on__isnull=False, changed_at__gte=now - SHOWN_FOR
    )
    by_plan: dict[datetime, list[DateChange]] = defaultdict(list)
    for change in changes.select_related("job__coach").order_by("-changed_at", "pk"):
        by_plan[change.changed_at].append(change)
    return [
        Replan(
            at,
            tuple(each for each in found if each.cause != DateChange.Cause.OTHER_COACH),
            tuple(each for each in found if each.cause == DateChange.Cause.OTHER_COACH),
        )
        for at, found in by_plan.items()
    ]
