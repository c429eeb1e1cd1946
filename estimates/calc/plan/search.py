"""Looking for a better order than the rule's, for a given time or number of schedules."""

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import timedelta

from estimates.calc.plan.annealing import BEST, MARKS, Walk, anneal, begin_walk
from estimates.calc.plan.arrays import FAR, Column, unpack_state
from estimates.calc.plan.building import Builder, column
from estimates.calc.plan.calendars import seconds
from estimates.calc.plan.engine import Prepared
from estimates.calc.plan.model import Schedule, TaskKey
from estimates.calc.plan.orders import kept_order, order_by_start, turns_of
from estimates.calc.plan.reading import read_schedule
from estimates.calc.plan.room import empty_state, empty_states
from estimates.calc.plan.serial import decode
from estimates.calc.plan.starts import starts
from estimates.calc.plan.worth import measure, weigh

THOUSANDTHS = 1000
# A round goes from hot to cold. What a coach costs on average, times heat, is a worsening that is taken at the hottest
# with a chance of exp(-1); times doubt, by how much an order half planned must be too bad to be given up. The first
# round, from a rule's good order, is mild; those after it are to leave what it has settled in.
FIRST_HEAT, FIRST_DOUBT = 0.25, 0.08
NEXT_HEAT, NEXT_DOUBT = 1.0, 2.0
ROUND = 400  # orders a coach
LEAST = 1e-9  # never divided by nought
AT_ONCE = 16  # orders tried between two looks at the clock


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


