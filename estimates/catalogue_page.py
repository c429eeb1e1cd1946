"""The catalogue as it stands on the manager's page: rows in, words ready to print out."""

from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from estimates.calc.takeoff import area_words, size_words, span_words
from estimates.models import Material, RecipeMaterial, RecipeOperation
from estimates.models.catalogue import Basis, Extent, TakeOff
from jobs.calc.equipment import FIELDS as EQUIPMENT
from jobs.calc.equipment import counted
from jobs.models import RemedyMatch, Shop, StandardRemedy
from jobs.models.work import OperationKind

BEAD_UNIT = "in bead"
# Where a quantity is so much for each unit of the place, and not laid, cut or run.
COUNTED_BY_UNIT = (TakeOff.COUNT,)
# What a pack is measured in, by how its coverage is stated.
COVERAGE_PACKS = {"ft2/gal": "gal", "m2/l": "l", "g/m2": "kg"}
# As everywhere on the pages; files keep what every keyboard has.
COVERAGE_WORDS = {"ft2/gal": "ft²/gal", "m2/l": "m²/l", "g/m2": "g/m²"}
ALONG_WORDS = {
    "area": "over the area",
    "edge": "round the edge",
    "length": "along the longer side",
    "member": "to each member crossed",
    "joint": "to each joint between sticks",
    "each": "in all",
}


@dataclass(frozen=True)
class StepRow:
    phase: str
    words: str
    time: str
    who: str
    hold_point: str
    is_planning_value: bool


@dataclass(frozen=True)
class StuffRow:
    name: str
    quantity: str
    is_planning_value: bool


@dataclass(frozen=True)
class MaterialRow:
    """A material, and how much one sold unit holds."""

    material: Material
    holds: str


@dataclass(frozen=True)
class RemedyRow:
    """A remedy with all that hangs on it."""

    remedy: StandardRemedy
    steps: tuple[StepRow, ...]
    stuff: tuple[StuffRow, ...]
    fits: tuple[str, ...]

    @property
    def is_planning_value(self) -> bool:
        return any(step.is_planning_value for step in self.steps) or any(item.is_planning_value for item in self.stuff)


def remedy_rows(shop: Shop) -> list[RemedyRow]:
    """The remedies in use by name, in a fixed number of queries."""
    remedies = StandardRemedy.objects.filter(shop=shop, is_active=True).prefetch_related(
        Prefetch("recipe_operations", RecipeOperation.objects.select_related("skill")),
        Prefetch("recipe_materials", RecipeMaterial.objects.select_related("material").order_by("pk")),
        Prefetch("matches", RemedyMatch.objects.order_by("pk")),
    )
    return [
        RemedyRow(
            remedy=remedy,
            steps=tuple(_step_row(step, shop.units) for step in remedy.recipe_operations.all()),
            stuff=tuple(_stuff_row(item, shop.units) for item in remedy.recipe_materials.all()),
            fits=tuple(map(str, remedy.matches.all())),
        )
        for remedy in remedies
    ]


def materials_in_use(shop: Shop) -> list[MaterialRow]:
    materials = Material.objects.filter(shop=shop, is_active=True).prefetch_related("stock_lengths")
    return [MaterialRow(material, holds_words(material, shop.units)) for material in materials]


def time_words(step: RecipeOperation) -> str:
    """How long a step takes: "1 h and 0.09 h per foot round the edge"; a wait runs on the clock."""
    parts = []
    if step.setup_hours:
        parts.append(f"{step.setup_hours:g} h")
    if step.hours_per_unit:
        parts.append(f"{step.hours_per_unit:g} h {_per(step.basis)}")
    return _reaching(step.extent, " and ".join(parts))


def quantity_words(item: RecipeMaterial, units: str) -> str:
    """How much a recipe takes, by the way its material is taken off: "2 pieces to each member crossed"."""
    longer = item.material.takeoff == TakeOff.STICK
    sizes = (
        (item.wrap_mm, "over an edge of the face"),
        (item.lap_mm, "more for splices" if longer else "laps"),
        (item.spacing_mm, "apart"),
        (item.member_spacing_mm, "apart on members inside"),
    )
    is_bead = item.bead_width_in and item.bead_depth_in
    parts = [
        _counted_words(item),
        f"{item.bead_width_in:g} × {item.bead_depth_in:g} {BEAD_UNIT}" if is_bead else "",
        f"laid {item.get_laid_display()}" if item.laid else "",
        *(f"{size_words(size_mm, units=units)} {words}" for size_mm, words in sizes if size_mm),
        {None: "", 1: "one face coated", 2: "both faces coated"}[item.faces],
        f"{item.waste * 100:g} % lost" if item.waste else "",
    ]
    return _reaching(item.extent, ", ".join(part for part in parts if part))


