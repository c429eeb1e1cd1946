"""When coaches will really be ready: the shop planned anew for every sample of what its work may turn out to take."""

from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from datetime import datetime
from math import ceil

import numpy as np
from numpy.typing import NDArray

from estimates.calc.plan import arrays
from estimates.calc.plan.arrays import Work
from estimates.calc.plan.arrivals import Arrivals
from estimates.calc.plan.calendars import moment, seconds
from estimates.calc.plan.compiled import IS_COMPILED
from estimates.calc.plan.engine import NO_CHANGE, Prepared
from estimates.calc.plan.model import Change, PlanJob, Task
from estimates.calc.plan.room import empty_state
from estimates.calc.plan.sampling import uniforms, uniforms_of
from estimates.calc.plan.spread import SURE, LogNormal, Spread, ThreePoint
from estimates.calc.plan.to_come import Bookings

Floats = NDArray[np.float64]
Ints = NDArray[np.int64]

# Nobody leaves a question open for longer: the shop calls, or agrees otherwise (planning value, no source). Without it
# a record of very quick and very slow answers draws waits of years, which no plan has shifts for.
LONGEST_ANSWER_S = 60 * 24 * 3600
# Tasks drawn at once: more of them no longer fit into a processor's near memory.
AT_ONCE = 64


@dataclass(frozen=True)
class Spreads:
    """How sure durations are, as factors of the planned; a task's own spread goes before.

    labour, drying, wait (cures, flash-off), answer (of the time until an owner's answer is expected).
    shared: one factor for all labour of the shop in a sample, so that overruns come together.
    The values given here are planning values without a source; replace them with the shop's own (experience.py).
    """

    labour: Spread = field(default_factory=lambda: ThreePoint(0.7, 1.0, 2.0))
    drying: Spread = field(default_factory=lambda: LogNormal(1.0, 0.3))
    wait: Spread = SURE
    answer: Spread = field(default_factory=lambda: LogNormal(1.0, 0.5))
    shared: Spread = field(default_factory=lambda: LogNormal(1.0, 0.1))


@dataclass(frozen=True)
class Odds:
    """The dates by which half and four in five of the samples are ready."""

    p50_at: datetime
    p80_at: datetime


@dataclass(frozen=True)
class Forecast:
    """When each coach is ready in each sample. ready: [sample, job] clock seconds; jobs: the columns' keys."""

    jobs: tuple[str, ...]
    ready: Ints

    def at(self, job: str, share: float) -> datetime:
        """The earliest moment by which at least this share of the samples is ready."""
        if not 0 < share <= 1:
            raise ValueError(f"share must be above 0 and at most 1, got {share}")
        ordered = np.sort(self.ready[:, self.jobs.index(job)])
        return moment(int(ordered[ceil(share * len(ordered) - 1e-9) - 1]))

    def odds(self, job: str) -> Odds:
        return Odds(self.at(job, 0.5), self.at(job, 0.8))

    def chance_by(self, job: str, at: datetime) -> float:
        """The share of the samples in which a coach is ready by then."""
        return float(np.mean(self.ready[:, self.jobs.index(job)] <= seconds(at)))


def forecast(
    prepared: Prepared,
    *,
    samples: int = 1000,
    seed: int = 1,
    spreads: Spreads | None = None,
    change: Change = NO_CHANGE,
    bookings: Bookings | None = None,
    threads: int = 2,
) -> Forecast:
    """Plan the shop `samples` times, each time with other durations, and note when each coach is ready.

    The order of placing is that of prepared.plan(change). Numbers belong to tasks by their keys and to the seed, so two
    forecasts with the same seed differ only by what differs in the question. What runs has taken its time already: it
    is drawn from what is left possible. Damage that may yet be found (chance below 1) is there in that share of the
    samples; tasks of one part are found together.
    bookings: the record by which coaches may yet be booked and go before others; it fills the places that
    to_come.with_room_for has made in the problem.
    Raises HorizonTooShort for more shifts: samples last longer than the plan.
    """
    if samples < 1:
        raise ValueError(f"samples must be at least 1, got {samples}")
    work = prepared.changed(change)
    own, turns = prepared.order(work, change)
    arrivals = Arrivals(prepared, bookings, work, (own, turns), samples=samples, seed=seed) if bookings else None
    drawn = _Draws(prepared, work, samples, seed, spreads or Spreads(), arrivals).work
    ready = np.zeros((samples, prepared.shop.jobs), dtype=np.int64)

    def run(chosen: range) -> None:
        state = empty_state(prepared.shop)
        begin = int(state[arrays.READY])
        end = begin + prepared.shop.jobs
        for sample in chosen:
            prepared.run(drawn(sample), own, arrivals.turns_of(sample) if arrivals else turns, state)
            ready[sample] = state[begin:end]

    parts = min(threads if IS_COMPILED else 1, samples)
    with ThreadPoolExecutor(parts) as pool:
        # Asked for its results, so that what a thread raises is raised here.
        list(pool.map(run, (range(part, samples, parts) for part in range(parts))))
    jobs = tuple(job.key for job in prepared.problem.jobs)
    return Forecast(jobs, ready)


