"""Looking for a better order than the rule's, for a given time or number of schedules."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import timedelta

from estimates.calc.plan.arrays import FAR, Column, unpack_state
from estimates.calc.plan.building import Builder, column
from estimates.calc.plan.calendars import seconds
from estimates.calc.plan.climbing import measure, step, weigh
from estimates.calc.plan.engine import Prepared
from estimates.calc.plan.model import Schedule, TaskKey
from estimates.calc.plan.orders import kept_order, turns_of
from estimates.calc.plan.reading import read_schedule
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.serial import decode
from estimates.calc.plan.starts import starts

THOUSANDTHS = 1000


@dataclass(frozen=True)
class Worth:
    """What a plan is worth, in the order in which it counts.

    late: lateness of all coaches against their promises, each times its weight. finish: time until they are ready, in
    the same way. changes: starts moved by an hour or more against the plan in force.
    """

    late: timedelta
    finish: timedelta
    changes: int


@dataclass(frozen=True)
class Found:
    """The best plan found, what it is worth, and what one pass (the plan searched from) was worth."""

    schedule: Schedule
    worth: Worth
    one_pass: Worth
    schedules: int

    @property
    def gain(self) -> float:
        """The share of one pass's weighted lateness that is gone; where nothing was late, of the time to finish."""
        before, after = self.one_pass, self.worth
        if before.late:
            return 1 - after.late / before.late
        return 1 - after.finish / before.finish if before.finish else 0.0


class Climb:
    """A search that can be gone on with. It begins with the plan of prepared.plan() and never falls behind it.

    Starts that were given out (frozen_at) and running work stay as they are. Raises HorizonTooShort for more shifts.
    """

    def __init__(self, prepared: Prepared, seed: int = 1) -> None:
        self.prepared = prepared
        self.state = empty_state(prepared.shop)
        self.last = _last_starts(prepared.builder)
        self.own, self.turns = (each.copy() for each in prepared.order(prepared.work))
        prepared.run(prepared.work, self.own, self.turns, self.state)
        self.one_pass, self.value = self._worth(), self._value()
        self.schedules = 1
        self.numbers = column([1 + seed % 2147483646])
        self.given = sum(int(prepared.shop.first[task]) for task in prepared.shop.topo)
        self.starts = starts(prepared.builder, prepared.shop, prepared.work, prepared.coaches, self._last_ready())

    def go_on(self, *, limit_s: float | None = None, schedules: int | None = None) -> "Climb":
        """Try orders for limit_s seconds or up to a number of schedules in all, whichever ends first.

        With a number of schedules alone the answer depends on nothing but the problem and the seed.
        Raises ValueError without any limit.
        """
        if limit_s is None and schedules is None:
            raise ValueError("search needs limit_s, schedules or both")
        until = time.perf_counter() + limit_s if limit_s is not None else float("inf")
        most = schedules or FAR
        while self.schedules < most and time.perf_counter() < until and len(self.turns) > self.given + 1:
            self.schedules += 1
            jobs = next(self.starts, None)
            if jobs is not None:
                self._try(self.own, turns_of(self.prepared.shop, jobs))
                continue
            own, turns = self.own.copy(), self.turns.copy()
            if step(self.prepared.arena, own, turns, self.state, self.numbers, self.given):
                self._try(own, turns)
        return self

    def try_turns(self, kept: Sequence[TaskKey]) -> "Climb":
        """Try the order of a plan found before."""
        self.schedules += 1
        self._try(*kept_order(self.prepared.builder, self.prepared.shop, kept, self.prepared.coaches))
        return self

    def found(self) -> Found:
        prepared = self.prepared
        prepared.run(prepared.work, self.own, self.turns, self.state)
        schedule = read_schedule(
            prepared.builder, prepared.coaches, prepared.shop, prepared.arena, prepared.work, self.own, self.turns,
            unpack_state(self.state),
        )  # fmt: skip
        return Found(schedule, self._worth(), self.one_pass, self.schedules)

    def _try(self, own: Column, turns: Column) -> None:
        if decode(self.prepared.arena, self.prepared.work, own, turns, self.state) >= 0:
            return
        value = self._value()
        if value <= self.value:
            self.own, self.turns, self.value = own, turns, value

    def _value(self) -> int:
        return int(weigh(self.prepared.arena, self.last, self.state))

    def _worth(self) -> Worth:
        late, finish, changes = (int(each) for each in measure(self.prepared.arena, self.last, self.state))
        return Worth(timedelta(seconds=late / THOUSANDTHS), timedelta(seconds=finish / THOUSANDTHS), changes)

    def _last_ready(self) -> int:
        return max((int(at) for at in unpack_state(self.state).ready), default=self.prepared.shop.now)


def search(prepared: Prepared, *, limit_s: float | None = None, schedules: int | None = None, seed: int = 1) -> Found:
    """A climb in one go; see Climb.go_on."""
    return Climb(prepared, seed).go_on(limit_s=limit_s, schedules=schedules).found()


def _last_starts(builder: Builder) -> Column:
    given = builder.problem.last_starts.items()
    known = {builder.number[key]: seconds(at) for key, at in given if key in builder.number}
    column_of: Column = column(known.get(task, -FAR) for task in range(len(builder.tasks)))
    return column_of
