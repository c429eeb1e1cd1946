"""Replanning the shop and keeping account of why each date moved."""

import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from django.db import transaction

from estimates import kinds
from estimates.calc.plan import JobPlan, PlacedTask, Schedule
from estimates.calc.plan.causes import split
from estimates.changes import Stage, stages_of
from estimates.inputs import Snapshot, read_shop
from estimates.long_waits import long_waits
from estimates.models import DateChange, JobAnswers, JobForecast, PlannedTask, QuestionOutlook, ShopPlan
from estimates.option_days import OptionDays, option_days
from estimates.outlooks import Answered, AnsweredOn, Outlook, answers_of, outlook_of
from estimates.plan_keys import answer_key, bay_pk, job_key, worker_key
from estimates.reasons import Reason, reason_for
from estimates.services.day import give_out, is_due
from estimates.services.option_days import store_option_days
from jobs.journal import record
from jobs.models import ApprovalRequest, Job, JournalEntry, Person, Shop

FIRST_PLAN = Reason(DateChange.Cause.FIRST_PLAN, "First plan")


@dataclass(frozen=True)
class NewPlan:
    """A plan worked out from a snapshot, not yet stored."""

    snapshot: Snapshot
    schedule: Schedule
    options: tuple[OptionDays, ...]
    outlooks: dict[int, Outlook]  # by finding
    answers: dict[int, tuple[Answered, ...]]  # by job, for those with several open questions
    stages: tuple[Stage, ...]  # the changes since the plan in force, one after another
    seconds: float
    reason: Reason | None = None  # of the last stage, where no entry of a journal tells it


def work_out_plan(snapshot: Snapshot, *, before: Snapshot | None = None, reason: Reason | None = None) -> NewPlan:
    """Plan the whole shop, and what each open question does to it. Reads nothing, writes nothing.

    before, reason: for a change that stands in no journal, the shop without it, and its words.
    """
    started = time.perf_counter()
    schedule = snapshot.schedule()
    ready_on = {job.pk: snapshot.shop.local_date(schedule.jobs[job_key(job.pk)].ready_at) for job in snapshot.jobs}
    stages = _stages(snapshot, before, ready_on)
    options = tuple(option_days(snapshot, schedule))
    outlooks = {each.finding.pk: outlook_of(snapshot, each) for each in snapshot.questions()}
    answers = {job_id: answers_of(snapshot, job_id) for job_id in snapshot.pending}
    return NewPlan(snapshot, schedule, options, outlooks, answers, stages, time.perf_counter() - started, reason)


def _stages(snapshot: Snapshot, before: Snapshot | None, ready_on: dict[int, date]) -> tuple[Stage, ...]:
    if before is None:
        return stages_of(snapshot, ready_on)
    try:
        return (*stages_of(before, before.ready_on()), Stage(None, ready_on))
    except ValueError:
        # Before the change no plan could be made: all that moved is put down to it.
        return (Stage(None, ready_on),)


def store_plan(new: NewPlan, entry: JournalEntry | None, *, now: datetime) -> bool:
    """Make this the shop's plan, unless a newer one is already there. Runs inside a transaction.

    Each coach whose expected date moved gets a DateChange for each cause, adding up to the move, and journal entries.
    Returns False, changing nothing, when a plan made from a newer journal is stored.
    """
    snapshot = new.snapshot
    Shop.objects.select_for_update().get(pk=snapshot.shop.pk)
    current = ShopPlan.objects.filter(shop=snapshot.shop).first()
    if current and (current.last_entry, current.made_at) > (snapshot.last_entry, snapshot.now):
        return False
    ShopPlan.objects.update_or_create(
        shop=snapshot.shop,
        defaults={
            "made_at": snapshot.now,
            "last_entry": snapshot.last_entry,
            "seconds": new.seconds,
            "unplanned": snapshot.unplanned,
            "long_waits": list(long_waits(snapshot, new.schedule)),
            "refusal": "",
        },
    )
    _forget_unplanned(snapshot)
    _store_forecasts(new, entry, now)
    PlannedTask.objects.filter(job__shop=snapshot.shop).delete()
    PlannedTask.objects.bulk_create(_planned_tasks(snapshot, new))
    _store_outlooks(new)
    store_option_days(snapshot.shop, new.options)
    if is_due(snapshot):
        give_out(snapshot, new.schedule, by=None, now=now)
    return True


