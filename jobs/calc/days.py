"""Days as they are read: with their year wherever somebody could take them for a day of another."""

from datetime import date

# Further away than this, a day could be taken for the one a year nearer. Planning value, no source.
FAR_DAYS = 300


def short_day(day: date, today: date) -> str:
    """Wed, Nov 25; with its year where that is not this year, or the day is far away."""
    # Not by Django's `dateformat`, which takes ten times as long: a board prints hundreds.
    return f"{day:%a, %b} {day.day}{_year(day, today)}"


def bare_day(day: date, today: date) -> str:
    """Nov 25; the year as above."""
    return f"{day:%b} {day.day}{_year(day, today)}"


def long_day(day: date, today: date) -> str:
    """Wednesday, November 25; the year as above."""
    return f"{day:%A, %B} {day.day}{_year(day, today)}"


def _year(day: date, today: date) -> str:
    return f", {day.year}" if day.year != today.year or abs((day - today).days) > FAR_DAYS else ""
