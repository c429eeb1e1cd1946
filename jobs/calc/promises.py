"""Which days a coach may be promised for."""

from datetime import date

from jobs.calc.days import long_day
from jobs.calc.workdays import ShopCalendar


def refusal(ready_on: date, *, today: date, arrives_on: date | None) -> str:
    """Why no owner can be promised this day, in words; empty where nothing speaks against it.

    arrives_on: None once the coach is here.
    """
    if ready_on < today:
        return "That day has passed. Promise today or later."
    if arrives_on and ready_on < arrives_on:
        return "This lies before the coach arrives."
    return ""


def closed_words(ready_on: date, calendar: ShopCalendar, *, today: date) -> str:
    """That nobody could hand the coach over on this day; empty where the shop is open, or has no opening hours at all.

    Asked where a date is typed. A promise that stands may come to lie on a day that the shop closes later.
    """
    if calendar.weekly and not calendar.is_workday(ready_on):
        opens_on = calendar.workday_from(ready_on)
        return f"The shop is closed on {long_day(ready_on, today)}. It opens next on {long_day(opens_on, today)}."
    return ""
