"""From a remedy at a place to its operations, materials and price: rows in, frozen values out."""

from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any

from estimates.calc.money import PriceLine, Totals, decimal_quantity, line_amount, totals
from estimates.calc.takeoff import bead_length_ft, labour_hours, packs_needed, quantity_for
from estimates.models import Material, Rates, RecipeMaterial, RecipeOperation
from estimates.models.catalogue import Basis, TaxCategory
from jobs.calc.faces import Place
from jobs.calc.moisture.verdict import Verdict
from jobs.models import Remedy
from jobs.models.work import OperationKind, Phase
from jobs.services.work import NewOperation

PERCENT = Decimal(100)
UNIT_WORDS = {"area_ft2": "ft²", "area_m2": "m²", "edge_ft": "ft", "edge_m": "m", "length_ft": "ft", "length_m": "m"}


@dataclass(frozen=True)
class WorkedOut:
    """A remedy at its place: what is done and what it costs the owner."""

    operations: tuple[NewOperation, ...]
    lines: tuple[PriceLine, ...]
    totals: Totals


def work_out(remedy: Remedy, rates: Rates) -> WorkedOut:
    """Operations, price lines and totals of a remedy at its finding's place, at today's catalogue and rates."""
    if remedy.standard:
        place = remedy.finding.place
        recipe = list(remedy.standard.recipe_operations.select_related("skill"))
        materials = remedy.standard.recipe_materials.select_related("material").order_by("pk")
        operations = tuple(_operation(step, place) for step in recipe)
        material_lines = [_material_line(item, place, rates) for item in materials]
    else:
        operations = _own_operations(remedy)
        material_lines = _own_material_lines(remedy, rates)
    labour_lines = [
        _labour_line(number, operation, rates)
        for number, operation in enumerate(operations, start=1)
        if operation.kind == OperationKind.LABOUR
    ]
    lines = tuple(labour_lines + material_lines)
    return WorkedOut(operations, lines, line_totals(lines, rates))


def line_totals(lines: tuple[PriceLine, ...], rates: Rates) -> Totals:
    """What the owner pays for these lines, tax by the shop's rule."""
    return totals(lines, tax_rate=rates.tax_rate_pct / PERCENT, tax_basis=rates.tax_basis)


def lines_as_json(lines: tuple[PriceLine, ...]) -> list[dict[str, Any]]:
    """Price lines in the canonical form that offers and revisions keep; money as text.

    Without what they cost the shop: offers and revisions are the owner's (estimates/services/costs.py keeps costs).
    """
    return [
        {
            name: str(value) if isinstance(value, Decimal) else value
            for name, value in asdict(line).items()
            if name != "cost_usd"
        }
        for line in lines
    ]


def lines_from_json(rows: list[dict[str, Any]]) -> tuple[PriceLine, ...]:
    """The inverse of lines_as_json."""
    money = ("quantity", "unit_price_usd", "amount_usd")
    return tuple(PriceLine(**row | {name: Decimal(row[name]) for name in money}) for row in rows)


def totals_as_json(value: Totals) -> dict[str, str]:
    return {name: str(amount) for name, amount in asdict(value).items()}


def _operation(step: RecipeOperation, place: Place) -> NewOperation:
    units = quantity_for(
        step.basis,
        per_unit=1.0,
        area_m2=place.area_m2,
        perimeter_m=place.perimeter_m,
        long_edge_m=place.long_edge_m,
    )
    hours = labour_hours(step.setup_hours, step.hours_per_unit, units)
    return NewOperation(
        phase=step.phase,
        words=step.words,
        kind=step.kind,
        # A quarter hour is as fine as a shop plans.
        hours=max(0.25, round(hours * 4) / 4),
        skill=step.skill,
        crew=step.crew,
        is_in_one_shift=step.is_in_one_shift,
        needs_bay=step.needs_bay,
        is_drying=step.is_drying,
        hold_point=step.hold_point,
        recipe_key=step.key,
        units=units,
    )


