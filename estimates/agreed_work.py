"""Agreed operations as the planner reads them."""

from collections.abc import Iterable, Sequence
from datetime import datetime
from typing import NamedTuple

from estimates.plan_keys import check_key, operation_key
from jobs.models import Operation
from jobs.models.work import Phase


class AgreedWork(NamedTuple):
    """An operation of the agreed scope, and its check, as far as a plan looks at them.

    Columns, not objects of the database: a shop has a thousand of them, and making those took most of the reading.
    skill: its name. worker_ids: who has clocked on to it; nobody before it is begun.
    """

    pk: int
    job_id: int
    remedy_id: int
    finding_id: int
    is_booked: bool
    phase: int
    words: str
    kind: str
    hours: float
    skill: str | None
    crew: int
    is_in_one_shift: bool
    needs_bay: bool
    is_drying: bool
    blowers: int
    dehumidifiers: int
    heaters: int
    started_at: datetime | None
    finished_at: datetime | None
    check_id: int | None
    check_words: str | None
    passed_at: datetime | None
    failed_at: datetime | None
    worker_ids: tuple[int, ...] = ()

    @property
    def key(self) -> str:
        return operation_key(self.pk)

    @property
    def check_key(self) -> str | None:
        """Of its check, whatever came of it."""
        return check_key(self.check_id) if self.check_id else None

    @property
    def open_check_key(self) -> str | None:
        return None if self.passed_at or self.failed_at else self.check_key


# Where a column is not one of the operation's own, or not of its name.
_ELSEWHERE = {
    "finding_id": "remedy__finding_id",
    "is_booked": "remedy__finding__is_booked",
    "skill": "skill__name",
    "check_id": "hold_point__pk",
    "check_words": "hold_point__words",
    "passed_at": "hold_point__passed_at",
    "failed_at": "hold_point__failed_at",
}
_COLUMNS = [_ELSEWHERE.get(name, name) for name in AgreedWork._fields if name != "worker_ids"]


def read_agreed_work(job_ids: Sequence[int]) -> dict[int, list[AgreedWork]]:
    """The agreed work of each of these jobs, in its order: two queries, one where nothing is begun."""
    rows = Operation.objects.filter(job__in=job_ids).values_list(*_COLUMNS)
    work = [AgreedWork._make((*row, ())) for row in rows]
    workers = _read_workers([each.pk for each in work if each.started_at])
    by_job: dict[int, list[AgreedWork]] = {job_id: [] for job_id in job_ids}
    for each in work:
        by_job[each.job_id].append(each._replace(worker_ids=workers[each.pk]) if each.pk in workers else each)
    return by_job


def is_shut(work: Iterable[AgreedWork]) -> bool:
    """Whether the opening up agreed at booking is still to be done: what was behind the skin of others is found.

    What was found since may open more, but is no sign that nobody has looked.
    """
    return any(each.phase == Phase.OPEN_UP and each.is_booked and not each.finished_at for each in work)


def _read_workers(operation_ids: Sequence[int]) -> dict[int, tuple[int, ...]]:
    """Who has clocked on to operations, first come first."""
    if not operation_ids:
        return {}
    workers: dict[int, tuple[int, ...]] = {}
    rows = Operation.workers.through.objects.filter(operation__in=operation_ids).order_by("pk")
    for operation_id, person_id in rows.values_list("operation_id", "person_id"):
        workers[operation_id] = (*workers.get(operation_id, ()), person_id)
    return workers
