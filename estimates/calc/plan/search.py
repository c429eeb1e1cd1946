"""Looking for a better order than the rule's, for a given time or number of schedules."""

import time
from dataclasses import dataclass
from datetime import timedelta

from estimates.calc.plan.arrays import FAR, Column, unpack_state
from estimates.calc.plan.building import Builder, column, empty_state
from estimates.calc.plan.calendars import seconds
from estimates.calc.plan.climbing import measure, step, weigh
from estimates.calc.plan.engine import Prepared
from estimates.calc.plan.model import Schedule
from estimates.calc.plan.orders import turns_of
from estimates.calc.plan.reading import read_schedule
from estimates.calc.plan.serial import decode

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


def search(prepared: Prepared, *, limit_s: float | None = None, schedules: int | None = None, seed: int = 1) -> Found:
    """Climb from the plan of prepared.plan() for limit_s seconds or a number of schedules, whichever ends first.

    Starts that were given out (frozen_at) and running work stay as they are. With a number of schedules alone the
    answer depends on nothing but the problem and the seed.
    Raises ValueError without any limit, and HorizonTooShort for more shifts.
    """
    if limit_s is None and schedules is None:
        raise ValueError("search needs limit_s, schedules or both")
    shop, work, state = prepared.shop, prepared.work, empty_state(prepared.shop)
    own, turns = (each.copy() for each in prepared.order(work))
    last = _last_starts(prepared.builder)
    prepared.run(work, own, turns, state)
    one_pass, value = _worth(prepared, last, state), int(weigh(prepared.arena, last, state))
    by_promise = _by_promise(prepared)
    prepared.run(work, own, by_promise, state)
    if int(weigh(prepared.arena, last, state)) < value:
        turns, value = by_promise, int(weigh(prepared.arena, last, state))
    numbers = column([1 + seed % 2147483646])
    given = sum(int(shop.first[task]) for task in shop.topo)
    until = time.perf_counter() + limit_s if limit_s is not None else float("inf")
    made = 2
    while made < (schedules or FAR) and time.perf_counter() < until and len(turns) > given + 1:
        made += 1
        tried_own, tried_turns = own.copy(), turns.copy()
        if not step(prepared.arena, tried_own, tried_turns, state, numbers, given):
            continue
        if decode(prepared.arena, work, tried_own, tried_turns, state) >= 0:
            continue
        tried = int(weigh(prepared.arena, last, state))
        if tried <= value:
            own, turns, value = tried_own, tried_turns, tried
    prepared.run(work, own, turns, state)
    schedule = read_schedule(
        prepared.builder, prepared.coaches, shop, prepared.arena, work, own, turns, unpack_state(state)
    )
    return Found(schedule, _worth(prepared, last, state), one_pass, made)


def _by_promise(prepared: Prepared) -> Column:
    """Turns of the coaches in the order of their promises, often a better place to climb from."""
    promise, rank = prepared.shop.promise, {job: number for number, job in enumerate(prepared.coaches)}
    return turns_of(prepared.shop, sorted(prepared.coaches, key=lambda job: (promise[job], rank[job])))


def _last_starts(builder: Builder) -> Column:
    given = builder.problem.last_starts.items()
    known = {builder.number[key]: seconds(at) for key, at in given if key in builder.number}
    starts: Column = column(known.get(task, -FAR) for task in range(len(builder.tasks)))
    return starts


def _worth(prepared: Prepared, last: Column, state: Column) -> Worth:
    late, finish, changes = measure(prepared.arena, last, state)
    return Worth(timedelta(seconds=int(late) / THOUSANDTHS), timedelta(seconds=int(finish) / THOUSANDTHS), int(changes))
