"""From jobs' rows to where they stand: the one bridge to jobs.calc.stage."""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime
from typing import NamedTuple

from jobs.calc.stage import Stage, StageFacts, stage_of
from jobs.models import ApprovalRequest, Job, Operation, Shop
from jobs.models.work import OperationKind


@dataclass(frozen=True)
class Progress:
    """How far a job is.

    ended_at: when the last work was finished, the last hold point signed off and the last question answered; None
    while any of it is open, and where no work is agreed.
    """

    stage: Stage
    ended_at: datetime | None

    @property
    def ready_at(self) -> datetime | None:
        """When a coach that stands ready became so."""
        return self.ended_at if self.stage == Stage.READY else None

    def ready_on(self, shop: Shop) -> date | None:
        """The shop's day on which it became so."""
        return shop.local_date(self.ready_at) if self.ready_at else None


def progress_of(jobs: Iterable[Job]) -> dict[int, Progress]:
    """By job: two queries, whatever the number of jobs."""
    jobs = list(jobs)
    operations, questions = _operations(jobs), _questions(jobs)
    return {
        job.pk: Progress(
            stage=stage_of(_facts(job, operations[job.pk], questions[job.pk])),
            ended_at=_ended_at(operations[job.pk], questions[job.pk]),
        )
        for job in jobs
    }


def stage_for(job: Job) -> Stage:
    """The stage of one job."""
    return progress_of([job])[job.pk].stage


class _Operation(NamedTuple):
    """An operation and its check, as far as they say where a job stands."""

    job_id: int
    phase: int
    kind: str
    started_at: datetime | None
    finished_at: datetime | None
    check_id: int | None
    passed_at: datetime | None
    failed_at: datetime | None

    @property
    def is_running(self) -> bool:
        return self.started_at is not None and self.finished_at is None

    @property
    def checked_at(self) -> datetime | None:
        return self.passed_at or self.failed_at


def _operations(jobs: Sequence[Job]) -> dict[int, list[_Operation]]:
    rows = Operation.objects.filter(job__in=jobs).order_by().values_list(
        "job_id",
        "phase",
        "kind",
        "started_at",
        "finished_at",
        "hold_point__pk",
        "hold_point__passed_at",
        "hold_point__failed_at",
    )  # fmt: skip
    by_job: dict[int, list[_Operation]] = defaultdict(list)
    for operation in map(_Operation._make, rows):
        by_job[operation.job_id].append(operation)
    return by_job


def _questions(jobs: Sequence[Job]) -> dict[int, list[datetime | None]]:
    """When each question to the owners was closed."""
    closed: dict[int, list[datetime | None]] = defaultdict(list)
    asked = ApprovalRequest.objects.filter(finding__job__in=jobs).order_by()
    for job_id, closed_at in asked.values_list("finding__job_id", "closed_at"):
        closed[job_id].append(closed_at)
    return closed


def _ended_at(operations: Sequence[_Operation], questions: Sequence[datetime | None]) -> datetime | None:
    ends = [
        *(each.finished_at for each in operations),
        *(each.checked_at for each in operations if each.check_id),
        *questions,
    ]
    known = [each for each in ends if each]
    return max(known) if operations and len(known) == len(ends) else None


def _facts(job: Job, operations: Sequence[_Operation], questions: Sequence[datetime | None]) -> StageFacts:
    running = [each for each in operations if each.is_running]
    return StageFacts(
        is_arrived=job.arrived_at is not None,
        is_collected=job.collected_at is not None,
        has_agreed_work=bool(operations),
        has_begun=any(each.started_at for each in operations),
        running_phases=frozenset(each.phase for each in running if each.kind == OperationKind.LABOUR),
        is_wait_running=any(each.kind == OperationKind.WAIT for each in running),
        unfinished_phases=frozenset(each.phase for each in operations if each.finished_at is None),
        is_check_open=any(each.check_id and not each.checked_at for each in operations),
        is_question_open=None in questions,
    )
