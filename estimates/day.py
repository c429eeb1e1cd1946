"""The day's list: who does what on which coach, the waits that end, the checks that fall due, by the plan in force."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.utils import dateformat

from estimates.models import GivenOut, PlannedTask, ShopPlan
from estimates.plan_keys import answer_key
from jobs.calc.workdays import ShopCalendar
from jobs.models import Job, Person, Shop
from jobs.views.rows import Caution, cautions


@dataclass(frozen=True)
class DayRow:
    """A piece of the day."""

    task: PlannedTask
    begins: str  # time of day, with the weekday where it is not today
    ends: str
    where: str
    is_given_out: bool  # or the day has not been given out at all
    with_others: str  # who else is on it

    @property
    def job(self) -> Job:
        return self.task.job

    @property
    def state(self) -> str:
        """In words; empty while it is as planned."""
        operation = self.task.operation
        if operation is not None and operation.finished_at:
            return "finished"
        if operation is not None and operation.started_at:
            return "running"
        if self.task.finding_id:
            return "only if the owner says yes first"
        return "" if self.is_given_out else "came since it was given out"


@dataclass(frozen=True)
class PersonDay:
    person: Person
    rows: tuple[DayRow, ...]
    cautions: tuple[Caution, ...]

    @property
    def name(self) -> str:
        return self.person.get_full_name() or self.person.username


@dataclass(frozen=True)
class Day:
    """One day of the shop. waits: those that end on it. checks: the hold points that fall due."""

    on: date
    is_today: bool  # after closing, and while the shop is closed, it is the next day that it opens
    plan: ShopPlan | None
    people: tuple[PersonDay, ...]
    waits: tuple[DayRow, ...]
    checks: tuple[DayRow, ...]

    @property
    def is_given_out(self) -> bool:
        return self.plan is not None and self.plan.given_out_on == self.on

    def of(self, person: Person) -> PersonDay | None:
        return next((each for each in self.people if each.person.pk == person.pk), None)


def read_day(shop: Shop, now: datetime) -> Day:
    """Today at the shop, or the next day when today is over: six queries, however many coaches and people there are."""
    on = _day_at(shop.calendar(), now)
    begins_at, ends_at = _day_span(shop, on)
    tasks = list(
        PlannedTask.objects.filter(job__shop=shop, start_at__lt=ends_at, end_at__gte=begins_at)
        .select_related("operation__remedy__standard", "finding", "job__coach", "job__bay")
        .order_by("start_at", "end_at", "pk")
    )
    given_out = set(GivenOut.objects.filter(operation__job__shop=shop, on=on).values_list("operation_id", flat=True))
    everybody = Person.objects.filter(shop=shop, is_active=True).order_by("first_name", "last_name", "username")
    people = {person.pk: person for person in everybody}
    plan = ShopPlan.objects.filter(shop=shop).select_related("given_out_by").first()
    if plan is None or plan.given_out_on != on:
        given_out = {task.operation_id for task in tasks if task.operation_id}
    rows = [_row(task, on, shop, given_out, people) for task in tasks]
    return Day(
        on=on,
        is_today=on == shop.local_date(now),
        plan=plan,
        people=tuple(_person_days(rows, people)),
        waits=tuple(row for row in rows if row.task.kind == "wait" and row.task.end_at < ends_at and not _is_over(row)),
        checks=tuple(row for row in rows if row.task.kind == "event" and not _is_answer(row.task)),
    )


def _person_days(rows: Iterable[DayRow], people: dict[int, Person]) -> Iterator[PersonDay]:
    """Everybody who has work today; what each is on with others names the others."""
    labour = [row for row in rows if row.task.kind == "labour"]
    for person in people.values():
        own = tuple(_without(row, person, people) for row in labour if person.pk in row.task.worker_ids)
        if own:
            to_do = (row.task.operation for row in own if row.task.operation and not _is_over(row))
            yield PersonDay(person, own, tuple(cautions(operation.remedy for operation in to_do)))


def _row(task: PlannedTask, on: date, shop: Shop, given_out: set[int], people: dict[int, Person]) -> DayRow:
    return DayRow(
        task=task,
        begins=_clock(task.start_at, on, shop),
        ends=_clock(task.end_at, on, shop) if task.end_at != task.start_at else "–",
        where=_where(task.job),
        is_given_out=task.operation_id in given_out or task.kind != "labour",
        with_others=", ".join(_names(task.worker_ids, people)),
    )


def _clock(at: datetime, on: date, shop: Shop) -> str:
    local = at.astimezone(ZoneInfo(shop.time_zone))
    return dateformat.format(local, "g:i A" if local.date() == on else "D, g:i A")


def _without(row: DayRow, person: Person, people: dict[int, Person]) -> DayRow:
    others = [pk for pk in row.task.worker_ids if pk != person.pk]
    return replace(row, with_others=", ".join(_names(others, people)))


def _names(worker_ids: Iterable[int], people: dict[int, Person]) -> Iterator[str]:
    return (people[pk].get_full_name() or people[pk].username for pk in worker_ids if pk in people)


def _where(job: Job) -> str:
    if job.is_in_bay:
        return str(job.bay)
    return "outside" if job.arrived_at else "not here yet"


def _is_answer(task: PlannedTask) -> bool:
    return task.finding_id is not None and task.key == answer_key(task.finding_id)


def _is_over(row: DayRow) -> bool:
    return row.task.operation is not None and row.task.operation.finished_at is not None


def _day_at(calendar: ShopCalendar, now: datetime) -> date:
    today = calendar.local_date(now)
    shifts = calendar.day_shifts(today)
    if not calendar.weekly or (shifts and now < shifts[-1][1]):
        return today
    return calendar.local_date(calendar.next_open(now + timedelta(seconds=1)))


def _day_span(shop: Shop, on: date) -> tuple[datetime, datetime]:
    zone = ZoneInfo(shop.time_zone)
    tomorrow = on + timedelta(days=1)
    return datetime.combine(on, time.min, tzinfo=zone), datetime.combine(tomorrow, time.min, tzinfo=zone)
