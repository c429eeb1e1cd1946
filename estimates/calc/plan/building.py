"""From a problem to the engine's columns."""

from collections.abc import Iterable, Sequence, Sized
from itertools import accumulate, combinations
from typing import Any

from estimates.calc.plan import arrays
from estimates.calc.plan.arrays import FAR, Shop, Work
from estimates.calc.plan.arrays import column as column_of
from estimates.calc.plan.calendars import SECOND, Calendars, clock_spans, seconds
from estimates.calc.plan.model import EVENT, LABOUR, WAIT, PlanJob, Problem, Task, TaskKey, Worker
from estimates.calc.plan.precedence import in_order, places_before

CrewKey = tuple[Any, ...]


def column(values: Iterable[int]) -> Any:
    return column_of(list(values))


class Builder:
    """Builds the columns of a problem once. Tasks are numbered through all jobs, in the order given."""

    def __init__(self, problem: Problem) -> None:
        self.problem = problem
        self.now = seconds(problem.now)
        self.calendars = Calendars(problem)
        # Those who can do least come first, so that the many-sided stay free.
        self.workers = sorted(problem.workers, key=lambda worker: (len(worker.skills), worker.key))
        self.worker_number = {worker.key: number for number, worker in enumerate(self.workers)}
        names = sorted({skill for worker in self.workers for skill in worker.skills})
        self.skill_number = {skill: number for number, skill in enumerate(names)}
        self.bay_number = {bay: number for number, bay in enumerate(problem.bays)}
        self.thing_number = {name: number for number, (name, _) in enumerate(problem.equipment)}
        self.tasks = [(job, task) for job in problem.jobs for task in job.tasks]
        self.number: dict[TaskKey, int] = {(job.key, task.key): index for index, (job, task) in enumerate(self.tasks)}
        self.begins = list(accumulate((len(job.tasks) for job in problem.jobs), initial=0))
        self.before = [places_before(job) for job in problem.jobs]
        self.orders = [in_order(before) for before in self.before]
        self.shop_axis = self.calendars.axis(frozenset({0}))
        self._crews: dict[CrewKey, int] = {}
        self._longest: dict[int, int] = {}
        self._spec_rows: list[tuple[int, bool, list[int], list[tuple[int, list[int]]]]] = []

    def shop(self) -> Shop:
        """All columns that no what-if changes."""
        parts: dict[str, Any] = {}
        parts |= self._task_columns() | self._edge_columns() | self._job_columns()
        parts |= self._crew_columns() | self._people_columns() | self._axis_columns()
        parts |= {
            "now": self.now,
            "now_u": self.calendars.to_u(self.now),
            "tasks": len(self.tasks),
            "jobs": len(self.problem.jobs),
            "people": len(self.workers),
            "bays": len(self.problem.bays),
            "things": len(self.problem.equipment),
            "runs": len(parts["running"]),
            "u_spans": len(self.calendars.all),
            "shifts": len(self.problem.shifts),
            "capacity": column(count for _, count in self.problem.equipment),
            "use_room": 2 * sum(bool(task.equipment) for _, task in self.tasks) + 3,
            "stay_room": len(self.problem.jobs)
            + sum(len(job.tasks) for job in self.problem.jobs if job.parks_outside)
            + 1,
        }
        return Shop(**parts)

    def work(self) -> Work:
        """The problem's own durations; damage that may yet be found is left out."""
        tasks = [task for _, task in self.tasks]
        return Work(
            length=column(task.duration // SECOND for task in tasks),
            active=column(int(task.chance >= 1) for task in tasks),
            not_before=column(_not_before(task) for task in tasks),
            until=column(seconds(task.until) if task.until else -FAR for task in tasks),
        )

    def _task_columns(self) -> dict[str, Any]:
        kinds = [self._kind(task) for _, task in self.tasks]
        specs = [self._spec(task, kind) for (_, task), kind in zip(self.tasks, kinds, strict=True)]
        pairs = list(zip(self.tasks, kinds, strict=True))
        sizes = [self._spec_rows[spec][0] if spec >= 0 else 0 for spec in specs]
        return {
            "kind": column(kinds),
            "job": column(number for number, job in enumerate(self.problem.jobs) for _ in job.tasks),
            "shop_hours": column(int(task.in_shop_hours) for _, task in self.tasks),
            "one_shift": column(int(task.in_one_shift) for _, task in self.tasks),
            "claims_bay": column(int(claims_bay(job, task)) for job, task in self.tasks),
            "spec": column(specs),
            "fixed_start": column(self._fixed_start(task, kind) for (_, task), kind in pairs),
            "fixed_end": column(seconds(task.finished_at) if task.finished_at else 0 for _, task in self.tasks),
            "done_s": column(
                self._done(task, spec) if kind == arrays.RUNS_LABOUR else 0
                for ((_, task), kind), spec in zip(pairs, specs, strict=True)
            ),
            "first": column(self._first()),
            "who_off": column(accumulate(sizes, initial=0)),
            "running": column(self._running(kinds)),
        }

    def longest_block_s(self, task: Task) -> int:
        """The longest stretch between two nights that a crew for the task works together [s]."""
        crew = self._crew(task.crew)
        if crew not in self._longest:
            *_, options = self._spec_rows[crew]
            self._longest[crew] = max((self.calendars.longest_block_s(axis) for axis, _ in options), default=0)
        return self._longest[crew]

    def _kind(self, task: Task) -> int:
        if task.finished_at:
            return arrays.DONE
        if task.started_at:
            return arrays.RUNS_LABOUR if task.kind == LABOUR else arrays.RUNS_WAIT
        if task.kind == EVENT:
            has_own_time = task.not_before or task.in_shop_hours or not (task.after or task.lags)
            return arrays.EVENT if has_own_time else arrays.MARKER
        return arrays.WAIT if task.kind == WAIT else arrays.LABOUR

    def _fixed_start(self, task: Task, kind: int) -> int:
        if kind == arrays.DONE:
            return seconds(task.started_at or task.finished_at or self.problem.now)
        return min(seconds(task.started_at), self.now) if task.started_at else 0

    def _running(self, kinds: Sequence[int]) -> list[int]:
        """Running tasks, in the order of their coaches: who is clocked on twice does one after the other."""
        place = {job.key: place for place, job in enumerate(sorted(self.problem.jobs, key=job_order))}
        runs = [n for n, kind in enumerate(kinds) if kind in (arrays.RUNS_LABOUR, arrays.RUNS_WAIT)]
        return sorted(runs, key=lambda n: place[self.tasks[n][0].key])

    def _done(self, task: Task, spec: int) -> int:
        """Working seconds that a running task has had."""
        axis = self._spec_rows[spec][3][0][0]
        begun = self.calendars.to_u(min(seconds(task.started_at or self.problem.now), self.now))
        return self.calendars.work_between(axis, begun, self.calendars.to_u(self.now))

    def _spec(self, task: Task, kind: int) -> int:
        """The number of the crew that a task asks for; -1 for what takes nobody."""
        if kind == arrays.RUNS_LABOUR:
            return self._fixed_crew(task)
        if kind != arrays.LABOUR:
            return -1
        if task.frozen_at and self._can_still_do(task):
            return self._fixed_crew(task)
        return self._crew(task.crew)

    def _can_still_do(self, task: Task) -> bool:
        """Whether the people a start was given out to are there and make the crew."""
        known = [self.workers[self.worker_number[key]] for key in task.fixed_workers if key in self.worker_number]
        return len(known) == sum(people for _, people in task.crew) and can_staff(task.crew, known)

    def _fixed_crew(self, task: Task) -> int:
        known = tuple(sorted({self.worker_number[key] for key in task.fixed_workers if key in self.worker_number}))
        key = ("fixed", known)
        if key not in self._crews:
            numbers = frozenset(self.calendars.of_worker[self.workers[each].key] for each in known) or frozenset({0})
            option = (self.calendars.axis(numbers), list(known) or [])
            self._crews[key] = self._add_spec(len(known), True, [0] * len(known), [option])
        return self._crews[key]

    def _crew(self, crew: tuple[tuple[str, int], ...]) -> int:
        if crew not in self._crews:
            slots = [self.skill_number[skill] for skill, people in crew for _ in range(people)]
            able = [n for n, each in enumerate(self.workers) if any(skill in each.skills for skill, _ in crew)]
            self._crews[crew] = self._add_spec(len(slots), len(set(slots)) <= 1, slots, self._options(able, len(slots)))
        return self._crews[crew]

    def _options(self, able: list[int], size: int) -> list[tuple[int, list[int]]]:
        """The axes that a crew may work on, each with those who work then: one unless people keep their own hours."""
        calendar_of = {each: self.calendars.of_worker[self.workers[each].key] for each in able}
        numbers = sorted(set(calendar_of.values()))
        if not numbers:
            return [(self.shop_axis, [])]
        options = []
        for count in range(1, min(size, len(numbers)) + 1):
            for subset in combinations(numbers, count):
                axis = self.calendars.axis(frozenset(subset))
                share = [
                    n
                    for n in numbers
                    if self.calendars.axes[self.calendars.axis(frozenset({*subset, n}))] == self.calendars.axes[axis]
                ]
                people = [each for each in able if calendar_of[each] in share]
                if len(people) >= size and self.calendars.axes[axis]:
                    options.append((axis, people))
        return options

    def _add_spec(self, size: int, is_one_skill: bool, slots: list[int], options: list[tuple[int, list[int]]]) -> int:
        self._spec_rows.append((size, is_one_skill, slots, options))
        return len(self._spec_rows) - 1

    def _first(self) -> list[int]:
        """1 for starts that were given out for today, and for what must come before them."""
        first = [0] * len(self.tasks)
        for begin, before, job in zip(self.begins, self.before, self.problem.jobs, strict=False):
            waiting = [place for place, task in enumerate(job.tasks) if task.frozen_at]
            while waiting:
                place = waiting.pop()
                if not first[begin + place]:
                    first[begin + place] = 1
                    waiting.extend(before[place])
        return first

    def _edge_columns(self) -> dict[str, Any]:
        befores = [(begin, row) for begin, rows in zip(self.begins, self.before, strict=False) for row in rows]
        uses = [[(self.thing_number[name], count) for name, count in task.equipment] for _, task in self.tasks]
        return {
            "before_off": _offsets([row for _, row in befores]),
            "before": column(begin + place for begin, row in befores for place in row),
            "lag": column(lag for _, row in befores for lag in row.values()),
            "use_off": _offsets(uses),
            "use": column(thing for row in uses for thing, _ in row),
            "need": column(count for row in uses for _, count in row),
        }

    def _job_columns(self) -> dict[str, Any]:
        jobs = self.problem.jobs
        topo = [self._to_place(number) for number in range(len(jobs))]
        choices = [self._bays_of(job) for job in jobs]
        begun = [min(self._bay_starts(job), default=FAR) for job in jobs]
        return {
            "topo_off": _offsets(topo),
            "topo": column(number for row in topo for number in row),
            "release": column(seconds(job.release_at) for job in jobs),
            "promise": column(seconds(job.promised_at) if job.promised_at else FAR for job in jobs),
            "weight": column(round(1000 * job.weight) for job in jobs),
            "stands_in": column(self.bay_number[job.bay] if job.is_in_bay and job.bay else -1 for job in jobs),
            "parks": column(int(job.parks_outside) for job in jobs),
            "begun": column(begun),
            "choice_off": _offsets(choices),
            "choice": column(bay for row in choices for bay in row),
        }

    def _bay_starts(self, job: PlanJob) -> list[int]:
        return [seconds(task.started_at) for task in job.tasks if task.needs_bay and task.started_at]

    def _bays_of(self, job: PlanJob) -> list[int]:
        asked = job.bay_choices if job.parks_outside and job.bay_choices else (job.bay,) if job.bay else job.bay_choices
        return [self.bay_number[bay] for bay in asked if bay]

    def _to_place(self, number: int) -> list[int]:
        """A job's tasks that are to be placed, in an order that respects precedence."""
        tasks, begin = self.problem.jobs[number].tasks, self.begins[number]
        return [begin + at for at in self.orders[number] if not tasks[at].started_at and not tasks[at].finished_at]

    def _crew_columns(self) -> dict[str, Any]:
        options = [option for *_, own in self._spec_rows for option in own]
        return {
            "spec_size": column(size for size, *_ in self._spec_rows),
            "spec_is_one_skill": column(int(is_one) for _, is_one, *_ in self._spec_rows),
            "slot_off": _offsets([slots for _, _, slots, _ in self._spec_rows]),
            "slot_skill": column(slot for _, _, slots, _ in self._spec_rows for slot in slots),
            "option_off": _offsets([own for *_, own in self._spec_rows]),
            "option_axis": column(axis for axis, _ in options),
            "able_off": _offsets([people for _, people in options]),
            "able": column(each for _, people in options for each in people),
        }

    def _people_columns(self) -> dict[str, Any]:
        away = [self.calendars.away(worker) for worker in self.workers]
        labour = sum(task.kind == LABOUR for _, task in self.tasks)
        return {
            "skills": column(self._skills(worker) for worker in self.workers),
            "away_off": _offsets(away),
            "away_from": column(begin for row in away for begin, _ in row),
            "away_until": column(end for row in away for _, end in row),
            "room": max((len(row) for row in away), default=0) + labour + 2,
        }

    def _skills(self, worker: Worker) -> int:
        return sum(1 << self.skill_number[skill] for skill in worker.skills)

    def _axis_columns(self) -> dict[str, Any]:
        calendars, shifts = self.calendars, clock_spans(self.problem.shifts)
        blocks = [calendars.blocks(axis) for axis in range(len(calendars.axes))]
        works = [list(accumulate((end - begin for begin, end in spans), initial=0))[:-1] for spans in calendars.axes]
        return {
            "u_open": column(begin for begin, _ in calendars.all),
            "u_close": column(end for _, end in calendars.all),
            "u_before": column(calendars.before),
            "shop_open": column(begin for begin, _ in shifts),
            "shop_close": column(end for _, end in shifts),
            "axis_off": _offsets(calendars.axes),
            "axis_from": column(begin for spans in calendars.axes for begin, _ in spans),
            "axis_until": column(end for spans in calendars.axes for _, end in spans),
            "axis_work": column(before for row in works for before in row),
            "axis_plain": column(int(calendars.is_plain(axis)) for axis in range(len(calendars.axes))),
            "axis_longest": column(max((work for *_, work in row), default=0) for row in blocks),
            "block_off": _offsets(blocks),
            "block_from": column(begin for row in blocks for begin, _, _ in row),
            "block_until": column(end for row in blocks for _, end, _ in row),
        }


def _offsets(rows: Sequence[Sized]) -> Any:
    return column(accumulate((len(row) for row in rows), initial=0))


def _not_before(task: Task) -> int:
    """The earliest start; of a start given out for today, no sooner than that."""
    moments = (task.not_before, None if task.started_at or task.finished_at else task.frozen_at)
    return max((seconds(at) for at in moments if at), default=-FAR)


def claims_bay(job: PlanJob, task: Task) -> bool:
    """Whether a task keeps the coach's bay: work to come, and in a bay also what runs there now."""
    return task.needs_bay and not task.finished_at and (job.is_in_bay or not task.started_at)


def can_staff(crew: Sequence[tuple[str, int]], workers: Sequence[Worker]) -> bool:
    """Whether the workers could be such a crew at all, each person filling one place (augmenting paths)."""
    slots = [skill for skill, people in crew for _ in range(people)]
    holder: dict[int, int] = {}

    def seat(slot: int, seen: set[int]) -> bool:
        for index, worker in enumerate(workers):
            if slots[slot] in worker.skills and index not in seen:
                seen.add(index)
                if index not in holder or seat(holder[index], seen):
                    holder[index] = slot
                    return True
        return False

    return len(workers) >= len(slots) and all(seat(slot, set()) for slot in range(len(slots)))


def job_order(job: PlanJob) -> tuple[bool, bool, int, bool, int, int, str]:
    """The rule: who stands in a bay, what is begun, then priority, promise, release and key."""
    has_begun = any(task.started_at for task in job.tasks)
    promise = seconds(job.promised_at) if job.promised_at else 0
    return (
        not job.is_in_bay, not has_begun, job.priority, not job.promised_at, promise, seconds(job.release_at), job.key
    )  # fmt: skip
