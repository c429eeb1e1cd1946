"""A job's operations and open questions as the planner's tasks."""

from collections import defaultdict
from collections.abc import Callable, Generator, Iterable, Iterator, Mapping, Sequence
from datetime import timedelta
from functools import partial

from estimates.agreed_work import AgreedWork
from estimates.calc.plan import Task
from estimates.drying import Lasting
from estimates.models import GivenOut
from estimates.plan_keys import phase_key, worker_key
from estimates.questions import Option, Pending
from jobs.calc.equipment import needs_of
from jobs.models.work import Phase
from jobs.services.work import NewOperation

# The time of an operation for a finding (primary key).
DurationOf = Callable[[AgreedWork | NewOperation, int], Lasting]
# Keys of the tasks that must be over before.
After = tuple[str, ...]
# The tasks of one operation, once it is known what they come after; each of them comes after the one before.
Step = Callable[[After], Iterator[Task]]


def job_tasks(
    work: Iterable[AgreedWork],
    pending: Sequence[Pending],
    duration_of: DurationOf,
    given_out: Mapping[int, GivenOut],
) -> Iterator[Task]:
    """A job's tasks: phase after phase, within a phase each remedy's own order, remedies side by side.

    given_out: by operation, the starts that were given out for today and stand.

    A marker closes each phase, so that the chain of phases costs few edges. Nothing is closed in
    before the owner's open questions are answered: the answers stand before that phase.
    """
    chains: dict[int, dict[str, list[Step]]] = defaultdict(lambda: defaultdict(list))
    step: Step
    for each in work:
        step = partial(_operation_tasks, each, duration_of(each, each.finding_id), given_out.get(each.pk))
        chains[each.phase][f"agreed{each.remedy_id}"].append(step)
    for question in pending:
        for phase_number, part, step in _offered(question, duration_of):
            chains[phase_number][part].append(step)
    yield from map(_answer_task, pending)
    marker: After = ()
    for phase in Phase:
        if phase == Phase.CLOSE_IN:
            marker += tuple(question.part for question in pending)
        if phase not in chains:
            continue
        ends: list[str] = []
        for chain in chains[phase].values():
            ends += yield from _in_turn(chain, marker)
        key = phase_key(phase)
        yield Task(key=key, words=phase.label, kind="event", duration=timedelta(0), after=(*ends, *marker))
        marker = (key,)


def _in_turn(chain: Sequence[Step], after: After) -> Generator[Task, None, After]:
    """The tasks of a chain, the first after these; returns the last, as what comes before what follows."""
    for step in chain:
        for task in step(after):
            yield task
            after = (task.key,)
    return after


def _operation_tasks(work: AgreedWork, lasting: Lasting, given_out: GivenOut | None, after: After) -> Iterator[Task]:
    yield Task(
        key=work.key,
        words=work.words,
        kind=work.kind,
        duration=lasting.duration,
        until=lasting.until,
        crew=((work.skill, work.crew),) if work.skill else (),
        after=after,
        in_one_shift=work.is_in_one_shift,
        needs_bay=work.needs_bay,
        started_at=work.started_at,
        finished_at=work.finished_at,
        fixed_workers=tuple(map(worker_key, given_out.worker_ids if given_out else work.worker_ids)),
        frozen_at=given_out.start_at if given_out else None,
        equipment=needs_of(work),
        is_drying=work.is_drying,
    )
    if key := work.open_check_key:
        # A signature takes no labour but needs somebody at the shop.
        yield Task(
            key=key,
            words=work.check_words or "",
            kind="event",
            duration=timedelta(0),
            after=(work.key,),
            in_shop_hours=True,
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


def _offered(pending: Pending, duration_of: DurationOf) -> Iterator[tuple[int, str, Step]]:
    """Phase, part and step of each operation that an open question offers."""
    for option in pending.options:
        for number, new in enumerate(option.operations, start=1):
            lasting = duration_of(new, pending.finding.pk)
            yield new.phase, option.part, partial(_new_tasks, pending, option, number, new, lasting)


def _new_tasks(
    pending: Pending, option: Option, number: int, new: NewOperation, lasting: Lasting, after: After
) -> Iterator[Task]:
    key = f"{option.part}-{number}"
    yield Task(
        key=key,
        words=new.words,
        kind=new.kind,
        duration=lasting.duration,
        until=lasting.until,
        crew=((new.skill.name, new.crew),) if new.skill else (),
        after=tuple(dict.fromkeys((pending.part, *after))),
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
            after=(key,),
            in_shop_hours=True,
            part=option.part,
        )
