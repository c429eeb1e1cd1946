"""Moving a coach and checking work."""

from typing import Any

from django import forms

from jobs.fields import HOURS_EXAMPLE, NumberField
from jobs.models import Bay, Shop


class MoveForm(forms.Form):
    """Which bay a coach goes into."""

    bay = forms.ModelChoiceField(queryset=Bay.objects.none(), empty_label="Choose a bay")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["bay"].queryset = shop.bays.all()  # type: ignore[attr-defined]


class HoldPointPassForm(forms.Form):
    note = forms.CharField(label="Note, if any", max_length=300, required=False)


class HoldPointFailForm(forms.Form):
    note = forms.CharField(
        label="What was not good enough?",
        max_length=300,
        error_messages={"required": "Say what was not good enough."},
    )
    redo_hours = NumberField(
        label="Hours to do it again",
        min_value=0.1,
        max_value=400,
        error_messages={"required": "Give the hours that doing it again will take.", "invalid": HOURS_EXAMPLE},
    )
