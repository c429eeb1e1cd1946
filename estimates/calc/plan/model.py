"""What the planner is given and what it answers: frozen values, aware times."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

from estimates.calc.plan.spread import Spread

LABOUR, WAIT, EVENT = KINDS = ("labour", "wait", "event")
Span = tuple[datetime, datetime]
TaskKey = tuple[str, str]  # (key of the job, key of the task)


class HorizonTooShort(ValueError):
    """The shifts given end before the work does; ask again with more of them, or say what never opens."""


@dataclass(frozen=True)
class Worker:
    """A person: what they can do, when they work and when they are away.

    hours: the person's own working spans, sorted; None means the shop's shifts. overtime: spans on top of
    either. Somebody who is away works neither.
    """

    key: str
    skills: frozenset[str]
    away: tuple[Span, ...] = ()
    hours: tuple[Span, ...] | None = None
    overtime: tuple[Span, ...] = ()


@dataclass(frozen=True, slots=True)
class Task:
    """A piece of a job.

    Labour takes `duration` of working time from its crew, counted while all of the crew is at work. It may pause
    over night, and over nothing else of its people. In one shift, only a midday break may cut it.
    A wait takes `duration` of elapsed time and cannot pause; one that holds equipment begins at an open moment, when
    somebody can set it up. One that has not begun ends no sooner than `until`: when the wood will be dry, whenever the
    wait for it begins. An event takes none: it happens once its predecessors are over and not_before has come,
    in_shop_hours at an open moment.

    lags: (predecessor, least time on the clock between its end and this start); a predecessor named here
    need not stand in `after` too. equipment: (what, how many), held from start to end, nights included.
    part: what the task belongs to, for instance a finding; work of a part can be left out of a plan.
    chance: below 1 it is damage that may yet be found: no plan counts on it, a forecast does in that share of
    its samples. spread: how sure the duration is, where it is not the forecast's for its kind.
    frozen_at: the start that was given out for today. It is placed before what has none, by fixed_workers, not
    earlier than then.
    """

    key: str
    words: str
    kind: str
    duration: timedelta
    crew: tuple[tuple[str, int], ...] = ()  # (skill, people)
    after: tuple[str, ...] = ()  # keys of tasks of the same job
    not_before: datetime | None = None
    in_one_shift: bool = False
    in_shop_hours: bool = False
    needs_bay: bool = False
    started_at: datetime | None = None
    finished_at: datetime | None = None
    fixed_workers: tuple[str, ...] = ()
    lags: tuple[tuple[str, timedelta], ...] = ()
    equipment: tuple[tuple[str, int], ...] = ()
    part: str = ""
    chance: float = 1.0
    spread: Spread | None = None
    is_drying: bool = False
    frozen_at: datetime | None = None
    until: datetime | None = None


@dataclass(frozen=True)
class PlanJob:
    """A coach's job. `bay` is the one asked for or stood in; without it any of bay_choices may serve.

    The bay is held from the first to the last bay task that is to come. parks_outside: the coach is moved out
    between its bay tasks instead and may come back into another bay.
    weight: what a day late costs, against other jobs. Late counts from promised_at on.
    name: what people call it, for refusals; the key where it has none.
    """

    key: str
    priority: int  # 1 comes first
    release_at: datetime
    promised_at: datetime | None = None
    bay: str | None = None
    is_in_bay: bool = False
    bay_choices: tuple[str, ...] = ()
    tasks: tuple[Task, ...] = ()
    weight: float = 1.0
    parks_outside: bool = False
    name: str = ""

    @property
    def called(self) -> str:
        return self.name or self.key


@dataclass(frozen=True)
class Problem:
    """The whole shop at `now`. `shifts`: sorted working spans that cover running work and the horizon.

    equipment: (what, how many the shop has). order: jobs to be placed first, in this order; the rest follows by the
    rule. turns: tasks to be placed first, in this order (Schedule.turns, or the tasks of a stored plan by their
    starts); it goes before `order`. last_starts: of the plan in force; of two plans as good, a search keeps the one
    that changes fewer of them.
    """

    now: datetime
    shifts: tuple[Span, ...]
    workers: tuple[Worker, ...]
    bays: tuple[str, ...]
    jobs: tuple[PlanJob, ...]
    equipment: tuple[tuple[str, int], ...] = ()
    order: tuple[str, ...] = ()
    turns: tuple[TaskKey, ...] = ()
    last_starts: Mapping[TaskKey, datetime] = field(default_factory=dict)


@dataclass(frozen=True)
class Change:
    """What differs from the problem as prepared: the question of a what-if.

    left_out: parts whose tasks are not done. durations, not_before: of single tasks.
    order: jobs to be placed first, in this order.
    """

    left_out: frozenset[str] = frozenset()
    durations: Mapping[TaskKey, timedelta] = field(default_factory=dict)
    not_before: Mapping[TaskKey, datetime] = field(default_factory=dict)
    order: tuple[str, ...] = ()


@dataclass(frozen=True)
class PlacedTask:
    """Where a task stands in the plan. slack: how much later it could end without moving its own coach's date or any
    start that follows on the same people, bay or equipment; None for what is over."""

    key: str
    job_key: str
    words: str
    kind: str
    start_at: datetime
    end_at: datetime
    workers: tuple[str, ...] = ()
    bay: str | None = None
    slack: timedelta | None = None


@dataclass(frozen=True)
class JobPlan:
    """When a job's tasks happen, when the coach is ready, and which bay it holds from when until when.

    stays: every stay in a bay; more than one only when the coach parks outside in between. Then bay and its times
    are those of the first. critical: the chain of tasks that sets the end, first task first.
    """

    key: str
    ready_at: datetime
    bay: str | None
    bay_from_at: datetime | None
    bay_until_at: datetime | None
    tasks: tuple[PlacedTask, ...]
    blocked_by: str
    critical: tuple[str, ...]
    stays: tuple[tuple[str, datetime, datetime], ...] = ()


@dataclass(frozen=True)
class Schedule:
    """The plan of every job. turns: the tasks in the order they were placed, to be handed back in a problem."""

    jobs: Mapping[str, JobPlan] = field(default_factory=dict)
    turns: tuple[TaskKey, ...] = ()
