"""Work that stands still for days because its people, or all who could take it, are away: said when a plan is made."""

from collections.abc import Iterator, Mapping
from datetime import datetime, timedelta
from zoneinfo import ZoneInfo

from django.utils import dateformat

from estimates.agreed_work import AgreedWork
from estimates.calc.plan import JobPlan, PlacedTask, Schedule, Worker
from estimates.inputs import Snapshot
from estimates.plan_keys import job_key, worker_key
from jobs.models import Person

# Shorter than this nobody needs to be told (planning values, no source).
AWAY_FOR, NOBODY_FOR = timedelta(days=3), timedelta(days=5)
Span = tuple[datetime, datetime]


def long_waits(snapshot: Snapshot, schedule: Schedule) -> Iterator[tuple[int, str]]:
    """(primary key of the job, words) for each piece of work that waits so long, in the order of the jobs.

    One query where somebody who has begun something is away.
    """
    workers = {worker.key: worker for worker in snapshot.workers}
    for job in snapshot.jobs:
        plan, told = schedule.jobs[job_key(job.pk)], set[str]()
        placed = {task.key: task for task in plan.tasks}
        for work in snapshot.work[job.pk]:
            if work.kind != "labour" or work.finished_at:
                continue
            if work.started_at:
                words = _left_lying(snapshot, work, placed[work.key], workers)
            else:
                words = "" if work.skill in told else _taken_by_nobody(snapshot, work, placed[work.key], plan)
                told |= {work.skill} if words and work.skill else set()
            if words:
                yield job.pk, words


def _left_lying(snapshot: Snapshot, work: AgreedWork, task: PlacedTask, workers: Mapping[str, Worker]) -> str:
    """Begun by somebody who is away for days before it can end."""
    for person_id in work.worker_ids:
        worker = workers.get(worker_key(person_id))
        for since, until in worker.away if worker else ():
            begin = max(since, snapshot.now)
            if min(until, task.end_at) - begin >= AWAY_FOR:
                person = Person.objects.get(pk=person_id)
                name = person.get_full_name() or person.username
                days = f"from {_day(snapshot, begin)} to {_day(snapshot, until - timedelta(seconds=1))}"
                return (
                    f"“{work.words}” is begun by {name}, who is away {days}. The plan lets it rest until then. "
                    "Once somebody else starts it on their own page, the plan goes on with them."
                )
    return ""


def _taken_by_nobody(snapshot: Snapshot, work: AgreedWork, task: PlacedTask, plan: JobPlan) -> str:
    """It starts when somebody who can do it is back, and could have started days before."""
    could_start_at = max(
        [snapshot.now, *(each.end_at for each in plan.tasks if each.key != task.key and each.end_at <= task.start_at)]
    )
    for since, until in _gaps(snapshot, work):
        if since < task.start_at and until <= task.start_at and until - max(since, could_start_at) >= NOBODY_FOR:
            who = "nobody" if work.crew == 1 else f"fewer than {work.crew} people"
            return (
                f"“{work.words}” waits until {_day(snapshot, task.start_at)}: {who} with the skill {work.skill} "
                f"{'is' if work.crew == 1 else 'are'} here before {_day(snapshot, until)}."
            )
    return ""


def _gaps(snapshot: Snapshot, work: AgreedWork) -> Iterator[Span]:
    """When fewer people who can do the work are there than it takes, by their days away."""
    able = [worker for worker in snapshot.workers if work.skill in worker.skills]
    edges = sorted({edge for worker in able for span in worker.away for edge in span})
    begin: datetime | None = None
    for edge in edges:
        here = sum(not any(since <= edge < until for since, until in worker.away) for worker in able)
        if here < work.crew:
            begin = begin or edge
        elif begin:
            yield begin, edge
            begin = None


def _day(snapshot: Snapshot, at: datetime) -> str:
    return dateformat.format(at.astimezone(ZoneInfo(snapshot.shop.time_zone)), "M j, Y")
