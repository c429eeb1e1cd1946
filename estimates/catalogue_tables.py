"""The catalogue's files: which columns each has, and what a cell of it may hold."""

import re
from collections.abc import Callable, Mapping
from decimal import Decimal
from fractions import Fraction
from typing import Any

from estimates.calc.csv_table import Column, choice, decimal, number, plain, text, whole, yes_no
from estimates.calc.money import MOST_USD
from estimates.calc.takeoff_rules import LONGEST_STICK_MM
from estimates.models.catalogue import (
    COVERAGE_BASES,
    COVERAGE_UNITS,
    Basis,
    Extent,
    Laid,
    Rates,
    TakeOff,
    TaxCategory,
)
from jobs.calc.equipment import FIELDS as EQUIPMENT
from jobs.calc.equipment import LARGEST_AREA_M2, MOST_AT_ONCE, SMALLEST_AREA_M2
from jobs.calc.lengths import LONGEST_MM as LONGEST_TYPED_MM
from jobs.calc.lengths import MM_PER, parse_length_mm
from jobs.calc.moisture.evidence import MEMBERS
from jobs.models.finding import FACE_CHOICES, VERDICT_CHOICES, FindingKind
from jobs.models.work import OperationKind, Phase

PLANNING_VALUE = "planning value, replace with yours"
OWN_VALUE = "our own"
ORIGINS = {PLANNING_VALUE: True, OWN_VALUE: False}
# The longest wait a technician may state, and a slip beyond it.
MOST_HOURS = 24 * 60
MOST_CREW = 20
MOST_STEPS = 99


# Columns whose cells carry their own unit; the field of each ends in _mm.
SIZES = ("width", "length", "kerf", "wrap", "lap", "spacing", "member_spacing")
# Columns of areas, with their unit too; the field of each ends in _m2.
AREAS = tuple(f"{kind}_area" for kind in EQUIPMENT)
M2_PER_FT2 = Fraction("0.09290304")
LONGEST_MM = 100_000.0
SIXTEENTHS_IN_FOOT = 12 * 16
_AREA = re.compile(r"(\d+(?:\.\d+)?) ?(ft2|ft²|sq ft|m2|m²)", re.ASCII)
_PLAIN_SIZE = re.compile(r"(\d+(?:\.\d+)?) ?(mm|cm|m|in|ft)", re.ASCII)


def size(lowest_mm: float, highest_mm: float) -> Callable[[str], float | None]:
    """A reader of a length with its unit, "8 ft", "3 1/2 in", "2440 mm", as millimetres; None for an empty cell."""

    def read(cell: str) -> float | None:
        if not cell:
            return None
        if cell[-1].isnumeric():
            raise ValueError(f"needs its unit, such as 8 ft, 3/8 in or 2440 mm; got “{cell[:40]}”")
        match = _PLAIN_SIZE.fullmatch(cell)
        size_mm = float(Fraction(match[1]) * MM_PER[match[2]]) if match else parse_length_mm(cell, units="us")
        if not lowest_mm <= size_mm <= highest_mm:
            ends = f"{write_size(lowest_mm)} to {write_size(highest_mm)}"
            raise ValueError(f"must be {ends}, got “{cell[:40]}”")
        return size_mm

    return read


def write_size(size_mm: float | None) -> str:
    """A length with its unit, so that it reads back exactly: feet or inches where they say it, else millimetres."""
    if size_mm is None:
        return ""
    sixteenths = round(Fraction(size_mm) / MM_PER["in"] * 16)
    # Fractions are read by parse_length_mm, which knows no length beyond a coach's.
    is_too_long = sixteenths % 16 and size_mm > LONGEST_TYPED_MM
    if is_too_long or float(sixteenths * MM_PER["in"] / 16) != size_mm:
        # Exact, and never with an exponent.
        return f"{Decimal(repr(size_mm)):f}".removesuffix(".0") + " mm"
    if sixteenths and not sixteenths % SIXTEENTHS_IN_FOOT:
        return f"{sixteenths // SIXTEENTHS_IN_FOOT} ft"
    inches, over = divmod(sixteenths, 16)
    return " ".join(
        [*([str(inches)] if inches or not over else []), *([str(Fraction(over, 16))] if over else []), "in"]
    )


def area(cell: str) -> float | None:
    """A cell with an area and its unit, "50 ft2", "50 sq ft", "4.5 m2", as square metres; None for an empty one."""
    if not cell:
        return None
    match = _AREA.fullmatch(cell)
    if not match:
        raise ValueError(f"needs a number and its unit, such as 50 ft2 or 4.5 m2; got “{cell[:40]}”")
    area_m2 = float(Fraction(match[1]) * (1 if match[2].startswith("m") else M2_PER_FT2))
    if not SMALLEST_AREA_M2 <= area_m2 <= LARGEST_AREA_M2:
        raise ValueError(f"must be 1 ft2 to {LARGEST_AREA_M2:.0f} m2, got “{cell[:40]}”")
    return area_m2


def write_area(area_m2: float | None) -> str:
    """An area with its unit, so that it reads back exactly: square feet where they say it in two places."""
    if area_m2 is None:
        return ""
    ft2 = Decimal(round(Fraction(area_m2) / M2_PER_FT2 * 100)) / 100
    if float(Fraction(ft2) * M2_PER_FT2) == area_m2:
        return f"{ft2.normalize():f} ft2"
    return f"{Decimal(repr(area_m2)):f}".removesuffix(".0") + " m2"