def holds_words(material: Material, units: str) -> str:
    """How much one sold unit holds, by the way the material is taken off."""
    kind, size = material.takeoff, (material.length_mm, material.width_mm)
    length, width = (span_words(each, units=units) if each else "" for each in size)
    if kind in {TakeOff.SHEET, TakeOff.ROLL}:
        many = f"{material.pack_quantity:g} of " if material.pack_quantity != 1 else ""
        cut = ", any number of lengths" if material.is_cut_to_length else ""
        return f"{many}{length} × {width}{cut}"
    if kind == TakeOff.STICK:
        further = (
            f"{span_words(each.length_mm, units=units)} at ${each.cost_usd}" for each in material.stock_lengths.all()
        )
        return ", ".join([length, *further])
    if kind == TakeOff.ADHESIVE:
        rate = f"{material.coverage_rate:g} {COVERAGE_WORDS[material.coverage_unit]}"
        unit = COVERAGE_PACKS[material.coverage_unit]
        return f"{material.pack_quantity:g} {unit}, {rate} of {material.coverage_basis}"
    return f"{material.pack_quantity:g}{' ml' if kind == TakeOff.SEALANT else ''}"


def holds_of(step: RecipeOperation, units: str) -> str:
    """The equipment a step holds: "1 blower for each 50 ft², at least 2; 1 dehumidifier"."""
    said = []
    for kind, field in EQUIPMENT.items():
        at_least, area_m2 = getattr(step, field), getattr(step, f"{kind}_area_m2")
        if area_m2 is None:
            said += [counted(kind, at_least)] if at_least else []
            continue
        each = f"1 {kind} for each {area_words(area_m2, units=units)}"
        said.append(f"{each}, at least {at_least}" if at_least > 1 else each)
    return "; ".join(said)


def trimmed(value: Any) -> Any:
    """A percentage or a price without noughts that say nothing, two places kept: 6.2500 is 6.25. Others as they are."""
    if not isinstance(value, Decimal):
        return value
    places = max(2, -int(value.normalize().as_tuple().exponent))
    return round(value, places)


def _counted_words(item: RecipeMaterial) -> str:
    times = f"{item.per_unit:g}"
    if item.material.takeoff in COUNTED_BY_UNIT:
        return f"{times} {_per(item.basis)}"
    ways = {
        TakeOff.SHEET: "layer",
        TakeOff.ROLL: "layer",
        TakeOff.ADHESIVE: "time",
        TakeOff.SEALANT: "bead",
        TakeOff.STICK: "piece",
        TakeOff.FASTENER: "row",
    }
    counted = f"{times} {ways[TakeOff(item.material.takeoff)]}{'' if item.per_unit == 1 else 's'}"
    return f"{counted} {ALONG_WORDS[item.basis.split('_')[0]]}"


def _reaching(extent: str, words: str) -> str:
    return words if extent == Extent.PLACE else f"{words}; {Extent(extent).label}"


def _per(basis: str) -> str:
    return "in all" if basis == Basis.EACH else f"per {Basis(basis).label}"


def _step_row(step: RecipeOperation, units: str) -> StepRow:
    who = "nobody, it waits"
    if step.kind == OperationKind.LABOUR:
        who = f"{step.skill}, {step.crew} people" if step.crew > 1 else f"{step.skill}"
    elif step.is_drying:
        who = "nobody, until it is dry"
    if step.is_in_one_shift:
        who += ", in one shift"
    if holds := holds_of(step, units):
        who += f"; holds {holds}"
    return StepRow(
        phase=step.get_phase_display(),
        words=step.words,
        time=time_words(step),
        who=who,
        hold_point=step.hold_point,
        is_planning_value=step.is_planning_value,
    )


def _stuff_row(item: RecipeMaterial, units: str) -> StuffRow:
    return StuffRow(item.material.name, quantity_words(item, units), item.is_planning_value)
