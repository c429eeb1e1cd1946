"""How often coaches are booked at a shop, how long before, with which turn and with how much work: its own record."""

from collections import defaultdict
from collections.abc import Iterable, Mapping
from datetime import datetime, timedelta

from estimates.calc.plan.to_come import Booking, Bookings
from jobs.calc.equipment import needs_of
from jobs.models import Job, Operation, Shop
from jobs.models.work import OperationKind

# Older bookings tell of another shop; more than so many would only be read again and again.
YEAR = timedelta(days=365)
LATEST = 60


def read_bookings(shop: Shop, *, now: datetime) -> Bookings:
    """The shop's latest bookings whose work is written down. Three queries, however many."""
    jobs = Job.objects.filter(shop=shop, booked_at__gt=now - YEAR, booked_at__lte=now, operations__isnull=False)
    latest = list(jobs.distinct().prefetch_related("promises").order_by("-booked_at", "-pk")[:LATEST])
    work: Mapping[int, list[Operation]] = defaultdict(list)
    for each in Operation.objects.filter(job__in=latest, redo_of__isnull=True).select_related("skill"):
        work[each.job_id].append(each)
    return Bookings(tuple(_booking(shop, job, work[job.pk]) for job in reversed(latest)), now)


def _booking(shop: Shop, job: Job, work: Iterable[Operation]) -> Booking:
    labour: dict[str, timedelta] = defaultdict(timedelta)
    held: dict[str, timedelta] = defaultdict(timedelta)
    drying = cure = timedelta(0)
    for each in work:
        takes = timedelta(hours=each.hours)
        for kind, count in needs_of(each):
            held[kind] += count * takes
        if each.kind == OperationKind.LABOUR and each.skill:
            labour[each.skill.name] += each.crew * takes
        elif each.is_drying:
            drying = max(drying, takes)
        else:
            cure = max(cure, takes)
    return Booking(
        booked_at=job.booked_at,
        lead=max(timedelta(0), job.arrives_on - shop.local_date(job.booked_at)),
        priority=job.priority,
        is_promised=job.promise is not None,
        labour=labour,
        held=held,
        drying=drying,
        cure=cure,
    )
