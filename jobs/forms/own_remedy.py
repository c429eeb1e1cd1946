"""A remedy in a person's own words: hours, skill, wait, materials."""

from decimal import Decimal
from typing import Any

from django import forms
from django.forms import BoundField

from jobs.fields import HOURS_EXAMPLE, HundredthsField, MoneyField, NumberField
from jobs.models import Shop, Skill
from jobs.services.remedies import OwnMaterial, OwnRemedy

MATERIAL_ROWS = (1, 2, 3)


class OwnRemedyFields(forms.Form):
    """All empty for none; else words, hours and skill are needed."""

    own_words = forms.CharField(
        label="What you would do",
        max_length=300,
        required=False,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300}),
        help_text="In words for the owner.",
    )
    own_hours = NumberField(
        label="Working hours",
        required=False,
        min_value=0.1,
        max_value=400,
        error_messages={"invalid": HOURS_EXAMPLE},
    )
    own_skill = forms.ModelChoiceField(
        label="Skill", queryset=Skill.objects.none(), required=False, empty_label="Choose"
    )
    own_wait_hours = NumberField(
        label="Hours of drying or curing",
        required=False,
        min_value=0,
        max_value=1440,
        help_text="Time that needs no hands, day and night. Empty for none.",
        error_messages={"invalid": HOURS_EXAMPLE},
    )

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields |= _material_fields()
        self.fields["own_skill"].queryset = shop.skills.all()  # type: ignore[attr-defined]

    def material_rows(self) -> list[tuple[BoundField, BoundField, BoundField]]:
        """The bound fields of the material rows, for the page."""
        return [
            (self[f"material_{row}_name"], self[f"material_{row}_quantity"], self[f"material_{row}_cost"])
            for row in MATERIAL_ROWS
        ]

    def has_own_remedy(self) -> bool:
        """Whether anything stands in the fields of an own remedy, so that the page shows them open."""
        return any(self[name].value() for name in self.fields if name.startswith(("own_", "material_")))

    def check_own_remedy(self) -> None:
        """What is missing of it, each error beside its field."""
        for name, words in (
            ("own_words", "Say what you would do."),
            ("own_hours", "How many working hours will it take?"),
            ("own_skill", "Which skill does it need?"),
        ):
            if not self.cleaned_data.get(name) and name not in self.errors:
                self.add_error(name, words)
        for row in MATERIAL_ROWS:
            self._check_material(row)

    def own_remedy(self) -> OwnRemedy | None:
        """What was described, None for nothing; only after is_valid()."""
        cleaned = self.cleaned_data
        if not cleaned["own_words"]:
            return None
        materials = (self._material(row) for row in MATERIAL_ROWS)
        return OwnRemedy(
            words=cleaned["own_words"],
            hours=cleaned["own_hours"],
            skill=cleaned["own_skill"],
            wait_hours=cleaned["own_wait_hours"] or 0.0,
            materials=tuple(material for material in materials if material),
        )

    def _check_material(self, row: int) -> None:
        """A row is empty or whole."""
        names = [f"material_{row}_{part}" for part in ("name", "quantity", "cost")]
        if not any(self[name].value() for name in names):
            return
        for name, words in zip(names, ("Name the material.", "How much of it?", "What does one cost?"), strict=True):
            if self.cleaned_data.get(name) in (None, "") and name not in self.errors:
                self.add_error(name, words)

    def _material(self, row: int) -> OwnMaterial | None:
        cleaned = self.cleaned_data
        if not cleaned[f"material_{row}_name"]:
            return None
        return OwnMaterial(
            name=cleaned[f"material_{row}_name"],
            quantity=cleaned[f"material_{row}_quantity"],
            unit_cost_usd=cleaned[f"material_{row}_cost"],
        )


def own_remedy_initial(own: OwnRemedy) -> dict[str, Any]:
    """The fields as they stand for a remedy that is there already."""
    initial: dict[str, Any] = {
        "own_words": own.words,
        "own_hours": f"{own.hours:g}",
        "own_skill": own.skill.pk,
        "own_wait_hours": f"{own.wait_hours:g}" if own.wait_hours else "",
    }
    for row, item in zip(MATERIAL_ROWS, own.materials, strict=False):
        initial[f"material_{row}_name"] = item.name
        initial[f"material_{row}_quantity"] = item.quantity
        initial[f"material_{row}_cost"] = item.unit_cost_usd
    return initial


def _material_fields() -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {}
    for row in MATERIAL_ROWS:
        fields[f"material_{row}_name"] = forms.CharField(label=f"Material {row}", max_length=80, required=False)
        fields[f"material_{row}_quantity"] = HundredthsField(
            label="Quantity", max_digits=8, min_value=Decimal("0.01"), required=False
        )
        fields[f"material_{row}_cost"] = MoneyField(label="Cost of one, $", max_digits=10, min_value=0, required=False)
    return fields
