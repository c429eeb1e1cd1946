"""Lengths as people write them: feet, inches and fractions, or metric; read and printed.

Source: 1 in = 25.4 mm exactly (international inch, 1959).
"""

import re
import unicodedata
from fractions import Fraction

MM_PER_INCH = Fraction(254, 10)
MM_PER = {"ft": 12 * MM_PER_INCH, "in": MM_PER_INCH, "m": Fraction(1000), "cm": Fraction(10), "mm": Fraction(1)}
BARE_UNIT = {"us": "in", "metric": "mm"}
EXAMPLES = {"us": "6' 3 1/2\" or 75.5", "metric": "1.92 m or 1920"}
# Longer than any coach on the road: a slip of the unit.
LONGEST_MM = 30_000
LONGEST_WORDS = {"us": "98 feet", "metric": "30 m"}
SIXTEENTHS = 16
MAX_CHARACTERS = 40

SPELLINGS = {
    "ft": ("feet", "foot", "ft", "'"),
    "in": ("inches", "inch", "in", '"'),
    "mm": ("millimetres", "millimeters", "millimetre", "millimeter", "mm"),
    "cm": ("centimetres", "centimeters", "centimetre", "centimeter", "cm"),
    "m": ("metres", "meters", "metre", "meter", "m"),
}
UNIT_OF = {spelling: unit for unit, spellings in SPELLINGS.items() for spelling in spellings}
PLAIN_MARKS = str.maketrans(
    {"′": "'", "’": "'", "‘": "'", "″": '"', "”": '"', "“": '"', "⁄": "/"} | dict.fromkeys("−–—‐‑", "-")
)

_AMOUNT = r"[0-9]+(?:\s*-\s*|\s+)[0-9]+\s*/\s*[0-9]+|[0-9]+\s*/\s*[0-9]+|[0-9]+(?:[.,][0-9]+)?|[.,][0-9]+"
_FEET = "|".join(re.escape(word) for word in SPELLINGS["ft"])
_INCHES = "|".join(re.escape(word) for word in SPELLINGS["in"])
_UNITS = "|".join(re.escape(word) for word in sorted(UNIT_OF, key=len, reverse=True))
FEET_AND_INCHES = re.compile(rf"([0-9]+)\s*(?:{_FEET})\.?\s*-?\s*({_AMOUNT})\s*(?:(?:{_INCHES})\.?)?")
ONE_AMOUNT = re.compile(rf"({_AMOUNT})\s*(?:({_UNITS})\.?)?")


def parse_length_mm(text: str, *, units: str) -> float:
    """Millimetres of a typed length; an explicit unit wins, a bare number is inches ("us") or mm ("metric").

    Raises ValueError, in words for whoever typed it, if the text is empty, negative, not a length, could be read
    two ways (1,920 mm; a bare 1.92 where mm are meant), or is longer than 30 m; and if units is neither "us" nor
    "metric".
    """
    _check_units(units)
    if not text.strip():
        raise ValueError(f"No length was typed. Write one such as {EXAMPLES[units]}.")
    plain = _plain(text)
    if plain.startswith("-"):
        raise ValueError(f"“{_shown(text)}” is below zero. Write a length such as {EXAMPLES[units]}.")
    length_mm = _read_mm(plain, units) if len(plain) <= MAX_CHARACTERS else None
    if length_mm is None:
        raise ValueError(f"“{_shown(text)}” does not read as a length. Write one such as {EXAMPLES[units]}.")
    if length_mm > LONGEST_MM:
        raise ValueError(
            f"“{_shown(text)}” is more than {LONGEST_WORDS[units]}, longer than any coach. "
            f"Check the unit and write a length such as {EXAMPLES[units]}."
        )
    return float(length_mm)


def print_length(mm: float, *, units: str) -> str:
    """A length in the shop's units; what is printed reads back with `parse_length_mm`.

    us: feet, inches and the nearest 1/16 inch. metric: the nearest millimetre, in metres from one metre on.
    Raises ValueError if mm is negative or not a number, or units is neither "us" nor "metric".
    """
    _check_units(units)
    if not 0 <= mm < float("inf"):
        raise ValueError(f"mm must be 0 or more, got {mm!r}")
    return _feet_and_inches(mm) if units == "us" else _metric(mm)