class _Draws:
    """Draws what each task takes in each sample."""

    def __init__(
        self, prepared: Prepared, work: Work, samples: int, seed: int, spreads: Spreads, arrivals: Arrivals | None
    ) -> None:
        self.prepared, self.work_as_planned, self.samples, self.seed = prepared, work, samples, seed
        self.spreads = spreads
        self.shared = spreads.shared.at(uniforms(seed, "shop", samples))
        self.columns = self._draw()
        if arrivals:
            arrivals.fill(*self.columns[:3], labour=self.shared)

    def work(self, sample: int) -> Work:
        """The columns of work of one sample."""
        columns = [each[sample] for each in self.columns]
        return Work(*(columns if IS_COMPILED else [each.tolist() for each in columns]))

    def _draw(self) -> tuple[Ints, Ints, Ints, Ints]:
        """Lengths, whether tasks are done, earliest starts and ends: [sample, task]."""
        tasks, kinds = self.prepared.builder.tasks, self.prepared.shop.kind
        planned = [np.array(each, dtype=np.int64) for each in self.work_as_planned]
        length, active, not_before, until = (np.tile(each, (self.samples, 1)) for each in planned)
        alike: dict[tuple[str, Spread], list[int]] = {}
        for index, spread in self._unsure(planned[0]):
            job, task = tasks[index]
            if task.kind == "event":
                not_before[:, index] = self._answered(job, task, spread, int(planned[2][index]))
            elif kinds[index] in (arrays.RUNS_LABOUR, arrays.RUNS_WAIT):
                length[:, index] = np.rint(planned[0][index] * self._of_running(job, task, spread, index, planned[0]))
            else:
                alike.setdefault((task.kind, spread), []).append(index)
        for (kind, spread), found in alike.items():
            for some in (found[at : at + AT_ONCE] for at in range(0, len(found), AT_ONCE)):
                length[:, some] = np.rint(planned[0][some] * self._of_some(kind, spread, some))
        self._draw_dry_times(until, planned)
        for index, (job, task) in enumerate(tasks):
            if 0 < task.chance < 1 and kinds[index] != arrays.DONE:
                active[:, index] = self._is_found(job, task)
        return length, active, not_before, until

    def _unsure(self, planned: Ints) -> Iterator[tuple[int, Spread]]:
        """What is drawn: number and spread of the tasks that are not over and may take longer or shorter."""
        for index, (_, task) in enumerate(self.prepared.builder.tasks):
            if self.prepared.shop.kind[index] == arrays.DONE:
                continue
            spread = task.spread or self._usual(task)
            is_sure = spread is None or (spread == SURE and task.kind != "labour")
            if spread and not is_sure and (planned[index] or task.kind == "event"):
                yield index, spread

    def _answered(self, job: PlanJob, task: Task, spread: Spread, expected: int) -> Floats:
        now = self.prepared.shop.now
        waiting = max(0, expected - now)
        drawn: Floats = np.minimum(waiting * self._factors(job, task, spread, 0.0), max(waiting, LONGEST_ANSWER_S))
        return now + drawn

    def _draw_dry_times(self, until: Ints, planned: Sequence[Ints]) -> None:
        """When the wood that waits to come are for is dry: it dries from now on, not from when the wait begins."""
        now, dated = self.prepared.shop.now, frozenset(self.prepared.dated)
        for index, spread in self._unsure(planned[0]) if dated else ():
            job, task = self.prepared.builder.tasks[index]
            if index in dated:
                drying = max(0, int(planned[3][index]) - now)
                until[:, index] = np.rint(now + drying * self._factors(job, task, spread, 0.0))

    def _of_some(self, kind: str, spread: Spread, indexes: list[int]) -> Floats:
        """Factors of tasks that do not run yet and are as sure as each other: [sample, task]."""
        tasks = self.prepared.builder.tasks
        names = [f"{tasks[index][0].key}/{tasks[index][1].key}" for index in indexes]
        factors = spread.at(uniforms_of(self.seed, names, self.samples)).T
        return self.shared[:, None] * factors if kind == "labour" else factors

    def _usual(self, task: Task) -> Spread | None:
        if task.kind == "labour":
            return self.spreads.labour
        if task.kind == "wait":
            return self.spreads.drying if task.is_drying else self.spreads.wait
        return self.spreads.answer if task.not_before else None

    def _is_found(self, job: PlanJob, task: Task) -> NDArray[np.bool_]:
        name = f"{job.key}/found/{task.part or task.key}"
        found: NDArray[np.bool_] = uniforms(self.seed, name, self.samples) < task.chance
        return found

    def _of_running(self, job: PlanJob, task: Task, spread: Spread, index: int, planned: Ints) -> Floats:
        """Factors of labour or a wait that runs: only those longer than it has run."""
        shared = self.shared if task.kind == "labour" else np.ones(self.samples)
        shop = self.prepared.shop
        is_labour = shop.kind[index] == arrays.RUNS_LABOUR
        has_run = int(shop.done_s[index]) if is_labour else max(0, shop.now - int(shop.fixed_start[index]))
        least = has_run / planned[index] / shared if has_run else 0.0
        factors: Floats = shared * self._factors(job, task, spread, least)
        return factors

    def _factors(self, job: PlanJob, task: Task, spread: Spread, least: Floats | float) -> Floats:
        chance = uniforms(self.seed, f"{job.key}/{task.key}", self.samples)
        if not np.any(least):
            return spread.at(chance)
        over = np.asarray(spread.chance_below(np.broadcast_to(np.asarray(least, dtype=np.float64), chance.shape)))
        # What has outrun even the longest is drawn as the longest; the engine then gives it its least remainder.
        return spread.at(np.minimum(over + chance * (1 - over), 1 - 2.0**-53))
