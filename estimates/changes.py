"""What has happened since the plan in force, put in one after another: whose days are whose.

Each change is taken out of the shop again, the last one first, and the shop planned without it. What is left when all
are out is what time alone did. A change that cannot be taken out from what is known keeps the days of all before it.
"""

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta

from estimates import kinds as estimate_kinds
from estimates.calc.plan import PlanJob, Problem, Task
from estimates.inputs import Snapshot
from estimates.plan_keys import job_key, operation_key, worker_key
from estimates.questions import Pending
from jobs import kinds
from jobs.models import JournalEntry

NOTHING = timedelta(0)
OnTask = Callable[[Task], Task]


@dataclass(frozen=True)
class Stage:
    """The dates once this change is in (None: time alone), by primary key of the job."""

    entry: JournalEntry | None
    ready_on: Mapping[int, date]


def stages_of(snapshot: Snapshot, ready_on: Mapping[int, date]) -> tuple[Stage, ...]:
    """The changes since the plan in force in the order they happened; the last one has the dates as they are now.

    ready_on: those dates. Time comes first, unless the first change cannot be told from it.
    """
    stages: list[Stage] = []
    for entry in reversed(snapshot.entries):
        stages.append(Stage(entry, ready_on))
        before = _without(snapshot, entry)
        if before is None:
            return tuple(reversed(stages))
        # Work that is not done without this change may be work that no bay is long enough for.
        snapshot = before.plannable()
        ready_on = _dates(snapshot)
    stages.append(Stage(None, ready_on))
    return tuple(reversed(stages))


def _dates(snapshot: Snapshot) -> dict[int, date]:
    """Of the coaches that were there."""
    ready_at = snapshot.ready()
    return {
        job.pk: snapshot.shop.local_date(ready_at[job_key(job.pk)])
        for job in snapshot.jobs
        if job_key(job.pk) in ready_at
    }


def _without(snapshot: Snapshot, entry: JournalEntry) -> Snapshot | None:
    """The shop as if this had not happened, None where that is not known."""
    undo = _UNDO.get(entry.kind)
    return undo(snapshot, entry) if undo else None


def _not_arrived(snapshot: Snapshot, entry: JournalEntry) -> Snapshot | None:
    job = next((job for job in snapshot.jobs if job.pk == entry.job_id), None)
    if job is None:
        return None
    release_at = max(snapshot.now, snapshot.opening(job.arrives_on))
    return _on_job(snapshot, entry.job_id, lambda plan_job: replace(plan_job, release_at=release_at))


