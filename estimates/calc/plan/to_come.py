"""Coaches that are not booked yet: those that the shop's record leads one to expect, as far as they go before others.

A later booking delays a coach where the order of work puts it first (a lower turn, or the same turn and an earlier
arrival where neither is promised a date) and where it comes before that coach's work has begun; what has begun keeps
its place. All others are placed after, in what room is left, and delay nobody. So only those that overtake are drawn,
each as one block of work.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import datetime, timedelta
from math import ceil

from estimates.calc.plan.model import EVENT, LABOUR, WAIT, PlanJob, Problem, Task

# Fewer bookings than these, or a shorter record, say too little of how often coaches are booked (no source).
FEWEST_BOOKINGS, SHORTEST_RECORD = 8, timedelta(days=42)
# So many coaches that go first are drawn for one course of the shop at most; in a shop of more than 13 coaches so many
# fewer that the forecast of a large one stays within its second.
MOST_FIRST, MOST_PLACED = 12, 160
# The work of a coach to come is given to so many skills, those that have most of it.
MOST_SKILLS = 3
SLOT = "to come "


@dataclass(frozen=True)
class Booking:
    """One coach as it was booked.

    lead: from the booking to the arrival. is_promised: whether its owner was given a date.
    labour: person-time by skill. held: time that equipment is held, times its number, by kind. drying, cure: the
    longest wait of either kind.
    """

    booked_at: datetime
    lead: timedelta
    priority: int
    is_promised: bool
    labour: Mapping[str, timedelta]
    held: Mapping[str, timedelta] = field(default_factory=dict)
    drying: timedelta = timedelta(0)
    cure: timedelta = timedelta(0)


@dataclass(frozen=True)
class Bookings:
    """The shop's record of bookings, oldest first, from its first one until now.

    What was booked on the first day is left out of how often: a shop that begins writes down all that it has.
    """

    record: tuple[Booking, ...]
    now: datetime

    @property
    def is_enough(self) -> bool:
        return self.count >= FEWEST_BOOKINGS and self.span >= SHORTEST_RECORD

    @property
    def count(self) -> int:
        """Coaches booked in the span, after its first day."""
        return sum(each.booked_at - self.record[0].booked_at > timedelta(days=1) for each in self.record)

    @property
    def span(self) -> timedelta:
        return self.now - self.record[0].booked_at if self.record else timedelta(0)

    def skills(self) -> tuple[str, ...]:
        """Those with most of the labour, most first."""
        total: dict[str, timedelta] = {}
        for each in self.record:
            for skill, work in each.labour.items():
                total[skill] = total.get(skill, timedelta(0)) + work
        return tuple(sorted(total, key=lambda skill: (-total[skill], skill))[:MOST_SKILLS])


def booking_of(job: PlanJob, booked_at: datetime) -> Booking:
    """What one coach's booking says of those to come."""
    labour: dict[str, timedelta] = {}
    held: dict[str, timedelta] = {}
    for task in job.tasks:
        for skill, people in task.crew if task.kind == LABOUR else ():
            labour[skill] = labour.get(skill, timedelta(0)) + people * task.chance * task.duration
        for name, count in task.equipment:
            held[name] = held.get(name, timedelta(0)) + count * task.duration
    waits = [task for task in job.tasks if task.kind == WAIT]
    return Booking(
        booked_at=booked_at,
        lead=job.release_at - booked_at,
        priority=job.priority,
        is_promised=job.promised_at is not None,
        labour=labour,
        held=held,
        drying=max((task.duration for task in waits if task.is_drying), default=timedelta(0)),
        cure=max((task.duration for task in waits if not task.is_drying), default=timedelta(0)),
    )


def with_room_for(problem: Problem, bookings: Bookings) -> Problem:
    """The problem with places for coaches to come. No plan counts on them; a forecast fills them in its samples."""
    if not bookings.is_enough or problem.turns:
        return problem
    able = {skill for worker in problem.workers for skill in worker.skills}
    skills = [skill for skill in bookings.skills() if skill in able]
    things = tuple((name, _count(bookings, name, have)) for name, have in problem.equipment if have)
    count = max(2, min(MOST_FIRST, MOST_PLACED // max(1, len(problem.jobs))))
    tasks = tuple(_tasks(skills, tuple(each for each in things if each[1]), needs_bay=bool(problem.bays)))
    return replace(problem, jobs=(*problem.jobs, *(_slot(problem, number, tasks) for number in range(count))))


def _count(bookings: Bookings, name: str, have: int) -> int:
    """How many a coach to come holds while it dries, on average; nought where none of the record held any."""
    held = [_held_count(each, name, have) for each in bookings.record]
    return min(have, ceil(sum(held) / len(held) - 0.25)) if any(held) else 0


def _held_count(booking: Booking, name: str, have: int) -> float:
    held = booking.held.get(name, timedelta(0))
    drying = max(booking.drying, held / have)
    return held / drying if drying else 0.0


def _tasks(skills: Sequence[str], things: tuple[tuple[str, int], ...], *, needs_bay: bool) -> Iterator[Task]:
    """One after another: arrival, opening up, drying, the other labour, a cure."""
    words, nothing = "Work on a coach not booked yet", timedelta(0)
    yield Task("arrives", "Arrival of a coach not booked yet", EVENT, nothing, in_shop_hours=True, chance=0.0)
    before = "arrives"
    for key in (*skills[:1], "drying", *skills[1:], "cure"):
        is_labour = key in skills
        name = f"{LABOUR if is_labour else WAIT} {key}"
        yield Task(
            name,
            words,
            LABOUR if is_labour else WAIT,
            nothing,
            crew=((key, 1),) if is_labour else (),
            after=(before,),
            needs_bay=needs_bay,
            equipment=things if key == "drying" else (),
            is_drying=key == "drying",
            chance=0.0,
        )
        before = name


def _slot(problem: Problem, number: int, tasks: tuple[Task, ...]) -> PlanJob:
    return PlanJob(f"{SLOT}{number}", 99, problem.now, bay_choices=problem.bays, tasks=tasks)
