"""A job's operations and open questions as the planner's tasks."""

from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import timedelta

from estimates.calc.plan import Task
from estimates.models import GivenOut
from estimates.plan_keys import operation_key, phase_key, worker_key
from estimates.questions import Option, Pending
from jobs.calc.equipment import needs_of
from jobs.models import Finding, Operation
from jobs.models.work import Phase
from jobs.services.work import NewOperation

DurationOf = Callable[[Operation | NewOperation, Finding], timedelta]


def job_tasks(
    operations: Iterable[Operation],
    pending: Sequence[Pending],
    duration_of: DurationOf,
    given_out: Mapping[int, GivenOut],
) -> Iterator[Task]:
    """A job's tasks: phase after phase, within a phase each remedy's own order, remedies side by side.

    given_out: by operation, the starts that were given out for today and stand.

    A marker closes each phase, so that the chain of phases costs few edges. Nothing is closed in
    before the owner's open questions are answered: the answers stand before that phase.
    """
    chains: dict[int, dict[str, list[Task]]] = defaultdict(lambda: defaultdict(list))
    for operation in operations:
        chains[operation.phase][f"agreed{operation.remedy_id}"].extend(
            _operation_tasks(operation, duration_of, given_out.get(operation.pk))
        )
    answers = []
    for each in pending:
        answer = _answer_task(each)
        answers.append(answer)
        for phase_number, part, new_tasks in _offered(each, duration_of):
            chains[phase_number][part].extend(new_tasks)
    yield from answers
    answer_keys = tuple(task.key for task in answers)
    marker: tuple[str, ...] = ()
    for phase in Phase:
        if phase == Phase.CLOSE_IN:
            marker += answer_keys
        if phase not in chains:
            continue
        ends = []
        for chain in chains[phase].values():
            yield from _linked(chain, marker)
            ends.append(chain[-1].key)
        key = phase_key(phase)
        yield Task(key=key, words=phase.label, kind="event", duration=timedelta(0), after=(*ends, *marker))
        marker = (key,)


def _linked(chain: Sequence[Task], first_after: tuple[str, ...]) -> Iterator[Task]:
    before = first_after
    for task in chain:
        yield replace(task, after=tuple(dict.fromkeys(task.after + before)))
        before = (task.key,)


def _operation_tasks(operation: Operation, duration_of: DurationOf, given_out: GivenOut | None) -> Iterator[Task]:
    # Before it is begun nobody is on it.
    begun_by = operation.workers.all() if operation.started_at else ()
    worker_ids = given_out.worker_ids if given_out else [person.pk for person in begun_by]
    yield Task(
        key=operation_key(operation.pk),
        words=operation.words,
        kind=operation.kind,
        duration=duration_of(operation, operation.remedy.finding),
        crew=((operation.skill.name, operation.crew),) if operation.skill else (),
        in_one_shift=operation.is_in_one_shift,
        needs_bay=operation.needs_bay,
        started_at=operation.started_at,
        finished_at=operation.finished_at,
        fixed_workers=tuple(worker_key(pk) for pk in worker_ids),
        frozen_at=given_out.start_at if given_out else None,
        equipment=needs_of(operation),
        is_drying=operation.is_drying,
    )
    hold_point = getattr(operation, "hold_point", None)
    if hold_point and not hold_point.passed_at and not hold_point.failed_at:
        # A signature takes no labour but needs somebody at the shop.
        yield Task(
            key=f"hold{hold_point.pk}", words=hold_point.words, kind="event", duration=timedelta(0), in_shop_hours=True
        )


def _answer_task(pending: Pending) -> Task:
    return Task(
        key=pending.part,
        words=f"Owner's answer to finding {pending.finding.number}",
        kind="event",
        duration=timedelta(0),
        not_before=pending.answer_at,
        part=pending.part,
    )


def _offered(pending: Pending, duration_of: DurationOf) -> Iterator[tuple[int, str, Iterator[Task]]]:
    """Phase, part and tasks of each operation that an open question offers."""
    for option in pending.options:
        for number, new in enumerate(option.operations, start=1):
            yield new.phase, option.part, _new_tasks(pending, option, number, new, duration_of)


def _new_tasks(
    pending: Pending, option: Option, number: int, new: NewOperation, duration_of: DurationOf
) -> Iterator[Task]:
    key = f"{option.part}-{number}"
    yield Task(
        key=key,
        words=new.words,
        kind=new.kind,
        duration=duration_of(new, pending.finding),
        crew=((new.skill.name, new.crew),) if new.skill else (),
        after=(pending.part,),
        in_one_shift=new.is_in_one_shift,
        needs_bay=new.needs_bay,
        part=option.part,
        equipment=needs_of(new),
        is_drying=new.is_drying,
    )
    if new.hold_point:
        yield Task(
            key=f"{key}-hold",
            words=new.hold_point,
            kind="event",
            duration=timedelta(0),
            in_shop_hours=True,
            part=option.part,
        )
