"""How much equipment the shop has."""

from collections.abc import Mapping
from typing import Any

from django import forms

from jobs.calc.equipment import FIELDS, MOST


class EquipmentForm(forms.Form):
    """A number for each kind, 0 where the shop has none; empty where the plan need not count it."""

    def __init__(self, *args: Any, has: Mapping[str, int], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for kind, label in FIELDS.items():
            said = f"Write a whole number from 0 to {MOST}, or leave it empty."
            self.fields[kind] = forms.IntegerField(
                label=label.capitalize(),
                required=False,
                min_value=0,
                max_value=MOST,
                initial=has.get(kind),
                error_messages={"invalid": said, "min_value": said, "max_value": said},
                widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
            )

    def counts(self) -> dict[str, int | None]:
        return {kind: self.cleaned_data[kind] for kind in FIELDS}
