"""When somebody works: own weekly hours, days away, overtime."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

from django.db import transaction

from jobs.errors import NotNow
from jobs.models import Absence, Overtime, Person, PersonHours

LONGEST_AWAY = timedelta(days=366)
LONGEST_OVERTIME = timedelta(hours=12)


@dataclass(frozen=True)
class OwnHours:
    """Working hours of one weekday (0 is Monday)."""

    weekday: int
    opens: time
    closes: time


@transaction.atomic
def set_own_hours(*, person: Person, hours: Sequence[OwnHours]) -> None:
    """A person's own week, in place of the shop's hours; none at all gives the shop's hours back.

    Raises NotNow if a day ends before it begins, or stands there twice.
    """
    if len({each.weekday for each in hours}) < len(hours):
        raise NotNow("Each day of the week can be given once.")
    if any(each.closes <= each.opens for each in hours):
        raise NotNow("A day must end after it begins.")
    PersonHours.objects.filter(person=person).delete()
    PersonHours.objects.bulk_create(
        PersonHours(person=person, weekday=each.weekday, opens=each.opens, closes=each.closes) for each in hours
    )


@transaction.atomic
def add_absence(*, person: Person, first_on: date, last_on: date, today: date) -> Absence:
    """Days away, both included. Raises NotNow if they are over, the wrong way round, or more than a year."""
    if last_on < first_on:
        raise NotNow("The last day lies before the first.")
    if last_on < today:
        raise NotNow("These days have passed.")
    if last_on - first_on > LONGEST_AWAY:
        raise NotNow("That is more than a year. Check the dates.")
    if person.absences.filter(first_on__lte=last_on, last_on__gte=first_on).exists():
        raise NotNow("They are away on some of these days already. Take that out first.")
    return Absence.objects.create(person=person, first_on=first_on, last_on=last_on)


@transaction.atomic
def add_overtime(*, person: Person, begins_at: datetime, ends_at: datetime, now: datetime) -> Overtime:
    """One span on top of the usual hours. Raises NotNow if it is over, the wrong way round, or too long."""
    if ends_at <= begins_at:
        raise NotNow("The end lies before the beginning.")
    if ends_at <= now:
        raise NotNow("That has passed.")
    if ends_at - begins_at > LONGEST_OVERTIME:
        raise NotNow("That is more than 12 hours on end. Check the dates.")
    if person.overtime.filter(begins_at__lt=ends_at, ends_at__gt=begins_at).exists():
        raise NotNow("This overlaps overtime that is there already.")
    return Overtime.objects.create(person=person, begins_at=begins_at, ends_at=ends_at)


def remove_absence(*, absence: Absence) -> None:
    absence.delete()


def remove_overtime(*, overtime: Overtime) -> None:
    overtime.delete()
