"""Money, days, measures and other people's text as words in a sentence."""

import unicodedata
from datetime import UTC, date, datetime
from decimal import Decimal
from fractions import Fraction
from functools import lru_cache
from zoneinfo import ZoneInfo

from babel.dates import format_date, format_time, get_timezone_name
from babel.numbers import format_currency

from updates.compose.facts import Common

MM_PER_INCH = 25.4
SMALLEST_DEPTH_MM = 1.0
# Control characters, line and paragraph separators: they could fake a line of ours.
BREAKING_CATEGORIES = frozenset({"Cc", "Zl", "Zp"})
# Marks that turn the direction of text could show a line in another order than it is read.
TURNING_MARKS = dict.fromkeys([0x061C, 0x200E, 0x200F, *range(0x202A, 0x202F), *range(0x2066, 0x206A)])

# Days, times and sums in words: one message says the same ones many times, and looking up how takes a while.
REMEMBERED = 256


def one_line(text: str) -> str:
    """Text as one line: no line breaks, control or direction marks, no double spaces."""
    if text.isprintable():  # then none of those marks is in it: nearly always so, and quickly known
        return " ".join(text.split())
    unturned = text.translate(TURNING_MARKS)
    shown = (" " if unicodedata.category(mark) in BREAKING_CATEGORIES else mark for mark in unturned)
    return " ".join("".join(shown).split())


def as_sentence(text: str) -> str:
    """Text from outside as one line that begins with a capital and ends with a stop."""
    line = one_line(text)
    if not line:
        return ""
    return line[0].upper() + line[1:] + ("" if line[-1] in ".!?" else ".")


def capitalised(text: str) -> str:
    return text[:1].upper() + text[1:]


def money(amount_usd: Decimal, common: Common) -> str:
    """US dollars as the owner's locale writes them."""
    return _money_in(amount_usd, common.locale)


@lru_cache(maxsize=REMEMBERED)
def _money_in(amount_usd: Decimal, locale: str) -> str:
    return one_line(format_currency(amount_usd, "USD", locale=locale))


def day(on: date, common: Common) -> str:
    """A day with its weekday, as the owner's locale writes it."""
    return _day_in(on, common.locale)


@lru_cache(maxsize=REMEMBERED)
def _day_in(on: date, locale: str) -> str:
    return one_line(format_date(on, "full", locale=locale))


def moment(at: datetime, common: Common) -> str:
    """A time on the shop's clock with its day and the zone's name. Raises ValueError for a naive time."""
    if at.tzinfo is None:
        raise ValueError(f"at must be aware, got {at!r}")
    # By UTC: the two half past ones of the night the clocks go back count as equal on the shop's clock.
    return _moment_in(at.astimezone(UTC), common.time_zone, common.locale)


@lru_cache(maxsize=REMEMBERED)
def _moment_in(at: datetime, time_zone: str, locale: str) -> str:
    local = at.astimezone(ZoneInfo(time_zone))
    clock = one_line(format_time(local, "short", tzinfo=local.tzinfo, locale=locale))
    zone = get_timezone_name(local, "short", locale=locale)
    return f"{_day_in(local.date(), locale)} at {clock} {zone}"


def days_apart(from_on: date, to_on: date) -> str:
    """Calendar days from one date to another: "3 days later", "1 day sooner", "no change"."""
    days = (to_on - from_on).days
    if days == 0:
        return "no change"
    return f"{abs(days)} day{'' if abs(days) == 1 else 's'} {'later' if days > 0 else 'sooner'}"


def hours(amount: float) -> str:
    """Hours of work to the half hour: "about 6 and a half hours"."""
    halves = max(1, round(amount * 2))
    whole, half = divmod(halves, 2)
    if not whole:
        return "about half an hour"
    return f"about {whole}{' and a half' if half else ''} hour{'s' if halves > 2 else ''}"


def depth(depth_mm: float, units: str) -> str:
    """How deep a probe went: to the sixteenth of an inch, or to the millimetre.

    depth_mm: [mm], at least SMALLEST_DEPTH_MM. Raises ValueError for units other than "us" and "metric".
    """
    if units == "metric":
        return f"{round(depth_mm)} mm"
    if units != "us":
        raise ValueError(f"units must be us or metric, got {units!r}")
    sixteenths = max(1, round(depth_mm / MM_PER_INCH * 16))
    whole, rest = divmod(sixteenths, 16)
    parts = [str(part) for part in (whole, Fraction(rest, 16)) if part]
    return f"{' and '.join(parts)} inch{'es' if sixteenths > 16 else ''}"
