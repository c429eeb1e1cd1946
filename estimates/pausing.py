"""Work that should stay in one shift and is longer than any: the plan lets it pause over night, and says so here."""

from dataclasses import dataclass
from datetime import datetime, timedelta

from estimates.calc.plan import longest_shift
from estimates.inputs import HORIZON_DAYS
from jobs.calc.workdays import ShopCalendar
from jobs.models import Job, Operation, Shop
from jobs.models.work import OperationKind


@dataclass(frozen=True)
class PausingWork:
    """An agreed operation, and the longest shift there is [h]."""

    operation: Operation
    longest_shift_hours: float


def pausing_work(shop: Shop, calendar: ShopCalendar, now: datetime, job: Job | None = None) -> list[PausingWork]:
    """The shop's unfinished agreed work of this kind, of one job or of all, by job; one query.

    Nothing while the shop has no hours at all: then no plan can be made, which is said elsewhere.
    """
    # As the planner looks ahead (estimates/inputs.py), so that both call the same work too long.
    longest = longest_shift(calendar.shifts(now, now + timedelta(days=HORIZON_DAYS[0])))
    if not longest:
        return []
    longest_hours = longest / timedelta(hours=1)
    operations = Operation.objects.unfinished().filter(
        job__shop=shop,
        job__collected_at__isnull=True,
        kind=OperationKind.LABOUR,
        is_in_one_shift=True,
        hours__gt=longest_hours,
    )
    operations = operations.filter(job=job) if job else operations
    operations = operations.select_related("job__coach").order_by("job__number", "phase", "position", "pk")
    return [PausingWork(each, longest_hours) for each in operations]
