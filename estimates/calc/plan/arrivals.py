"""Coaches that may yet be booked, drawn for every sample of a forecast: whom they go before, and what they take."""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, sqrt

import numpy as np
from numpy.typing import NDArray
from scipy.special import gammaincinv

from estimates.calc.plan.arrays import FAR, Column, Work, unpack_state
from estimates.calc.plan.calendars import SECOND, seconds
from estimates.calc.plan.compiled import IS_COMPILED
from estimates.calc.plan.engine import Prepared
from estimates.calc.plan.model import LABOUR, WAIT, PlanJob, Task
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.sampling import uniforms
from estimates.calc.plan.to_come import SLOT, Booking, Bookings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

# No more bookings are looked at in one sample: beyond these lie months.
MOST_BOOKED = 60
NEVER = float(1 << 50)


@dataclass(frozen=True)
class Waiting:
    """Coaches whose work has not begun, in the order they are placed: who may be overtaken."""

    turn_at: Ints  # where their turns begin
    priority: Ints
    arrives: Floats  # clock seconds; nought for those promised, whom nobody of the same turn goes before
    start: Floats


class Arrivals:
    """Fills a forecast's places for coaches to come.

    A sample's shop books at its own rate, drawn from what the record leaves possible; each booking is one of the
    record's. It overtakes a coach that has a later turn, or the same turn and a later arrival where neither is
    promised, and that has not begun when it is booked. Whom it overtakes begins later by its share of the bays, and so
    may be overtaken by the next.
    """

    def __init__(
        self,
        prepared: Prepared,
        bookings: Bookings,
        work: Work,
        order: tuple[Column, Column],
        *,
        samples: int,
        seed: int,
    ) -> None:
        self.prepared, self.bookings, self.samples, self.seed = prepared, bookings, samples, seed
        jobs = prepared.problem.jobs
        self.slots = [number for number, job in enumerate(jobs) if job.key.startswith(SLOT)]
        own, turns = order
        self.turns = np.array([job for job in turns if job not in set(self.slots)], dtype=np.int64)
        self.waiting = _waiting(prepared, work, own, turns, self.turns)
        self.before = np.full((samples, len(self.slots)), -1, dtype=np.int64)  # the coach each place goes before
        self.arrives = np.zeros((samples, len(self.slots)), dtype=np.int64)
        self.picked = np.zeros((samples, len(self.slots)), dtype=np.int64)
        if len(self.waiting.start) and self.slots:
            self._draw()

    def _draw(self) -> None:
        record, shop = self.bookings.record, self.prepared.shop
        count = self.bookings.count
        per_s = gammaincinv(count, uniforms(self.seed, "bookings", self.samples)) / self.bookings.span.total_seconds()
        mean = count / self.bookings.span.total_seconds() * (1.5 * (self.waiting.start.max() - shop.now) + 14 * 86400)
        lead, takes = (np.array(each) for each in zip(*map(_times, record), strict=True))
        turn = np.array([each.priority for each in record])
        promised = np.array([each.is_promised for each in record])
        booked, used = np.full(self.samples, float(shop.now)), np.zeros(self.samples, dtype=np.int64)
        start = np.tile(self.waiting.start, (self.samples, 1))
        for number in range(min(MOST_BOOKED, ceil(mean + 3 * sqrt(mean)))):
            booked -= np.log(uniforms(self.seed, f"booked {number}", self.samples)) / per_s
            pick = (uniforms(self.seed, f"which {number}", self.samples) * len(record)).astype(np.int64)
            arrives = booked + lead[pick]
            by_arrival = np.where(promised[pick], NEVER, arrives)
            over = self._overtaken(turn[pick], by_arrival, booked, start)
            here = np.flatnonzero(over.any(axis=1) & (used < len(self.slots)))
            place = used[here]
            self.before[here, place] = over[here].argmax(axis=1)
            self.arrives[here, place], self.picked[here, place] = arrives[here], pick[here]
            used[here] += 1
            start[here] += over[here] * (takes[pick[here]] / max(1, shop.bays))[:, None]

    def _overtaken(self, turn: Ints, arrives: Floats, booked: Floats, start: Floats) -> Bools:
        """[sample, waiting coach]: whether this booking goes before it."""
        is_first = turn[:, None] < self.waiting.priority
        is_first |= (turn[:, None] == self.waiting.priority) & (arrives[:, None] < self.waiting.arrives)
        found: Bools = is_first & (booked[:, None] < start)
        return found

    def fill(self, length: Ints, active: Ints, not_before: Ints, labour: Floats) -> None:
        """Write the coaches to come into the columns of work: [sample, task]. labour: their factor of all samples."""
        if not self.slots:
            return
        is_there, number = self.before >= 0, self.prepared.builder.number
        jobs = [self.prepared.problem.jobs[slot] for slot in self.slots]
        takes = np.array([_lengths(jobs[0].tasks, each) for each in self.bookings.record])
        for place, job in enumerate(jobs):
            indexes = [number[job.key, task.key] for task in job.tasks]
            drawn = takes[self.picked[:, place]]
            drawn[:, [task.kind == LABOUR for task in job.tasks]] *= labour[:, None]
            length[:, indexes] = np.rint(drawn)
            active[:, indexes] = is_there[:, place, None]
            not_before[:, indexes[0]] = self.arrives[:, place]

    def turns_of(self, sample: int) -> Column:
        """The turns of one sample: each coach to come right before the first that it overtakes."""
        there = np.flatnonzero(self.before[sample] >= 0)
        tasks = len(self.prepared.problem.jobs[self.slots[0]].tasks) if self.slots else 0
        at = self.waiting.turn_at[self.before[sample, there]]
        slots = np.array(self.slots, dtype=np.int64)[there]
        turns = np.insert(self.turns, np.repeat(at, tasks), np.repeat(slots, tasks))
        column: Column = turns if IS_COMPILED else turns.tolist()  # type: ignore[assignment]
        return column


