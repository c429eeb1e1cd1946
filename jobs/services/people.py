"""When somebody works: own weekly hours, days away, overtime."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from django.db import transaction
from django.utils import dateformat, timezone

from jobs.calc.days import long_day
from jobs.calc.workdays import ShopCalendar
from jobs.errors import NotNow
from jobs.models import Absence, Overtime, Person, PersonHours

LONGEST_AWAY = timedelta(days=366)
LONGEST_OVERTIME = timedelta(hours=12)
CLOCK_FORMAT = "g:i A"


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
    """Days away, both included.

    Raises NotNow if they are over, the wrong way round, more than a year, or hold another absence or overtime.
    """
    if last_on < first_on:
        raise NotNow("The last day lies before the first.", about="last_on")
    if last_on < today:
        raise NotNow("These days have passed.", about="last_on")
    if last_on - first_on > LONGEST_AWAY:
        raise NotNow("That is more than a year. Check the dates.", about="last_on")
    if person.absences.filter(first_on__lte=last_on, last_on__gte=first_on).exists():
        raise NotNow("They are away on some of these days already. Take that out first.", about="first_on")
    for span in person.overtime.all():
        begins_on, ends_on = _days_of(person, span.begins_at, span.ends_at)
        if begins_on <= last_on and ends_on >= first_on:
            words = f"Overtime is noted for {_day_words(begins_on)}. Take that out first, below."
            raise NotNow(words, about="first_on")
    return Absence.objects.create(person=person, first_on=first_on, last_on=last_on)


@transaction.atomic
def add_overtime(*, person: Person, begins_at: datetime, ends_at: datetime, now: datetime) -> Overtime:
    """One span on top of the usual hours.

    Raises NotNow if it is over, the wrong way round, too long, or lies on other overtime, on a day away or on hours
    that are worked anyway, which would add less time than it says.
    """
    if ends_at <= begins_at:
        raise NotNow("The end lies before the beginning.", about="ends_at")
    if ends_at <= now:
        raise NotNow("That has passed.", about="on")
    if ends_at - begins_at > LONGEST_OVERTIME:
        raise NotNow("That is more than 12 hours on end. Check the dates.", about="ends_at")
    if person.overtime.filter(begins_at__lt=ends_at, ends_at__gt=begins_at).exists():
        raise NotNow("This overlaps overtime that is there already.", about="begins_at")
    begins_on, ends_on = _days_of(person, begins_at, ends_at)
    if away := person.absences.filter(first_on__lte=ends_on, last_on__gte=begins_on).first():
        words = f"They are away {_span_words(away)}. Take that out first, or choose another day."
        raise NotNow(words, about="on")
    _check_outside_hours(person, begins_at, ends_at)
    return Overtime.objects.create(person=person, begins_at=begins_at, ends_at=ends_at)


def _check_outside_hours(person: Person, begins_at: datetime, ends_at: datetime) -> None:
    """Raises NotNow, about the end of the span to move, if some of it is worked anyway."""
    if not (worked := (calendar := _usual_calendar(person)).shifts(begins_at, ends_at)):
        return
    begins_worked, _ = worked[0]
    on = calendar.local_date(begins_worked)
    zone = ZoneInfo(calendar.time_zone)
    usual = " and ".join(
        f"from {_clock_words(opens.astimezone(zone))} to {_clock_words(closes.astimezone(zone))}"
        for opens, closes in calendar.day_shifts(on)
    )
    raise NotNow(
        f"Overtime is for time outside their hours. On {_day_words(on)} they work {usual} anyway.",
        about="begins_at" if begins_worked <= begins_at else "ends_at",
    )


def _usual_calendar(person: Person) -> ShopCalendar:
    """The hours a person works anyway: the shop's, or the own week, closed on the shop's closed days."""
    if person.shop is None:
        raise NotNow("This person belongs to no shop.")
    calendar = person.shop.calendar()
    own = tuple((each.weekday, each.opens, each.closes) for each in person.own_hours.all())
    return replace(calendar, weekly=own) if own else calendar


def _clock_words(at: datetime) -> str:
    return dateformat.format(at, CLOCK_FORMAT)


def _days_of(person: Person, begins_at: datetime, ends_at: datetime) -> tuple[date, date]:
    """The first and last day that a span touches, on the shop's clock; ending at midnight it leaves the next alone."""
    if person.shop is None:
        raise NotNow("This person belongs to no shop.")
    return person.shop.local_date(begins_at), person.shop.local_date(ends_at - timedelta(microseconds=1))


def _span_words(away: Absence) -> str:
    if away.first_on == away.last_on:
        return f"on {_day_words(away.first_on)}"
    return f"from {_day_words(away.first_on)} to {_day_words(away.last_on)}"


def _day_words(on: date) -> str:
    return long_day(on, timezone.localdate())


def remove_absence(*, absence: Absence) -> None:
    absence.delete()


def remove_overtime(*, overtime: Overtime) -> None:
    overtime.delete()
