"""From a job's rows to the facts that name its stage: the one bridge to jobs.calc.stage."""

from datetime import date, datetime

from django.db.models import Prefetch

from jobs.calc.stage import Stage, StageFacts, stage_of
from jobs.models import ApprovalRequest, Job, Operation
from jobs.models.job import JobQuerySet
from jobs.models.work import OperationKind


def with_stage_rows(jobs: JobQuerySet) -> JobQuerySet:
    """The jobs with all that `stage_for` reads: three queries more, whatever the number of jobs."""
    return jobs.prefetch_related(
        Prefetch("operations", queryset=Operation.objects.select_related("hold_point")),
        Prefetch("findings__requests", queryset=ApprovalRequest.objects.order_by("pk")),
    )


def stage_for(job: Job) -> Stage:
    """The stage of one job; without a query when it came through `with_stage_rows`."""
    return stage_of(_facts(job))


def ready_at(job: Job) -> datetime | None:
    """When the last work was finished, the last hold point signed off and the last question answered; None before.

    Without a query when the job came through `with_stage_rows`.
    """
    operations = list(job.operations.all())
    holds = [each.hold_point for each in operations if hasattr(each, "hold_point")]
    questions = [each for finding in job.findings.all() for each in finding.requests.all()]
    ends = [
        *(each.finished_at for each in operations),
        *(each.passed_at or each.failed_at for each in holds),
        *(each.closed_at for each in questions),
    ]
    known = [each for each in ends if each]
    return max(known) if operations and len(known) == len(ends) else None


def ready_on(job: Job) -> date | None:
    """The shop's day on which a coach that stands ready became so; None for any other. Queries as for ready_at."""
    at = ready_at(job) if stage_for(job) == Stage.READY else None
    return job.shop.local_date(at) if at else None


def _facts(job: Job) -> StageFacts:
    operations = list(job.operations.all())
    running = [operation for operation in operations if operation.is_running]
    return StageFacts(
        is_arrived=job.arrived_at is not None,
        is_collected=job.collected_at is not None,
        has_agreed_work=bool(operations),
        has_begun=any(operation.started_at for operation in operations),
        running_phases=frozenset(each.phase for each in running if each.kind == OperationKind.LABOUR),
        is_wait_running=any(each.kind == OperationKind.WAIT for each in running),
        unfinished_phases=frozenset(each.phase for each in operations if each.finished_at is None),
        is_check_open=any(_has_open_check(operation) for operation in operations),
        is_question_open=any(
            request.closed_at is None for finding in job.findings.all() for request in finding.requests.all()
        ),
    )


def _has_open_check(operation: Operation) -> bool:
    hold_point = getattr(operation, "hold_point", None)
    return hold_point is not None and hold_point.passed_at is None and hold_point.failed_at is None