class OrderHunt:
    """A search that can be gone on with. It begins with the plan of prepared.plan() and never falls behind it.

    Starts that were given out (frozen_at) and running work stay as they are. Raises HorizonTooShort for more shifts.
    """

    def __init__(self, prepared: Prepared, seed: int = 1) -> None:
        self.prepared = prepared
        self.state = empty_state(prepared.shop)
        self.given = sum(int(prepared.shop.first[task]) for task in prepared.shop.topo)
        own, turns = prepared.order(prepared.work)
        prepared.run(prepared.work, own, turns, self.state)
        self.starts = starts(prepared.builder, prepared.shop, prepared.work, prepared.coaches, self._last_ready())
        self.walk = self._new_walk(own.copy(), turns.copy(), seed)
        self.one_pass = self._worth()
        self._begin(own, turns)
        self.schedules = 1

    def go_on(self, *, limit_s: float | None = None, schedules: int | None = None) -> "OrderHunt":
        """Try orders for limit_s seconds or up to a number of schedules in all, whichever ends first.

        It goes in rounds from hot to cold, each from the best order known; the last is cold when the limit is reached.
        With a number of schedules alone the answer depends on nothing but the problem, the seed and the numbers asked
        for before.
        Raises ValueError without any limit.
        """
        if limit_s is None and schedules is None:
            raise ValueError("search needs limit_s, schedules or both")
        since, begun = time.perf_counter(), self.schedules
        most = schedules or FAR

        def progress() -> float:
            of_time = (time.perf_counter() - since) / limit_s if limit_s else float(limit_s is not None)
            return 1.0 if self.schedules >= most else max(of_time, (self.schedules - begun) / (most - begun))

        while progress() < 1 and (jobs := next(self.starts, None)) is not None:
            self._try(self.walk.own_best, turns_of(self.prepared.shop, jobs))
        rounds = 0
        while progress() < 1 and len(self.walk.turns) > self.given + 1:
            heat, doubt = (NEXT_HEAT, NEXT_DOUBT) if rounds else (FIRST_HEAT, FIRST_DOUBT)
            self._cool_down(most, progress, heat, doubt, is_by_start=rounds % 2 == 1)
            rounds += 1
        return self

    def _cool_down(
        self, most: int, progress: Callable[[], float], heat: float, doubt: float, *, is_by_start: bool
    ) -> None:
        """Anneal once from the best order known, hot to cold, or until the limit is reached.

        is_by_start: begin with its tasks in the order in which they start, so that coaches take turns.
        """
        prepared, jobs = self.prepared, self.prepared.shop.jobs
        self._begin(self.walk.own_best, self.walk.turns_best)
        if is_by_start:
            self._begin(*order_by_start(prepared.shop, self.walk.own, unpack_state(self.state).start))
        share, since, begun = self.value / jobs, progress(), self.schedules
        left = max(1 - since, LEAST)
        while (done := max((progress() - since) / left, (self.schedules - begun) / (ROUND * jobs))) < 1:
            count = min(AT_ONCE, most - self.schedules)
            worse, bad = int(heat * share * (1 - done) ** 3), int(doubt * share)
            anneal(prepared.arena, prepared.work, self.state, self.walk, self.given, is_by_start, worse, bad, count)
            self.schedules += count

    def try_turns(self, kept: Sequence[TaskKey]) -> "OrderHunt":
        """Try the order of a plan found before."""
        self._try(*kept_order(self.prepared.builder, self.prepared.shop, kept, self.prepared.coaches))
        return self

    @property
    def value(self) -> int:
        """What the best order known is worth, in the units of worth.weigh: the less the better."""
        return int(self.walk.value[BEST])

    def found(self) -> Found:
        prepared, own, turns = self.prepared, self.walk.own_best, self.walk.turns_best
        prepared.run(prepared.work, own, turns, self.state)
        schedule = read_schedule(
            prepared.builder, prepared.coaches, prepared.shop, prepared.arena, prepared.work, own, turns,
            unpack_state(self.state),
        )  # fmt: skip
        return Found(schedule, self._worth(), self.one_pass, self.schedules)

    def _try(self, own: Column, turns: Column) -> None:
        """Go on from another order if that is better than the best known."""
        self.schedules += 1
        if decode(self.prepared.arena, self.prepared.work, own, turns, self.state) >= 0:
            return
        if weigh(self.prepared.arena, self.walk.last, self.state) < self.value:
            self._begin(own, turns)

    def _begin(self, own: Column, turns: Column) -> None:
        self.walk.own_tried[:], self.walk.turns_tried[:] = own, turns
        begin_walk(self.prepared.arena, self.prepared.work, self.state, self.walk)

    def _new_walk(self, own: Column, turns: Column, seed: int) -> Walk:
        prepared, marks = self.prepared, empty_states(self.prepared.shop, 2 * MARKS)
        return Walk(
            own, turns, own.copy(), turns.copy(), own.copy(), turns.copy(),
            value=column([0, FAR]),
            numbers=column([1 + seed % 2147483646]),
            last=_last_starts(prepared.builder),
            cost=column([0] * prepared.shop.jobs),
            cost_tried=column([0] * prepared.shop.jobs),
            side=column([0] * MARKS),
            mark_at=column([0] * 2 * MARKS),
            marks=marks,
        )  # fmt: skip

    def _worth(self) -> Worth:
        late, finish, changes = (int(each) for each in measure(self.prepared.arena, self.walk.last, self.state))
        return Worth(timedelta(seconds=late / THOUSANDTHS), timedelta(seconds=finish / THOUSANDTHS), changes)

    def _last_ready(self) -> int:
        return max((int(at) for at in unpack_state(self.state).ready), default=self.prepared.shop.now)


def search(prepared: Prepared, *, limit_s: float | None = None, schedules: int | None = None, seed: int = 1) -> Found:
    """A hunt in one go, for a better order; see OrderHunt.go_on."""
    return OrderHunt(prepared, seed).go_on(limit_s=limit_s, schedules=schedules).found()


def _last_starts(builder: Builder) -> Column:
    given = builder.problem.last_starts.items()
    known = {builder.number[key]: seconds(at) for key, at in given if key in builder.number}
    column_of: Column = column(known.get(task, -FAR) for task in range(len(builder.tasks)))
    return column_of