def note_refusal(shop: Shop, error: ValueError) -> None:
    """Keep why no plan of the shop could be made, for as long as none can."""
    ShopPlan.objects.filter(shop=shop).update(refusal=str(error)[:300])


@transaction.atomic
def replan_for_time(new: NewPlan, *, now: datetime) -> bool:
    """Store a plan that no event called for: time itself has moved on."""
    return store_plan(new, None, now=now)


def replan_after(before: Snapshot, *, reason: Reason, now: datetime) -> tuple[str, ...]:
    """Plan the shop after a change that stands in no journal; what it moves is put down to this reason.

    before: the shop as read before the change. Returns why coaches cannot be planned, those that cannot.
    Raises ValueError in words when no plan can be made any more.
    """
    after = read_shop(before.shop, now)
    try:
        replan_for_time(work_out_plan(after, before=before, reason=reason), now=now)
    except ValueError as error:
        note_refusal(before.shop, error)
        raise
    return tuple(after.unplanned.values())


@transaction.atomic
def give_out_anew(new: NewPlan, *, by: Person, now: datetime) -> bool:
    """Make a plan that was worked out without today's starts the shop's, and give out today's work by it.

    Returns False, changing nothing, when a plan made from a newer journal is stored.
    """
    if not store_plan(new, None, now=now):
        return False
    give_out(new.snapshot, new.schedule, by=by, now=now)
    return True


def _store_forecasts(new: NewPlan, entry: JournalEntry | None, now: datetime) -> None:
    shop = new.snapshot.shop
    known = {forecast.job_id: forecast for forecast in JobForecast.objects.filter(job__shop=shop)}
    for job in new.snapshot.jobs:
        if job.pk not in known and not new.snapshot.work[job.pk]:
            continue  # booked this moment: its first date comes with its work
        plan = new.schedule.jobs[job_key(job.pk)]
        before_on = known[job.pk].expected_on if job.pk in known else _last_told(job)
        expected_on = shop.local_date(plan.ready_at)
        JobForecast.objects.update_or_create(job=job, defaults=_forecast_fields(plan, expected_on))
        if before_on is None:
            _note_change(job, None, expected_on, FIRST_PLAN, entry, now)
        else:
            _note_moves(new, job, before_on, now)


def _forget_unplanned(snapshot: Snapshot) -> None:
    """No date stands beside a coach that cannot be planned: an old one would be a claim."""
    JobForecast.objects.filter(job__in=snapshot.unplanned).delete()
    QuestionOutlook.objects.filter(request__finding__job__in=snapshot.unplanned).delete()


def _last_told(job: Job) -> date | None:
    """The date a coach had before it could not be planned for a while."""
    change = job.date_changes.order_by("pk").last()
    return change.to_on if change else None


def _forecast_fields(plan: JobPlan, expected_on: date) -> dict[str, object]:
    return {
        "expected_at": plan.ready_at,
        "expected_on": expected_on,
        "bay_id": bay_pk(plan.bay) if plan.bay and plan.bay_from_at else None,
        "bay_from_at": plan.bay_from_at,
        "bay_until_at": plan.bay_until_at,
        "waits_for": plan.blocked_by[:200],
    }


def _note_moves(new: NewPlan, job: Job, before_on: date, now: datetime) -> None:
    """One row for each change that moved the date, in the order they happened; they add up to the whole move."""
    stages = [stage for stage in new.stages if job.pk in stage.ready_on]
    dated = [(stage, stage.ready_on[job.pk]) for stage in stages]
    began_at = next((stage.entry.at for stage in stages if stage.entry), new.snapshot.now)
    due_at = new.snapshot.opening(job.arrives_on)
    for stage, from_on, to_on in split(before_on, dated):
        told = new.reason if stage is stages[-1] else None
        reason = told or reason_for(job, stage.entry, until=began_at, due_at=due_at)
        _note_change(job, from_on, to_on, reason, stage.entry, now)