def _other_turn(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    return _on_job(snapshot, entry.job_id, lambda plan_job: replace(plan_job, priority=entry.data["before"]))


def _other_promise(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    before = entry.data["before"]
    promised_at = snapshot.opening(date.fromisoformat(before)) if before else None
    return _on_job(snapshot, entry.job_id, lambda plan_job: replace(plan_job, promised_at=promised_at))


def _not_asked(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    finding_id = entry.data["finding"]
    questions = snapshot.pending.get(entry.job_id, [])
    if finding_id not in {each.finding.pk for each in questions}:
        return _not_done(snapshot, finding_id)
    return snapshot.without_question(entry.job_id, finding_id)


def _not_done(snapshot: Snapshot, finding_id: int) -> Snapshot:
    """As if nothing had been found: the work that was agreed on meanwhile is not there."""
    work = [each for each in snapshot.agreed_work() if each.finding_id == finding_id]
    checks = {each.check_key for each in work if each.check_key}
    return _on_tasks(snapshot, {each.key for each in work} | checks, _nothing)


def _still_asked(snapshot: Snapshot, entry: JournalEntry) -> Snapshot | None:
    """As if a question that was taken back or answered no were still open."""
    question = snapshot.closed.get(entry.data["finding"])
    return snapshot.adding(question) if question else None


def _not_settled(snapshot: Snapshot, entry: JournalEntry) -> Snapshot | None:
    data = entry.data
    if data["revision"] == 1:
        return snapshot.altered_too(_without_job(job_key(entry.job_id)))
    if not data["finding"]:
        return snapshot  # terms: nothing that a plan knows of
    if not data["is_approved"]:
        return _still_asked(snapshot, entry)
    return _not_approved(snapshot, entry, snapshot.closed.get(data["finding"]))


def _not_approved(snapshot: Snapshot, entry: JournalEntry, question: Pending | None) -> Snapshot | None:
    """As if the work were still waiting for its yes; only where the yes was to what had been planned."""
    work = [each for each in snapshot.agreed_work() if each.finding_id == entry.data["finding"]]
    if question is None or {each.remedy_id for each in work} != {question.options[0].remedy_id}:
        return None
    return _on_tasks(snapshot, [each.key for each in work], lambda task: replace(task, not_before=question.answer_at))


def _not_started(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    return _on_tasks(
        snapshot, [_own(entry)], lambda task: replace(task, started_at=None, finished_at=None, fixed_workers=())
    )


def _not_joined(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    joined = worker_key(entry.data["person"])
    return _on_tasks(
        snapshot,
        [_own(entry)],
        lambda task: replace(task, fixed_workers=tuple(key for key in task.fixed_workers if key != joined)),
    )


def _not_finished(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    return _on_tasks(snapshot, [_own(entry)], lambda task: replace(task, finished_at=None))


def _not_failed(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    """As if the check were still to be made: the work is not done again, and not checked again."""
    redone = [each for each in snapshot.agreed_work() if each.pk == entry.data["redo"]]
    keys = [key for each in redone for key in (each.key, each.check_key) if key]
    return _on_tasks(snapshot, keys, lambda task: replace(_nothing(task), in_shop_hours=True))


def _same_as_read(snapshot: Snapshot, entry: JournalEntry) -> Snapshot:
    """A passed check takes no time: what waited for it could go on at the next open moment."""
    return snapshot


def _drying_as_before(snapshot: Snapshot, entry: JournalEntry) -> Snapshot | None:
    """As if the drying waits of this coach still ended when the plan in force has them end."""
    ends = {
        each.key: snapshot.waits_until[each.pk]
        for each in snapshot.work.get(entry.job_id, ())
        if each.is_drying and not each.finished_at and each.pk in snapshot.waits_until
    }
    return _on_tasks(snapshot, ends, lambda task: _lasting(task, *ends[task.key], snapshot.now)) if ends else None


def _lasting(task: Task, begin: datetime, end: datetime, now: datetime) -> Task:
    if end <= begin:
        return task
    if task.until:
        return replace(task, until=max(end, now))
    return replace(task, duration=max(end, now) - (task.started_at or begin))


def _nothing(task: Task) -> Task:
    return Task(task.key, task.words, "event", NOTHING, after=task.after)


def _own(entry: JournalEntry) -> str:
    return operation_key(entry.data["operation"])


def _on_job(snapshot: Snapshot, job_id: int, change: Callable[[PlanJob], PlanJob]) -> Snapshot:
    key = job_key(job_id)
    return snapshot.altered_too(
        lambda problem: replace(problem, jobs=tuple(change(job) if job.key == key else job for job in problem.jobs))
    )


def _on_tasks(snapshot: Snapshot, keys: Iterable[str], change: OnTask) -> Snapshot:
    wanted = frozenset(keys)

    def changed(job: PlanJob) -> PlanJob:
        return replace(job, tasks=tuple(_tasks(job, wanted, change)))

    return snapshot.altered_too(lambda problem: replace(problem, jobs=tuple(changed(job) for job in problem.jobs)))


def _tasks(job: PlanJob, wanted: frozenset[str], change: OnTask) -> Iterator[Task]:
    return (change(task) if task.key in wanted else task for task in job.tasks)


def _without_job(key: str) -> Callable[[Problem], Problem]:
    return lambda problem: replace(problem, jobs=tuple(job for job in problem.jobs if job.key != key))


_UNDO: dict[str, Callable[[Snapshot, JournalEntry], Snapshot | None]] = {
    kinds.COACH_ARRIVED: _not_arrived,
    kinds.TURN_CHANGED: _other_turn,
    kinds.DATE_PROMISED: _other_promise,
    kinds.OWNER_ASKED: _not_asked,
    kinds.REQUEST_WITHDRAWN: _still_asked,
    kinds.OPERATION_STARTED: _not_started,
    kinds.OPERATION_JOINED: _not_joined,
    kinds.OPERATION_FINISHED: _not_finished,
    kinds.HOLD_POINT_PASSED: _same_as_read,
    kinds.HOLD_POINT_FAILED: _not_failed,
    kinds.DRYING_WORKED_OUT: _drying_as_before,
    estimate_kinds.SCOPE_SETTLED: _not_settled,
}
