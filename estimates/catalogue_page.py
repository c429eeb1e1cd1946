"""The catalogue as it stands on the manager's page: rows in, words ready to print out."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal
from typing import Any

from django.db.models import Prefetch

from estimates.models import Material, RecipeMaterial, RecipeOperation
from estimates.models.catalogue import Basis
from jobs.models import RemedyMatch, Shop, StandardRemedy
from jobs.models.work import OperationKind

BEAD_UNIT = "in bead"


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
            steps=tuple(map(_step_row, remedy.recipe_operations.all())),
            stuff=tuple(map(_stuff_row, remedy.recipe_materials.all())),
            fits=tuple(map(str, remedy.matches.all())),
        )
        for remedy in remedies
    ]


def materials_in_use(shop: Shop) -> Sequence[Material]:
    return list(Material.objects.filter(shop=shop, is_active=True))


def time_words(step: RecipeOperation) -> str:
    """How long a step takes: "1 h and 0.09 h per foot round the edge"; a wait runs on the clock."""
    parts = []
    if step.setup_hours:
        parts.append(f"{step.setup_hours:g} h")
    if step.hours_per_unit:
        parts.append(f"{step.hours_per_unit:g} h {_per(step.basis)}")
    return " and ".join(parts)


def quantity_words(item: RecipeMaterial) -> str:
    """How much a recipe takes: "2.2 per foot along the longer side, 12 % lost"."""
    words = f"{item.per_unit:g} {_per(item.basis)}"
    if item.bead_width_in and item.bead_depth_in:
        words += f", {item.bead_width_in:g} x {item.bead_depth_in:g} {BEAD_UNIT}"
    return f"{words}, {item.waste * 100:g} % lost" if item.waste else words


def trimmed(value: Any) -> Any:
    """A percentage or a price without noughts that say nothing, two places kept: 6.2500 is 6.25. Others as they are."""
    if not isinstance(value, Decimal):
        return value
    places = max(2, -int(value.normalize().as_tuple().exponent))
    return round(value, places)


def _per(basis: str) -> str:
    return "in all" if basis == Basis.EACH else f"per {Basis(basis).label}"


def _step_row(step: RecipeOperation) -> StepRow:
    who = "nobody, it waits"
    if step.kind == OperationKind.LABOUR:
        who = f"{step.skill}, {step.crew} people" if step.crew > 1 else f"{step.skill}"
    elif step.is_drying:
        who = "nobody, until it is dry"
    if step.is_in_one_shift:
        who += ", in one shift"
    return StepRow(
        phase=step.get_phase_display(),
        words=step.words,
        time=time_words(step),
        who=who,
        hold_point=step.hold_point,
        is_planning_value=step.is_planning_value,
    )


def _stuff_row(item: RecipeMaterial) -> StuffRow:
    return StuffRow(item.material.name, quantity_words(item), item.is_planning_value)