def _waiting(prepared: Prepared, work: Work, own: Column, all_turns: Column, turns: Ints) -> Waiting:
    """Coaches of which nothing has begun, by the plan without anybody to come."""
    state = empty_state(prepared.shop)
    prepared.run(work, own, all_turns, state)
    is_active = np.array(work.active) > 0
    start = np.full(prepared.shop.jobs, FAR, dtype=np.int64)
    np.minimum.at(start, np.array(prepared.shop.job)[is_active], np.array(unpack_state(state).start)[is_active])
    numbers, begins = np.unique(turns, return_index=True)
    jobs = prepared.problem.jobs
    known = sorted((int(begin), int(number)) for begin, number in zip(begins, numbers, strict=True))
    waiting = [(begin, number) for begin, number in known if start[number] < FAR and not _has_begun(jobs[number])]
    asked = [jobs[number] for _, number in waiting]
    return Waiting(
        turn_at=np.array([begin for begin, _ in waiting], dtype=np.int64),
        priority=np.array([job.priority for job in asked], dtype=np.int64),
        arrives=np.array([0 if job.promised_at else seconds(job.release_at) for job in asked], dtype=np.float64),
        start=np.array([start[number] for _, number in waiting], dtype=np.float64),
    )


def _has_begun(job: PlanJob) -> bool:
    """In its bay, begun, or given out for today."""
    return job.is_in_bay or any(task.started_at or task.frozen_at for task in job.tasks)


def _times(booking: Booking) -> tuple[float, float]:
    """Seconds from booking to arrival, and in which the work keeps a bay at least."""
    takes = sum((each for each in booking.labour.values()), booking.drying + booking.cure)
    return booking.lead / SECOND, takes / SECOND


def _lengths(tasks: Sequence[Task], booking: Booking) -> list[float]:
    """What each task of a place takes [s] if it is filled like this booking."""
    skills = [task.crew[0][0] for task in tasks if task.kind == LABOUR]
    total = sum((each.total_seconds() for each in booking.labour.values()), 0.0)
    own = sum((booking.labour[skill].total_seconds() for skill in skills if skill in booking.labour), 0.0)
    lengths = []
    for task in tasks:
        if task.kind == LABOUR:
            share = booking.labour.get(task.crew[0][0], 0 * SECOND).total_seconds()
            lengths.append(share * total / own if own else total / len(skills))
        elif task.is_drying:
            held = [booking.held.get(name, 0 * SECOND) / count for name, count in task.equipment]
            lengths.append(max([booking.drying, *held]).total_seconds())
        else:
            lengths.append(booking.cure.total_seconds() if task.kind == WAIT else 0.0)
    return lengths