def _note_change(
    job: Job, from_on: date | None, to_on: date, reason: Reason, entry: JournalEntry | None, now: datetime
) -> None:
    change = DateChange.objects.create(
        job=job,
        entry=entry,
        from_on=from_on,
        to_on=to_on,
        cause=reason.cause,
        words=reason.words[:200],
        changed_at=now,
    )
    record(
        job,
        kinds.DATE_MOVED,
        now=now,
        data={
            "from_on": from_on.isoformat() if from_on else None,
            "to_on": to_on.isoformat(),
            "cause": change.cause,
            "words": change.words,
        },
    )


def _planned_tasks(snapshot: Snapshot, new: NewPlan) -> Iterator[PlannedTask]:
    persons = {worker_key(pk): pk for pk in snapshot.shop.people.values_list("pk", flat=True)}
    # What waits for a yes: the question itself and the work of its recommended remedy, by the key they begin with.
    waiting = {part: each.finding.pk for each in snapshot.questions() for part in each.taken(each.options[0].remedy_id)}
    for job in snapshot.jobs:
        plan = new.schedule.jobs[job_key(job.pk)]
        for placed in plan.tasks:
            finding_id, operation_id = waiting.get(placed.key.split("-")[0]), _number(placed.key, "operation")
            if not (finding_id or operation_id or placed.key.startswith("hold")):
                continue
            yield PlannedTask(
                job=job,
                operation_id=operation_id,
                finding_id=finding_id,
                key=placed.key,
                words=placed.words[:160],
                kind=placed.kind,
                start_at=placed.start_at,
                end_at=placed.end_at,
                worker_ids=[persons[key] for key in placed.workers],
                **_room(new, placed, finding_id, is_critical=placed.key in plan.critical),
            )


def _room(new: NewPlan, placed: PlacedTask, finding_id: int | None, *, is_critical: bool) -> dict[str, Any]:
    """Whether a task sets its coach's date, and how much later it could end; an answer by what each day of it costs."""
    if finding_id is None or placed.key != answer_key(finding_id):
        return {"is_critical": is_critical, "slack": placed.slack}
    outlook = new.outlooks[finding_id]
    is_critical = outlook.free_at == outlook.answer_at
    return {"is_critical": is_critical, "slack": outlook.free_for_all_at - placed.end_at}


def _number(key: str, prefix: str) -> int | None:
    return int(key.removeprefix(prefix)) if key.startswith(prefix) else None


def _store_outlooks(new: NewPlan) -> None:
    for request in ApprovalRequest.objects.open().filter(finding_id__in=new.outlooks):
        outlook = new.outlooks[request.finding_id]
        QuestionOutlook.objects.update_or_create(
            request=request,
            defaults={
                "ready_without_on": outlook.ready_without_on,
                "ready_with_on": outlook.ready_with_on,
                "answer_at": outlook.answer_at,
                "free_at": outlook.free_at,
                "free_for_all_at": outlook.free_for_all_at,
                "days": [_day_as_json(each) for each in outlook.days],
            },
        )
    JobAnswers.objects.filter(job__shop=new.snapshot.shop).delete()
    JobAnswers.objects.bulk_create(
        JobAnswers(job_id=job_id, ways=[_way_as_json(each) for each in ways])
        for job_id, ways in new.answers.items()
        if ways
    )


def _day_as_json(each: AnsweredOn) -> dict[str, object]:
    return {
        "day": each.day.isoformat(),
        "ready_on": each.ready_on.isoformat(),
        "days": each.days,
        "others": [list(other) for other in each.others],
    }


def _way_as_json(way: Answered) -> dict[str, object]:
    picks = {str(finding): remedy for finding, remedy in way.picks.items()}
    others = [list(other) for other in way.others]
    return {"picks": picks, "ready_on": way.ready_on.isoformat(), "others": others}
