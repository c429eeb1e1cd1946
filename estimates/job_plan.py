"""A coach's part of the plan in force: what is still to come, what of it sets the date, and what can wait."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from estimates.models import PlannedTask, ShopPlan
from estimates.plan_keys import answer_key
from jobs.calc.equipment import held_words
from jobs.models import Job, Person

DAY, HOUR, MINUTE = timedelta(days=1), timedelta(hours=1), timedelta(minutes=1)


@dataclass(frozen=True)
class PlanRow:
    """One thing to come."""

    task: PlannedTask
    who: str
    room: str  # how much later it could end, in words; empty for what sets the date, or where it is not known

    @property
    def is_running(self) -> bool:
        return self.task.operation is not None and self.task.operation.is_running

    @property
    def is_conditional(self) -> bool:
        """Work that is planned for a yes that has not come yet."""
        return self.task.finding_id is not None and self.task.key != answer_key(self.task.finding_id)


@dataclass(frozen=True)
class CoachPlan:
    rows: tuple[PlanRow, ...]
    made_at: datetime | None

    @property
    def ends_at(self) -> datetime | None:
        """When the last of it ends."""
        return max((row.task.end_at for row in self.rows), default=None)

    @property
    def critical(self) -> tuple[PlanRow, ...]:
        return tuple(row for row in self.rows if row.task.is_critical)

    @property
    def knows_room(self) -> bool:
        """Whether the planner says how much later the rest could end."""
        return any(row.task.slack is not None for row in self.rows)


def read_coach_plan(job: Job, has: Mapping[str, int] | None = None) -> CoachPlan:
    """What is to come for a coach, by the plan in force: three queries.

    has: the shop's equipment by kind, as far as somebody has counted it.
    """
    tasks = (
        PlannedTask.objects.filter(job=job)
        .exclude(operation__finished_at__isnull=False)
        .select_related("operation", "finding")
        .order_by("start_at", "end_at", "pk")
    )
    plan = ShopPlan.objects.filter(shop_id=job.shop_id).first()
    people = {person.pk: person for person in Person.objects.filter(shop_id=job.shop_id)}
    return CoachPlan(tuple(_row(task, people, has or {}) for task in tasks), plan.made_at if plan else None)


def _row(task: PlannedTask, people: dict[int, Person], has: Mapping[str, int]) -> PlanRow:
    return PlanRow(
        task=task,
        who=who_words(task, people, has),
        room="" if task.is_critical or task.slack is None else span_words(task.slack),
    )


def who_words(task: PlannedTask, people: dict[int, Person], has: Mapping[str, int]) -> str:
    """The people on it; what needs none says so, and what it holds of the equipment that the shop has."""
    if task.kind == "wait":
        holds = held_words(task.operation, has) if task.operation else ""
        return f"no hands needed; {holds}" if holds else "no hands needed"
    if task.kind == "event":
        return "the owner" if task.finding_id and task.key == answer_key(task.finding_id) else "a manager"
    return ", ".join(names(task.worker_ids, people))


def names(worker_ids: Sequence[int], people: dict[int, Person]) -> Iterator[str]:
    """Names in the order planned; somebody who has left is passed over."""
    return (people[pk].get_full_name() or people[pk].username for pk in worker_ids if pk in people)


def span_words(span: timedelta) -> str:
    """A span in its two largest units: 2 days 3 hours."""
    if span < MINUTE:
        return "no room"
    parts = [(span // DAY, "day"), (span % DAY // HOUR, "hour"), (span % HOUR // MINUTE, "minute")]
    told = [f"{number} {name}{'' if number == 1 else 's'}" for number, name in parts if number]
    return " ".join(told[:2])
