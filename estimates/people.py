"""The people of a shop as the planner's workers: what they can do, when they work, when they are away."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from datetime import date, datetime, time, timedelta
from itertools import pairwise
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from estimates.calc.plan import Worker
from estimates.plan_keys import worker_key
from jobs.calc.workdays import Shift, ShopCalendar
from jobs.models import Absence, Overtime, Person, PersonHours, Shop

LONGEST_BREAK = timedelta(minutes=90)


def read_workers(shop: Shop, calendar: ShopCalendar) -> tuple[tuple[Worker, ...], dict[str, ShopCalendar]]:
    """Everybody with a skill, and the weeks of those who keep their own (four queries)."""
    people = Person.objects.filter(shop=shop, is_active=True)
    skills = _by_person(people.filter(skills__isnull=False).order_by("pk"), "pk", "skills__name")
    absences = _by_person(Absence.objects.filter(person__in=people), "person", "first_on", "last_on")
    hours = _by_person(PersonHours.objects.filter(person__in=people), "person", "weekday", "opens", "closes")
    overtime = _by_person(Overtime.objects.filter(person__in=people), "person", "begins_at", "ends_at")
    zone = ZoneInfo(shop.time_zone)
    workers = (
        Worker(
            key=worker_key(pk),
            skills=frozenset(name for (name,) in own_skills),
            away=tuple(_away(first_on, last_on, zone) for first_on, last_on in absences.get(pk, ())),
            overtime=tuple(overtime.get(pk, ())),
        )
        for pk, own_skills in skills.items()
    )
    weeks = {
        worker_key(pk): ShopCalendar(shop.time_zone, tuple(weekly), calendar.closures) for pk, weekly in hours.items()
    }
    return tuple(workers), weeks


def _by_person(rows: QuerySet[Any], person: str, *columns: str) -> dict[int, list[tuple[Any, ...]]]:
    """These columns of the rows of each person."""
    found: dict[int, list[tuple[Any, ...]]] = {}
    for pk, *values in rows.values_list(person, *columns):
        found.setdefault(pk, []).append(tuple(values))
    return found


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


def _away(first_on: date, last_on: date, zone: ZoneInfo) -> Shift:
    return (
        datetime.combine(first_on, time.min, tzinfo=zone),
        datetime.combine(last_on + timedelta(days=1), time.min, tzinfo=zone),
    )
