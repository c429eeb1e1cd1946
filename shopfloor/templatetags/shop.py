"""Template filters, built in to every template: money, hours, lengths, areas and times as the shop writes them.

An empty value prints as nothing, since a template shows what is there. A value of the wrong type is a
defect and raises TypeError or ValueError.
"""

from datetime import date, datetime, timedelta
from decimal import ROUND_HALF_UP, Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.template.defaultfilters import length as how_many
from django.utils import timezone

from jobs.calc.days import long_day, short_day
from jobs.calc.lengths import print_length
from jobs.calc.temperatures import print_temperature
from jobs.models import Shop

register = template.Library()

M2_PER_SQ_FT = 0.3048**2
CENT = Decimal("0.01")
SPANS = [(timedelta(days=1), "day"), (timedelta(hours=1), "hour"), (timedelta(minutes=1), "minute")]


@register.filter
def money(usd: Decimal | int | str | None) -> str:
    """US dollars to the cent: $1,234.50. Raises TypeError for a float, which is never money."""
    if usd is None or usd == "":
        return ""
    if not isinstance(usd, Decimal | int):
        raise TypeError(f"money must be a Decimal, got {usd!r}")
    amount = Decimal(usd).quantize(CENT, rounding=ROUND_HALF_UP)
    return f"{'-' if amount < 0 else ''}${abs(amount):,.2f}"


@register.filter
def hours(number: float | str | None) -> str:
    """Hours with as many decimals as they need, at most two: 2.5 h."""
    if number is None or number == "":
        return ""
    text = f"{float(number):.2f}".rstrip("0").rstrip(".")
    return f"{'0' if text == '-0' else text} h"


@register.filter
def length(mm: Any, shop: Shop | None = None) -> str | int:
    """A length [mm] in the shop's units. Without a shop, Django's own filter of this name: how many there are.

    Built in, this one takes that name everywhere, and Django's admin pages count with it.
    """
    if shop is None:
        return how_many(mm)
    if mm is None or mm == "":
        return ""
    return print_length(float(mm), units=shop.units)


@register.filter
def temperature(temp_c: float | str | None, shop: Shop) -> str:
    """A temperature [C] in the shop's units: 72 °F."""
    return print_temperature(temp_c, units=shop.units) if isinstance(temp_c, int | float) else _nothing(temp_c)


@register.filter
def area(m2: float | str | None, shop: Shop) -> str:
    """An area [m2] in the shop's units: 24 sq ft."""
    if not isinstance(m2, int | float):
        return _nothing(m2)
    return f"{m2 / M2_PER_SQ_FT:.0f} sq ft" if shop.units == Shop.Units.US else f"{m2:.1f} m²"


@register.filter
def shop_time(at: datetime | str | None, shop: Shop) -> str:
    """Day and time on the shop's clock: Wed, Nov 25, 3:10 PM; with its year as near_date."""
    if not isinstance(at, datetime):
        return _nothing(at)
    at = _on_shop_clock(at, shop)
    day = short_day(at.date(), timezone.localdate())
    return f"{day}, {at.hour % 12 or 12}:{at:%M} {'AM' if at.hour < 12 else 'PM'}"


@register.filter
def shop_date(day: date | str | None, shop: Shop | None = None) -> str:
    """A day: Wed, Nov 25, 2026. A moment needs the shop, whose clock says which day it is."""
    if not isinstance(day, date):
        return _nothing(day)
    if isinstance(day, datetime):
        if shop is None:
            raise TypeError("shop_date of a moment needs the shop")
        day = _on_shop_clock(day, shop)
    return f"{day:%a, %b} {day.day}, {day.year}"


@register.filter
def near_date(day: date | str | None) -> str:
    """A day that is mostly near: Wed, Nov 25; with its year where that is not this year, or it is far away."""
    return short_day(day, timezone.localdate()) if isinstance(day, date) else _nothing(day)


@register.filter
def near_day(day: date | str | None) -> str:
    """The same in full: Wednesday, November 25."""
    return long_day(day, timezone.localdate()) if isinstance(day, date) else _nothing(day)


@register.filter
def age(span: timedelta | str | None) -> str:
    """A span in its largest whole unit: 3 hours, 2 days."""
    if not isinstance(span, timedelta):
        return _nothing(span)
    for unit, name in SPANS:
        if span >= unit:
            return _counted(span // unit, name)
    return "under a minute"


@register.filter
def signed_days(days: int | str | None) -> str:
    """Days gained or lost: +3 days, -1 day, 0 days."""
    if not isinstance(days, int):
        return _nothing(days)
    return f"{'+' if days > 0 else ''}{_counted(days, 'day')}"


def _on_shop_clock(at: datetime, shop: Shop) -> datetime:
    if at.tzinfo is None:
        raise ValueError(f"a time needs its time zone, got {at!r}")
    return at.astimezone(ZoneInfo(shop.time_zone))


def _counted(number: int, name: str) -> str:
    return f"{number} {name}" if abs(number) == 1 else f"{number} {name}s"


def _nothing(value: object) -> str:
    if value is None or value == "":
        return ""
    raise TypeError(f"this filter cannot print {value!r}")
