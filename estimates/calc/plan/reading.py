"""From the engine's columns back to a schedule in words and times."""

from collections.abc import Iterator, Sequence
from datetime import timedelta
from itertools import accumulate

from estimates.calc.plan import arrays
from estimates.calc.plan.arrays import Arena, Column, Shop, State, Work, as_lists
from estimates.calc.plan.building import Builder
from estimates.calc.plan.calendars import moment
from estimates.calc.plan.model import EVENT, JobPlan, PlacedTask, PlanJob, Schedule, Task
from estimates.calc.plan.precedence import before_of
from estimates.calc.plan.slack import LatestEnds, latest_ends

Stay = tuple[int, int, int]  # bay, from, until


def read_schedule(
    builder: Builder,
    coaches: Sequence[int],
    shop: Shop,
    arena: Arena,
    work: Work,
    own: Column,
    turns: Column,
    state: State,
) -> Schedule:
    """The schedule that stands in the state, its jobs in the order they are placed by."""
    shop, work, state = as_lists(shop), as_lists(work), as_lists(state)
    latest = latest_ends(shop, arena, work, state)
    first = list(accumulate((len(job.tasks) for job in builder.problem.jobs), initial=0))
    jobs = {}
    for number in coaches:
        job = builder.problem.jobs[number]
        jobs[job.key] = _Reader(builder, shop, work, state, latest, number, first[number]).job_plan(job)
    return Schedule(jobs, tuple(_turn_keys(builder, shop, own, turns)))


def _turn_keys(builder: Builder, shop: Shop, own: Column, turns: Column) -> Iterator[tuple[str, str]]:
    at = list(shop.topo_off)
    for job in turns:
        plan_job, task = builder.tasks[own[at[job]]]
        at[job] += 1
        yield plan_job.key, task.key


class _Reader:
    """Reads one job; its tasks are numbered from `first` on."""

    def __init__(
        self, builder: Builder, shop: Shop, work: Work, state: State, latest: LatestEnds, number: int, first: int
    ) -> None:
        self.builder, self.shop, self.work, self.state = builder, shop, work, state
        self.latest, self.number, self.first = latest, number, first

    def job_plan(self, job: PlanJob) -> JobPlan:
        stays = self._stays(job)
        bay, begin, end = stays[0] if stays else (-1, 0, 0)
        bays = self.builder.problem.bays
        return JobPlan(
            key=job.key,
            ready_at=moment(self.state.ready[self.number]),
            bay=bays[bay] if stays else None,
            bay_from_at=moment(begin) if stays else None,
            bay_until_at=moment(end) if stays else None,
            tasks=tuple(self._placed(job, task, self.first + place) for place, task in enumerate(job.tasks)),
            blocked_by=self._blocked_by(job),
            critical=self._critical(job),
            stays=tuple((bays[bay], moment(begin), moment(end)) for bay, begin, end in stays),
        )

    def _stays(self, job: PlanJob) -> list[Stay]:
        """The job's stays; the one it stands in now from when its bay work began."""
        found: list[Stay] = []
        if not job.parks_outside:
            bay = self.state.job_bay[self.number]
            begin, end = self.state.own_stay_from[self.number], self.state.own_stay_until[self.number]
            return [(bay, begin, end)] if bay >= 0 else []
        for bay in range(self.shop.bays):
            base = bay * self.shop.stay_room
            for index in range(base, base + self.state.stay_count[bay]):
                if self.state.stay_job[index] == self.number:
                    found.append((bay, self.state.stay_from[index], self.state.stay_until[index]))
        return sorted(found, key=lambda stay: stay[1:])

    def _placed(self, job: PlanJob, task: Task, index: int) -> PlacedTask:
        start, end = self.state.start[index], self.state.end[index]
        parks = job.parks_outside and self.shop.claims_bay[index] and self.work.active[index]
        bay = self.state.bay[index] if parks else self.state.job_bay[self.number] if task.needs_bay else -1
        is_over = self.shop.kind[index] == arrays.DONE
        return PlacedTask(
            key=task.key,
            job_key=job.key,
            words=task.words,
            kind=task.kind,
            start_at=moment(start),
            end_at=moment(end),
            workers=self._workers(task, index),
            bay=self.builder.problem.bays[bay] if bay >= 0 and not is_over else None,
            slack=None if is_over else timedelta(seconds=max(0, self.latest.held[index] - end)),
        )

    def _workers(self, task: Task, index: int) -> tuple[str, ...]:
        if task.finished_at:
            return task.fixed_workers
        if not self.work.active[index] or not (self.work.length[index] or task.started_at):
            return ()
        numbers = self.state.who[self.shop.who_off[index] : self.shop.who_off[index + 1]]
        return tuple(self.builder.workers[each].key for each in sorted(numbers))

    def _blocked_by(self, job: PlanJob) -> str:
        """What the coach waits for now, in words: an answer or a check first, then what runs, then what is next."""
        now = self.shop.now
        if self.shop.release[self.number] > now:
            return "Arrival"
        to_come = [
            (self.state.start[index], place, task)
            for place, task in enumerate(job.tasks)
            if self.work.active[index := self.first + place] and not task.finished_at
        ]
        due = [task for _, _, task in to_come if self._is_due(job, task)]
        open_tasks = sorted((start, place) for start, place, _ in to_come if self.work.length[self.first + place])
        running = [job.tasks[place] for _, place in sorted(open_tasks, key=lambda each: each[1])]
        running = [task for task in running if task.started_at]
        following = [job.tasks[place] for _, place in open_tasks]
        return next((task.words for task in [*due, *running, *following]), "")

    def _is_due(self, job: PlanJob, task: Task) -> bool:
        """Whether an answer or a check is all that is missing for itself."""
        if task.kind != EVENT or not (task.not_before or task.in_shop_hours):
            return False
        return all(self.state.end[self.builder.number[job.key, key]] <= self.shop.now for key in before_of(task))

    def _critical(self, job: PlanJob) -> tuple[str, ...]:
        """What cannot end later without the coach being ready later, in the order it happens."""
        state, at = self.state, range(self.first, self.first + len(job.tasks))
        order = {task: place for place, task in enumerate([*self.shop.running, *self.shop.topo])}
        tight = [each for each in at if each in order and self.latest.own[each] <= state.end[each]]
        tight.sort(key=lambda each: (state.start[each], state.end[each], order[each]))
        return tuple(job.tasks[each - self.first].key for each in tight if self.work.active[each])