def _own_operations(remedy: Remedy) -> tuple[NewOperation, ...]:
    work = NewOperation(
        phase=Phase.FRAMING,
        words=remedy.own_words[:120],
        kind=OperationKind.LABOUR,
        hours=remedy.own_hours or 0.0,  # never None here: remedy_standard_or_own
        skill=remedy.own_skill,
    )
    if not remedy.own_wait_hours:
        return (work,)
    wait = NewOperation(
        phase=Phase.FRAMING,
        words="Drying or curing time",
        kind=OperationKind.WAIT,
        hours=remedy.own_wait_hours,
        skill=None,
        is_drying=remedy.finding.standing_verdict == Verdict.WAIT_FOR_DRY,
    )
    return (work, wait)


def _labour_line(number: int, operation: NewOperation, rates: Rates) -> PriceLine:
    hours = decimal_quantity(operation.hours * operation.crew, 2)
    return PriceLine(
        key=f"labour-{number}",
        words=operation.words,
        kind="labour",
        quantity=hours,
        unit="hour",
        unit_price_usd=rates.labour_usd_per_hour,
        amount_usd=line_amount(hours, rates.labour_usd_per_hour),
        payer="owner",
        is_taxed=rates.is_labour_taxed,
        cost_usd=line_amount(hours, cost) if (cost := rates.labour_cost_usd_per_hour) is not None else None,
    )


def _material_line(item: RecipeMaterial, place: Place, rates: Rates) -> PriceLine:
    material = item.material
    pack_quantity = material.pack_quantity
    if item.bead_width_in and item.bead_depth_in:
        pack_quantity = bead_length_ft(material.pack_quantity, item.bead_width_in, item.bead_depth_in)
    needed = quantity_for(
        item.basis,
        per_unit=item.per_unit,
        area_m2=place.area_m2,
        perimeter_m=place.perimeter_m,
        long_edge_m=place.long_edge_m,
    )
    packs = packs_needed(needed, pack_quantity=pack_quantity, waste=item.waste)
    line = _priced_material(
        f"material-{item.pk}",
        material.name,
        Decimal(packs),
        material.sold_unit,
        material.pack_cost_usd,
        rates,
        markup_pct=material.markup_pct,
        is_taxed=_is_taxed(material, rates),
    )
    return replace(line, how=_how(item, needed, pack_quantity, packs))


def _is_taxed(material: Material, rates: Rates) -> bool:
    """Silence is no exemption: bought-in work is taxed as long as the material is not marked as untaxed."""
    if material.tax_category == TaxCategory.LABOUR:
        return rates.is_labour_taxed
    return material.tax_category != TaxCategory.NONE


def _how(item: RecipeMaterial, needed: float, pack_quantity: float, packs: int) -> str:
    """How the packs came about: "24.0 ft² with 12 % waste, 32 ft² in one: 1"."""
    if item.basis == Basis.EACH:
        return ""
    unit = UNIT_WORDS[item.basis]
    measured = f"{needed / item.per_unit:.1f} {unit} x {item.per_unit:g} = " if item.per_unit != 1 else ""
    waste = f" with {item.waste:.0%} waste".replace("%", " %") if item.waste else ""
    return f"{measured}{needed:.1f} {unit}{waste}, {pack_quantity:.4g} {unit} in one: {packs}"


def _own_material_lines(remedy: Remedy, rates: Rates) -> list[PriceLine]:
    return [
        _priced_material(f"own-{item.pk}", item.name, item.quantity, "each", item.unit_cost_usd, rates)
        for item in remedy.materials.order_by("pk")
    ]


def _priced_material(
    key: str,
    words: str,
    quantity: Decimal,
    unit: str,
    cost_usd: Decimal,
    rates: Rates,
    *,
    markup_pct: Decimal | None = None,
    is_taxed: bool = True,
) -> PriceLine:
    """markup_pct: the material's own; None takes the shop's."""
    markup = rates.material_markup_pct if markup_pct is None else markup_pct
    price = line_amount(Decimal(1), cost_usd * (1 + markup / PERCENT))
    return PriceLine(
        key=key,
        words=words,
        kind="material",
        quantity=quantity,
        unit=unit,
        unit_price_usd=price,
        amount_usd=line_amount(quantity, price),
        payer="owner",
        is_taxed=is_taxed,
        cost_usd=line_amount(quantity, cost_usd),
    )
