"""Giving out a day's work: which starts stand, and who has them."""

from collections.abc import Iterator
from datetime import datetime

from estimates.calc.plan import Schedule
from estimates.inputs import Snapshot
from estimates.models import GivenOut, ShopPlan
from estimates.plan_keys import job_key, worker_pk
from jobs.models import Person


def is_due(snapshot: Snapshot) -> bool:
    """Whether the shop has opened today and nobody has been given today's work yet."""
    shifts = snapshot.calendar.day_shifts(snapshot.today)
    if not shifts or snapshot.now < shifts[0][0]:
        return False
    return not ShopPlan.objects.filter(shop=snapshot.shop, given_out_on=snapshot.today).exists()


def give_out(snapshot: Snapshot, schedule: Schedule, *, by: Person | None, now: datetime) -> None:
    """Give out today's starts by this plan, in place of any given out today. Runs inside the caller's transaction.

    by: the manager who asked; None when the day itself began.
    """
    GivenOut.objects.filter(operation__job__shop=snapshot.shop, on=snapshot.today).delete()
    GivenOut.objects.bulk_create(_starts_of_today(snapshot, schedule))
    ShopPlan.objects.filter(shop=snapshot.shop).update(given_out_on=snapshot.today, given_out_at=now, given_out_by=by)


def _starts_of_today(snapshot: Snapshot, schedule: Schedule) -> Iterator[GivenOut]:
    """Agreed labour that is to begin today. What runs already keeps its people without this."""
    for job in snapshot.jobs:
        placed = {task.key: task for task in schedule.jobs[job_key(job.pk)].tasks}
        for work in snapshot.work[job.pk]:
            task = placed[work.key]
            if work.started_at or not task.workers or snapshot.shop.local_date(task.start_at) != snapshot.today:
                continue
            yield GivenOut(
                operation_id=work.pk,
                on=snapshot.today,
                start_at=task.start_at,
                worker_ids=[worker_pk(key) for key in task.workers],
            )
