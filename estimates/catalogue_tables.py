"""The catalogue's files: which columns each has, and what a cell of it may hold."""

from collections.abc import Callable, Mapping
from typing import Any

from estimates.calc.csv_table import Column, choice, decimal, number, plain, text, whole, yes_no
from estimates.calc.money import MOST_USD
from estimates.models.catalogue import Basis, Rates, TaxCategory
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


def _one_of(name: str, values: list[str], *, is_optional: bool = False) -> Column:
    return Column(name, choice({value: value for value in values}, is_optional=is_optional))


def _labelled(name: str, words: Mapping[str, Any]) -> Column:
    labels = {value: label for label, value in words.items()}
    return Column(name, choice(words), lambda value: plain(labels[value]))


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
        Column("pack_quantity", number(0, 1_000_000, is_above=True)),
        Column("pack_cost_usd", decimal(str(MOST_USD), 2)),
        _one_of("tax_category", TaxCategory.values),
        Column("markup_pct", decimal("999.99", 2, is_optional=True)),
        Column("coverage_note", text(200, is_optional=True)),
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
        Column("setup_hours", number(0, MOST_HOURS)),
        Column("hours_per_unit", number(0, MOST_HOURS)),
        Column("skill", text(40, is_optional=True)),
        Column("crew", whole(1, MOST_CREW)),
        Column("is_in_one_shift", yes_no),
        Column("needs_bay", yes_no),
        Column("is_drying", yes_no),
        Column("hold_point", text(160, is_optional=True)),
        ORIGIN,
    ),
    "recipe_materials": (
        REMEDY,
        Column("material", NAME),
        _one_of("basis", Basis.values),
        Column("per_unit", number(0, 1_000_000, is_above=True)),
        Column("waste", number(0, 0.5)),
        Column("bead_width_in", number(0, 12, is_above=True, is_optional=True)),
        Column("bead_depth_in", number(0, 12, is_above=True, is_optional=True)),
        ORIGIN,
    ),
}
FILES = {f"{name}.csv": name for name in TABLES}
