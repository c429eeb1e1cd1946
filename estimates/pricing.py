"""From a remedy at a place to its operations, materials and price: rows in, frozen values out."""

from collections.abc import Callable, Sequence
from dataclasses import asdict, dataclass, replace
from decimal import Decimal
from typing import Any, TypeVar

from estimates.calc.geometry import Members, Run
from estimates.calc.money import MOST_USD, PriceLine, Totals, decimal_quantity, line_amount, totals
from estimates.calc.needs import stick_joints, take_off
from estimates.calc.recipe import Bought, Stuff, Use, units_of, units_words
from estimates.calc.site import MEMBER_MM, Cut, Extent, Site, cut_at
from estimates.calc.takeoff import area_words, labour_hours, span_words
from estimates.models import Material, Rates, RecipeMaterial, RecipeOperation
from estimates.models.catalogue import Basis, TaxCategory
from jobs.calc.faces import check_place
from jobs.calc.moisture.verdict import Verdict
from jobs.models import Finding, Remedy
from jobs.models.work import OperationKind, Phase
from jobs.services.work import NewOperation

PERCENT = Decimal(100)
# Parts that lie across the members, whatever the shape of the place that is marked.
RAILS = ("sill",)
Answer = TypeVar("Answer")


@dataclass(frozen=True)
class WorkedOut:
    """A remedy at its place: what is done and what it costs the owner."""

    operations: tuple[NewOperation, ...]
    lines: tuple[PriceLine, ...]
    totals: Totals


def work_out(remedy: Remedy, rates: Rates) -> WorkedOut:
    """Operations, price lines and totals of a remedy at its finding's place, at today's catalogue and rates.

    Raises ValueError in words when the place lies off the coach, or a recipe's line does not go with its material.
    """
    if remedy.standard:
        recipe = remedy.standard.recipe_operations.select_related("skill")
        stuff = remedy.standard.recipe_materials.select_related("material").prefetch_related("material__stock_lengths")
        items = list(stuff.order_by("pk"))
        site = _with_joints(site_of(remedy.finding), items)
        worked_steps = [_operation(step, site) for step in recipe if site.joints or step.basis != Basis.JOINT]
        taken = [line for item in items for line in material_lines(item, site, rates)]
    else:
        worked_steps = [(operation, "") for operation in _own_operations(remedy)]
        taken = _own_material_lines(remedy, rates)
    labour_lines = [
        _labour_line(number, operation, how, rates)
        for number, (operation, how) in enumerate(worked_steps, start=1)
        if operation.kind == OperationKind.LABOUR
    ]
    lines = tuple(labour_lines + taken)
    made = line_totals(lines, rates)
    if made.total_usd > MOST_USD:
        raise ValueError(f"“{remedy.name}” would come to {made.total_usd} USD. Look at its figures in the catalogue.")
    return WorkedOut(tuple(operation for operation, _ in worked_steps), lines, made)


def site_of(finding: Finding) -> Site:
    """The place of a finding on its face, with the members behind it as far as they are known.

    Raises ValueError in words if the place does not lie on the coach.
    """
    coach, place = finding.job.coach, finding.place
    faces = coach.faces()
    check_place(place, faces)
    known = coach.framing_behind(place.face)
    # Where the first member stands nobody asks: one stands at the face's datum edge (common practice, no source).
    members = Members(known.spacing_mm, 0.0, Run(known.run.value), min(MEMBER_MM, known.spacing_mm))
    face = next(each for each in faces if each.face == place.face)
    is_on_rail = True if finding.member in RAILS else None
    return Site(place, face, members, known.is_assumed, finding.job.shop.units, is_on_rail)


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


def _with_joints(site: Site, items: Sequence[RecipeMaterial]) -> Site:
    """The place, with the joints between the sticks that are cut for it."""
    return replace(site, joints=sum(_counted(stick_joints, item, cut_at(site, item.extent)) for item in items))


def _operation(step: RecipeOperation, site: Site) -> tuple[NewOperation, str]:
    """The operation, and by what it is counted, in words."""
    cut = cut_at(site, step.extent)
    units = units_of(step.basis, cut)
    hours = labour_hours(step.setup_hours, step.hours_per_unit, units)
    area_m2 = cut.measured.area_m2
    counted_by = units_words(step.basis, cut) or (area_words(area_m2, units=cut.units) if step.grows else "")
    how = _reaching(step.extent, cut, counted_by)
    operation = NewOperation(
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
        amount=how[:240],
        **step.equipment_over(area_m2),
    )
    return operation, how


def _reaching(extent: str, cut: Cut, words: str) -> str:
    """The words, after how far the work reaches where that is not the place as it was found."""
    if extent == Extent.PLACE or not words:
        return words
    # A size that stands in what it reaches to need not be said again.
    rest = words.removeprefix(cut.size_words)
    return f"{cut.words}{rest}" if rest != words else f"{cut.words}: {words}"


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


def _labour_line(number: int, operation: NewOperation, how: str, rates: Rates) -> PriceLine:
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
        how=how,
    )


def material_lines(item: RecipeMaterial, site: Site, rates: Rates) -> list[PriceLine]:
    """A line for each length bought of a material in sticks; one for any other material, none where none is needed.

    Raises ValueError in words where the recipe's line does not go with its material.
    """
    cut = cut_at(site, item.extent)
    return [_bought_line(item, each, cut, rates) for each in _counted(take_off, item, cut)]


def _counted(count: Callable[[Stuff, Use, Cut], Answer], item: RecipeMaterial, cut: Cut) -> Answer:
    """What is counted of a recipe's line. Raises ValueError that names its material, where it cannot be."""
    material = item.material
    try:
        return count(material.as_stuff(), item.as_use(), cut)
    except ValueError as error:
        raise ValueError(f"{material}, for “{item.standard_remedy}”: {error}. Look at it in the catalogue.") from error


def _bought_line(item: RecipeMaterial, bought: Bought, cut: Cut, rates: Rates) -> PriceLine:
    material = item.material
    key, unit, cost_usd = f"material-{item.pk}", material.sold_unit, material.pack_cost_usd
    if bought.length_mm not in {None, material.length_mm}:
        further = next(each for each in material.stock_lengths.all() if each.length_mm == bought.length_mm)
        key, cost_usd = f"{key}-{further.pk}", further.cost_usd
        unit = f"stick of {span_words(further.length_mm, units=cut.units)}"
    line = _priced_material(
        key,
        material.name,
        Decimal(bought.packs),
        unit,
        cost_usd,
        rates,
        markup_pct=material.markup_pct,
        is_taxed=_is_taxed(material, rates),
    )
    return replace(line, how=_reaching(item.extent, cut, bought.words))


def _is_taxed(material: Material, rates: Rates) -> bool:
    """Silence is no exemption: bought-in work is taxed as long as the material is not marked as untaxed."""
    if material.tax_category == TaxCategory.LABOUR:
        return rates.is_labour_taxed
    return material.tax_category != TaxCategory.NONE


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
