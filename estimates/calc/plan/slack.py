"""How much later each task could end: while nothing of another coach moves, and while its own coach's date does not."""

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from typing import NamedTuple

from estimates.calc.plan import arrays
from estimates.calc.plan.arrays import Arena, Shop, State, Work
from estimates.calc.plan.clock import end_clock, start_clock, to_u

NOBODY = -1  # in place of a task that follows: an absence, or a stay in the bay
Following = tuple[int, int]  # when it begins [clock s], task


class LatestEnds(NamedTuple):
    """For each task the latest end [clock s].

    held: with every other coach where it is. own: with the coach's own time of readiness alone, whoever else would have
    to wait.
    """

    held: list[int]
    own: list[int]


def latest_ends(shop: Shop, arena: Arena, work: Work, state: State) -> LatestEnds:
    """Keeping the choice of people and bays.

    A backward pass over each coach's placed tasks, from its readiness along precedence, and along what follows on the
    same person, bay or equipment: up to the latest start of the coach's own work, and the start of another's.
    """
    return _Backwards(shop, arena, work, state).latest


class _Backwards:
    """The pass. Latest starts are kept beside latest ends, for what comes before."""

    def __init__(self, shop: Shop, arena: Arena, work: Work, state: State) -> None:
        self.shop, self.arena, self.work, self.state = shop, arena, work, state
        ready = [state.ready[job] for job in shop.job]
        self.latest = LatestEnds(list(ready), list(ready))
        self.begins = LatestEnds(list(state.start), list(state.start))
        self.people = self._by_person()
        self.users = self._by_thing()
        self.axes: dict[tuple[int, ...], int] = {}
        for job in range(shop.jobs):
            # Backwards as they stand, and what takes no time in the order it comes in.
            to_place = shop.topo[shop.topo_off[job] : shop.topo_off[job + 1]][::-1]
            to_place.sort(key=lambda each: -state.start[each])
            for task in to_place:
                self._look_at(task)
        for task in shop.running:
            self._look_at(task)

    def _by_person(self) -> list[list[Following]]:
        """What each person does and when they are away, by its begin."""
        shop, state = self.shop, self.state
        rows: list[list[Following]] = [
            [
                (int(end_clock(self.arena, shop.away_from[index])), NOBODY)
                for index in range(shop.away_off[person], shop.away_off[person + 1])
                if shop.away_from[index] < shop.away_until[index]
            ]
            for person in range(shop.people)
        ]
        for task in range(shop.tasks):
            if self._is_labour(task) and state.start[task] < state.end[task]:
                is_running = shop.kind[task] == arrays.RUNS_LABOUR
                begin = shop.now if is_running else state.start[task]
                for person in self._crew(task):
                    rows[person].append((begin, task))
        return [sorted(row) for row in rows]

    def _by_thing(self) -> list[list[Following]]:
        rows: list[list[Following]] = [[] for _ in range(self.shop.things)]
        for task in range(self.shop.tasks):
            for row in range(self.shop.use_off[task], self.shop.use_off[task + 1]):
                rows[self.shop.use[row]].append((self.state.start[task], task))
        return [sorted(row) for row in rows]

    def _is_labour(self, task: int) -> bool:
        is_labour = self.shop.kind[task] in (arrays.LABOUR, arrays.RUNS_LABOUR)
        return is_labour and bool(self.work.active[task])

    def _crew(self, task: int) -> list[int]:
        return self.state.who[self.shop.who_off[task] : self.shop.who_off[task + 1]]

    def _look_at(self, task: int) -> None:
        shop, end = self.shop, self.state.end[task]
        held, own = self.latest.held[task], self.latest.own[task]
        for begin, following in self._following(task):
            if following != NOBODY and shop.job[following] == shop.job[task]:
                held = min(held, self.begins.held[following])
                own = min(own, self.begins.own[following])
            else:
                held = min(held, begin)
        for ends, begins, latest in (
            (self.latest.held, self.begins.held, held),
            (self.latest.own, self.begins.own, own),
        ):
            ends[task], begins[task] = self._fitted(task, max(latest, end))
            for row in range(shop.before_off[task], shop.before_off[task + 1]):
                before = shop.before[row]
                ends[before] = min(ends[before], begins[task] - shop.lag[row])
        if shop.kind[task] == arrays.WAIT:
            # Begun later it ends later; what must be set up in opening hours cannot begin at every moment.
            self.latest.held[task] = min(
                self.latest.held[task], max(end, self.begins.held[task] + self.work.length[task])
            )

    def _following(self, task: int) -> Iterator[Following]:
        """What begins, once it is over, on what it holds: people, equipment, bay."""
        end = self.state.end[task]
        if self._is_labour(task) and self.state.start[task] < end:
            for person in self._crew(task):
                row = self.people[person]
                yield from row[bisect_left(row, (end, NOBODY)) :][:1]
        if self.work.active[task] and self.state.start[task] < end:
            for which in self.shop.use[self.shop.use_off[task] : self.shop.use_off[task + 1]]:
                row = self.users[which]
                yield from row[bisect_left(row, (end, NOBODY)) :]
        yield from self._next_stay(task)

    def _next_stay(self, task: int) -> Iterator[Following]:
        shop, state, job = self.shop, self.state, self.shop.job[task]
        bay = state.bay[task] if shop.parks[job] else state.job_bay[job]
        if not (shop.claims_bay[task] and self.work.active[task]) or bay < 0:
            return
        base = bay * shop.stay_room
        for index in range(base, base + state.stay_count[bay]):
            if state.stay_from[index] >= state.end[task]:
                yield state.stay_from[index], NOBODY
                return

    def _fitted(self, task: int, latest: int) -> tuple[int, int]:
        """The latest (end, start) up to a moment, for hours are not open or worked at every one."""
        begin, end, shop = self.state.start[task], self.state.end[task], self.shop
        kind = shop.kind[task] if self.work.active[task] else arrays.MARKER
        if kind == arrays.RUNS_LABOUR:
            return max(end, self._last_worked(task, latest)), begin
        if kind == arrays.LABOUR and begin < end:
            return self._fitted_labour(task, latest)
        if kind == arrays.EVENT and shop.shop_hours[task]:
            latest = max(end, self._last_open(latest))
            return latest, latest
        # A wait that the wood ends may begin later than its end says.
        start = latest - (self.work.length[task] if kind == arrays.WAIT else end - begin)
        if kind == arrays.WAIT and shop.use_off[task] < shop.use_off[task + 1]:
            start = max(begin, self._last_open(start))
        return latest, start

    def _last_open(self, clock: int) -> int:
        """The last moment up to this one at which the shop is open, closing time included."""
        index = bisect_right(self.shop.shop_open, clock) - 1
        return min(clock, self.shop.shop_close[index]) if index >= 0 else clock

    def _last_worked(self, task: int, latest: int) -> int:
        axis = self._axis(task)
        return int(end_clock(self.arena, self._u_done(axis, self._worked(axis, int(to_u(self.arena, latest))))))

    def _fitted_labour(self, task: int, latest: int) -> tuple[int, int]:
        begin, end, axis = self.state.start[task], self.state.end[task], self._axis(task)
        from_u = int(to_u(self.arena, begin))
        taken = self._worked(axis, int(to_u(self.arena, end))) - self._worked(axis, from_u)
        until_u = int(to_u(self.arena, latest))
        if self.shop.one_shift[task]:
            until_u = self._in_one_shift(axis, from_u, until_u, taken)
        done = self._worked(axis, until_u)
        last = int(end_clock(self.arena, self._u_done(axis, done)))
        if last <= end:
            return end, begin
        return last, max(begin, int(start_clock(self.arena, self._u_begun(axis, done - taken))))

    def _in_one_shift(self, axis: int, from_u: int, until_u: int, taken: int) -> int:
        """The latest end of so much work within one shift."""
        low, high = self.shop.block_off[axis], self.shop.block_off[axis + 1]
        index = bisect_right(self.shop.block_from, until_u, low, high) - 1
        while index >= low and self.shop.block_until[index] > from_u:
            last = min(until_u, self.shop.block_until[index])
            if self._worked(axis, last) - self._worked(axis, self.shop.block_from[index]) >= taken:
                return last
            index -= 1
        return from_u

    def _axis(self, task: int) -> int:
        """The hours in which its crew works together."""
        spec, crew = self.shop.spec[task], self._crew(task)
        key = (spec, *crew)
        if key not in self.axes:
            options = range(self.shop.option_off[spec], self.shop.option_off[spec + 1])
            self.axes[key] = next(
                self.shop.option_axis[option]
                for option in options
                if set(crew) <= set(self.shop.able[self.shop.able_off[option] : self.shop.able_off[option + 1]])
            )
        return self.axes[key]

    def _worked(self, axis: int, u: int) -> int:
        """Working seconds of the axis up to u."""
        low, high = self.shop.axis_off[axis], self.shop.axis_off[axis + 1]
        index = bisect_right(self.shop.axis_from, u, low, high) - 1
        if index < low:
            return 0
        return self.shop.axis_work[index] + min(u, self.shop.axis_until[index]) - self.shop.axis_from[index]

    def _u_done(self, axis: int, worked: int) -> int:
        """When so many working seconds of the axis are over."""
        low, high = self.shop.axis_off[axis], self.shop.axis_off[axis + 1]
        index = max(low, bisect_left(self.shop.axis_work, worked, low, high) - 1)
        return self.shop.axis_from[index] + worked - self.shop.axis_work[index]

    def _u_begun(self, axis: int, worked: int) -> int:
        """When the working second after so many begins."""
        low, high = self.shop.axis_off[axis], self.shop.axis_off[axis + 1]
        index = bisect_right(self.shop.axis_work, worked, low, high) - 1
        return self.shop.axis_from[index] + worked - self.shop.axis_work[index]
