"""The people of a shop as the planner's workers: what they can do, when they work, when they are away."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from estimates.calc.plan import Worker
from estimates.plan_keys import worker_key
from jobs.calc.workdays import Shift, ShopCalendar
from jobs.models import Absence, Person, Shop

LONGEST_BREAK = timedelta(minutes=90)


def read_workers(shop: Shop, calendar: ShopCalendar) -> tuple[tuple[Worker, ...], dict[str, ShopCalendar]]:
    """Everybody with a skill, and the weeks of those who keep their own (five queries)."""
    zone = ZoneInfo(shop.time_zone)
    people = Person.objects.filter(shop=shop, is_active=True).prefetch_related(
        "skills", "absences", "own_hours", "overtime"
    )
    workers, weeks = [], {}
    for person in people.order_by("pk"):
        skills = frozenset(skill.name for skill in person.skills.all())
        if not skills:
            continue
        away = tuple(_away(absence, zone) for absence in person.absences.all())
        overtime = tuple((span.begins_at, span.ends_at) for span in person.overtime.all())
        workers.append(Worker(worker_key(person.pk), skills, away, overtime=overtime))
        if weekly := tuple((each.weekday, each.opens, each.closes) for each in person.own_hours.all()):
            weeks[worker_key(person.pk)] = ShopCalendar(shop.time_zone, weekly, calendar.closures)
    return tuple(workers), weeks


def with_own_hours(
    workers: Sequence[Worker],
    weeks: Mapping[str, ShopCalendar],
    shifts: Sequence[Shift],
    begin: datetime,
    end: datetime,
) -> Iterator[Worker]:
    """The workers, with their own spans between two moments where they keep their own week.

    shifts: the shop's; its midday breaks are everybody's.
    """
    breaks = [(before[1], after[0]) for before, after in pairwise(shifts) if after[0] - before[1] <= LONGEST_BREAK]
    for worker in workers:
        week = weeks.get(worker.key)
        yield replace(worker, hours=tuple(without(week.shifts(begin, end), breaks))) if week else worker


def without(spans: Sequence[Shift], breaks: Sequence[Shift]) -> Iterator[Shift]:
    """The spans with the breaks cut out; both sorted."""
    for begin, end in spans:
        at = begin
        for break_begin, break_end in breaks:
            if break_end <= at or break_begin >= end:
                continue
            if break_begin > at:
                yield at, break_begin
            at = break_end
        if at < end:
            yield at, end


def _away(absence: Absence, zone: ZoneInfo) -> Shift:
    return (
        datetime.combine(absence.first_on, time.min, tzinfo=zone),
        datetime.combine(absence.last_on + timedelta(days=1), time.min, tzinfo=zone),
    )