def field_of(column: str) -> str:
    """The model's field behind a column: sizes are kept in millimetres, areas in square metres."""
    return f"{column}_mm" if column in SIZES else f"{column}_m2" if column in AREAS else column


def _size(name: str, lowest_mm: float, highest_mm: float) -> Column:
    return Column(name, size(lowest_mm, highest_mm), write_size)


def _given(read: Callable[[str], float | None]) -> Callable[[str], float | None]:
    def read_given(cell: str) -> float | None:
        if not cell:
            raise ValueError("must not be empty")
        return read(cell)

    return read_given


def _optional(read: Callable[[str], int]) -> Callable[[str], int | None]:
    return lambda cell: read(cell) if cell else None


def _one_of(name: str, values: list[str], *, is_optional: bool = False) -> Column:
    return Column(name, choice({value: value for value in values}, is_optional=is_optional), words=tuple(values))


def _labelled(name: str, words: Mapping[str, Any]) -> Column:
    labels = {value: label for label, value in words.items()}
    return Column(name, choice(words), lambda value: plain(labels[value]), tuple(words))


NAME: Callable[[str], str] = text(80)
REMEDY = Column("remedy", NAME)
# Every figure says whose it is.
ORIGIN = _labelled("origin", ORIGINS)

TABLES: dict[str, tuple[Column, ...]] = {
    "skills": (Column("name", text(40)),),
    "rates": (
        Column("labour_usd_per_hour", decimal("999999.99", 2)),
        Column("labour_cost_usd_per_hour", decimal("999999.99", 2, is_optional=True)),
        Column("material_markup_pct", decimal("999.99", 2)),
        Column("tax_rate_pct", decimal("100", 4, is_below=True)),
        Column("is_labour_taxed", yes_no),
        _one_of("tax_basis", Rates.TaxBasis.values),
        ORIGIN,
    ),
    "materials": (
        Column("name", NAME),
        Column("sold_unit", text(20)),
        _one_of("takeoff", TakeOff.values),
        Column("pack_quantity", number(0, 1_000_000, is_above=True)),
        Column("pack_cost_usd", decimal(str(MOST_USD), 2)),
        _one_of("tax_category", TaxCategory.values),
        Column("markup_pct", decimal("999.99", 2, is_optional=True)),
        _size("width", 10, LONGEST_MM),
        _size("length", 10, LONGEST_MM),
        _size("kerf", 0, 25),
        Column("is_cut_to_length", yes_no),
        Column("coverage_rate", number(0, 1_000_000, is_above=True, is_optional=True)),
        _one_of("coverage_unit", list(COVERAGE_UNITS), is_optional=True),
        _one_of("coverage_basis", list(COVERAGE_BASES), is_optional=True),
        Column("coverage_note", text(200, is_optional=True)),
        ORIGIN,
    ),
    "stock_lengths": (
        Column("material", NAME),
        Column("length", _given(size(10, LONGEST_STICK_MM)), write_size),
        Column("cost_usd", decimal(str(MOST_USD), 2)),
        ORIGIN,
    ),
    "remedies": (
        Column("name", NAME),
        Column("words", text(300)),
        Column("caution", text(300, is_optional=True)),
        Column("keeps", text(200, is_optional=True)),
        Column("warranty", text(200, is_optional=True)),
    ),
    "matches": (
        REMEDY,
        _one_of("kind", FindingKind.values, is_optional=True),
        _one_of("verdict", [value for value, _ in VERDICT_CHOICES], is_optional=True),
        _one_of("member", [value for value, _ in MEMBERS], is_optional=True),
        _one_of("face", [value for value, _ in FACE_CHOICES], is_optional=True),
    ),
    "operations": (
        REMEDY,
        Column("position", whole(1, MOST_STEPS)),
        _labelled("phase", {phase.label: phase.value for phase in Phase}),
        Column("words", text(120)),
        _one_of("kind", OperationKind.values),
        _one_of("basis", Basis.values),
        _one_of("extent", Extent.values),
        Column("setup_hours", number(0, MOST_HOURS)),
        Column("hours_per_unit", number(0, MOST_HOURS)),
        Column("skill", text(40, is_optional=True)),
        Column("crew", whole(1, MOST_CREW)),
        Column("is_in_one_shift", yes_no),
        Column("needs_bay", yes_no),
        Column("is_drying", yes_no),
        # Files from before these were kept have no such columns; what stands then stays.
        *(Column(name, whole(0, MOST_AT_ONCE), may_be_missing=True) for name in EQUIPMENT.values()),
        *(Column(name, area, write_area, may_be_missing=True) for name in AREAS),
        Column("hold_point", text(160, is_optional=True)),
        ORIGIN,
    ),
    "recipe_materials": (
        REMEDY,
        Column("material", NAME),
        _one_of("basis", Basis.values),
        _one_of("extent", Extent.values),
        Column("per_unit", number(0, 1_000_000, is_above=True)),
        Column("waste", number(0, 0.5)),
        Column("bead_width_in", number(0, 12, is_above=True, is_optional=True)),
        Column("bead_depth_in", number(0, 12, is_above=True, is_optional=True)),
        _one_of("laid", [way for way in Laid.values if way], is_optional=True),
        _size("wrap", 0, 1000),
        _size("lap", 0, 1000),
        Column("faces", _optional(whole(1, 2))),
        _size("spacing", 5, 2000),
        _size("member_spacing", 5, 2000),
        ORIGIN,
    ),
}
FILES = {f"{name}.csv": name for name in TABLES}
