"""A problem made ready once, then planned as often as asked: the way in and out of the engine."""

from datetime import datetime

from estimates.calc.plan.arrays import Arena, Column, Shop, Work, pack, unpack_state
from estimates.calc.plan.building import Builder
from estimates.calc.plan.calendars import SECOND, moment, seconds
from estimates.calc.plan.checks import check_circles, check_problem, check_shifts
from estimates.calc.plan.model import Change, HorizonTooShort, Problem, Schedule
from estimates.calc.plan.orders import coaches, kept_order, order_by_way_to_go, turns_of
from estimates.calc.plan.reading import read_schedule
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.serial import decode

NO_CHANGE = Change()


class Prepared:
    """A problem whose columns are built. Nothing in it changes: one may be asked from several threads."""

    def __init__(self, problem: Problem) -> None:
        check_problem(problem)
        self.problem = problem
        self.builder = Builder(problem)
        check_circles(self.builder)
        self.shop: Shop = self.builder.shop()
        check_shifts(self.builder)
        self.arena = pack(self.shop)
        self.work: Work = self.builder.work()
        self.dated = [index for index, (_, task) in enumerate(self.builder.tasks) if task.until]
        self.kept: tuple[Column, Column] | None = None
        self.coaches = coaches(self.builder, problem.order)
        if problem.turns:
            self.kept = kept_order(self.builder, self.shop, problem.turns, self.coaches)

    def plan(self, change: Change = NO_CHANGE) -> Schedule:
        """The whole plan under a change. Raises HorizonTooShort for more shifts."""
        work = self.changed(change)
        own, turns = self.order(work, change)
        state = empty_state(self.shop)
        self.run(work, own, turns, state)
        return read_schedule(self.builder, self.coaches, self.shop, self.arena, work, own, turns, unpack_state(state))

    def ready(self, change: Change = NO_CHANGE) -> dict[str, datetime]:
        """When each coach is ready under a change: the dates of plan(), without the rest."""
        return self.ready_in(empty_state(self.shop), change)

    def ready_in(self, state: Arena, change: Change) -> dict[str, datetime]:
        """As ready(), in room that is used again."""
        work = self.changed(change)
        self.run(work, *self.order(work, change), state)
        return {job.key: moment(int(at)) for job, at in zip(self.problem.jobs, unpack_state(state).ready, strict=True)}

    def run(self, work: Work, own: Column, turns: Column, state: Arena) -> None:
        """Fill the state with the plan of an order. Raises HorizonTooShort naming what the shifts end before."""
        self.refuse(decode(self.arena, work, own, turns, state))

    def refuse(self, failed: int) -> None:
        """Raise HorizonTooShort for a task that the engine could not place; nothing for -1."""
        if failed >= 0:
            job, task = self.builder.tasks[failed]
            until = max(end for _, end in self.problem.shifts)
            raise HorizonTooShort(
                f"“{task.words}” of {job.called} cannot end by {until:%Y-%m-%d}, the last day with opening hours; "
                "give the shop, or the people who can do it, more of them."
            )

    def order(self, work: Work, change: Change = NO_CHANGE) -> tuple[Column, Column]:
        """(own order of each job, turns): as kept, as the change wants its coaches, or by the rule."""
        if self.kept and not change.order:
            return self.kept
        own = self.shop.topo.copy()
        order_by_way_to_go(self.arena, work, self._way(work), own)
        jobs = coaches(self.builder, change.order) if change.order else self.coaches
        return own, turns_of(self.shop, jobs)

    def _way(self, work: Work) -> Column:
        """The length of each task, as far as is known before it is placed."""
        way = work.length.copy()
        for index in self.dated:
            way[index] = max(way[index], work.until[index] - self.shop.now)
        return way

    def changed(self, change: Change) -> Work:
        """The columns of work under a change. Raises KeyError for a task that is not in the problem."""
        if change is NO_CHANGE:
            return self.work
        work = Work(*(each.copy() for each in self.work))
        for index, (_, task) in enumerate(self.builder.tasks):
            if task.part and task.part in change.left_out:
                work.active[index] = 0
        for key, duration in change.durations.items():
            work.length[self.builder.number[key]] = duration // SECOND
        for key, at in change.not_before.items():
            work.not_before[self.builder.number[key]] = seconds(at)
        return work


def prepare(problem: Problem) -> Prepared:
    """Check a problem and build its columns. Raises ValueError in words if it cannot be planned at all."""
    return Prepared(problem)


def plan(problem: Problem) -> Schedule:
    """Plan every job of the shop at once.

    Raises ValueError in words for what can never be planned, and HorizonTooShort for more shifts.
    """
    return prepare(problem).plan()