def _check_units(units: str) -> None:
    if units not in BARE_UNIT:
        raise ValueError(f"units must be 'us' or 'metric', got {units!r}")


def _plain(text: str) -> str:
    # The space keeps 6½ from becoming 61/2 when the fraction is taken apart.
    apart = "".join(f" {mark}" if unicodedata.decomposition(mark).startswith("<fraction>") else mark for mark in text)
    marks = unicodedata.normalize("NFKC", apart.translate(PLAIN_MARKS)).translate(PLAIN_MARKS)
    return " ".join(marks.replace("''", '"').lower().split())


def _shown(text: str) -> str:
    text = " ".join(text.split())
    return text if len(text) <= MAX_CHARACTERS else f"{text[:MAX_CHARACTERS]}…"


def _read_mm(plain: str, units: str) -> Fraction | None:
    if match := FEET_AND_INCHES.fullmatch(plain):
        feet, inches = _amount(match[1]), _amount(match[2])
        # 6' 32" is more likely a missed space or stroke than eight feet eight.
        return None if feet is None or inches is None or inches >= 12 else feet * MM_PER["ft"] + inches * MM_PER["in"]
    if match := ONE_AMOUNT.fullmatch(plain):
        amount, unit = _amount(match[1]), UNIT_OF[match[2]] if match[2] else BARE_UNIT[units]
        if amount is None:
            return None
        _check_one_meaning(match[1], amount, unit, has_unit=match[2] is not None)
        return amount * MM_PER[unit]
    return None


def _check_one_meaning(written: str, amount: Fraction, unit: str, *, has_unit: bool) -> None:
    """Refuse a mark before three digits that may part the thousands, and 1.92 for metres in a field of mm."""
    marks = {"m": "", "mm": ".,"}.get(unit, ",")
    if marks and re.fullmatch(rf"[1-9][0-9]{{0,2}}[{marks}][0-9]{{3}}", written):
        whole = re.sub("[.,]", "", written)
        raise ValueError(f"“{written}” can be read two ways. Write {whole} if you mean {whole} {unit}.")
    if unit == "mm" and not has_unit and amount.denominator != 1 and amount * MM_PER["m"] <= LONGEST_MM:
        raise ValueError(f"“{written}” has no unit. Write {written} m if you mean metres.")


def _amount(text: str) -> Fraction | None:
    """Whole, decimal (point or comma), fraction, or whole and fraction; None if the fraction makes no sense."""
    *whole, last = re.split(r"(?<=[0-9])\s*-\s*(?=[0-9])|(?<=[0-9])\s+(?=[0-9])", re.sub(r"\s*/\s*", "/", text))
    if "/" not in last:
        return Fraction(last.replace(",", "."))
    top, bottom = (int(part) for part in last.split("/"))
    if bottom == 0 or (whole and top >= bottom):
        return None
    return Fraction(top, bottom) + sum(int(part) for part in whole)


def _feet_and_inches(mm: float) -> str:
    sixteenths = _rounded(Fraction(mm) / MM_PER_INCH * SIXTEENTHS)
    inches, over = divmod(sixteenths, SIXTEENTHS)
    feet, inches = divmod(inches, 12)
    fraction = str(Fraction(over, SIXTEENTHS)) if over else ""
    words = " ".join(part for part in [str(inches) if inches or feet or not over else "", fraction] if part)
    return f"{feet}' {words}\"" if feet else f'{words}"'


def _metric(mm: float) -> str:
    whole_mm = _rounded(Fraction(mm))
    if whole_mm < 1000:
        return f"{whole_mm} mm"
    metres, over = divmod(whole_mm, 1000)
    return f"{metres}.{over:03} m" if over % 10 else f"{metres}.{over // 10:02} m"


def _rounded(value: Fraction) -> int:
    """To the nearest whole, halves up."""
    return (2 * value.numerator + value.denominator) // (2 * value.denominator)
