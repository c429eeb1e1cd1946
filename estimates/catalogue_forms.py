"""The manager's forms for the catalogue: files in, rates."""

from decimal import Decimal
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from estimates.calc.csv_table import MOST_BYTES
from estimates.models import Rates
from jobs.fields import ExactField, HundredthsField, MoneyField


class FilesInput(forms.FileInput):
    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One file or several; the cleaned value is their list."""

    widget = FilesInput

    def clean(self, data: Any, initial: Any = None) -> list[Any]:
        given = data if isinstance(data, list | tuple) else [data] if data else []
        if not given:
            raise ValidationError("Choose the ZIP or the CSV files first.")
        if too_big := [each.name for each in given if each.size > MOST_BYTES]:
            raise ValidationError(f"At most {MOST_BYTES // 1000} kB a file, please: {', '.join(too_big)}.")
        return [super(FilesField, self).clean(each, initial) for each in given]


class CatalogueFilesForm(forms.Form):
    sent = FilesField(
        label="ZIP or CSV files",
        widget=FilesInput(attrs={"accept": ".zip,.csv"}),
        help_text="The ZIP as it was downloaded, or any of its files alone.",
        max_length=100,
        error_messages={"empty": "The file is empty."},
    )

    def uploads(self) -> list[tuple[str, bytes]]:
        """Names and contents; only after is_valid()."""
        return [(each.name, each.read()) for each in self.cleaned_data["sent"]]


class PercentField(ExactField):
    """A percentage, with its sign or without."""

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.rstrip("% ") if isinstance(value, str) else value)


class RatesForm(forms.Form):
    """What an hour costs, what is put on material, what is taxed and how."""

    labour_usd_per_hour = MoneyField(label="Labour, $ an hour", min_value=0, max_digits=8)
    labour_cost_usd_per_hour = MoneyField(
        label="Labour costs the shop, $ an hour",
        min_value=0,
        max_digits=8,
        required=False,
        help_text="Wages and all that hangs on them. For the margin alone; owners never see it.",
    )
    material_markup_pct = HundredthsField(
        label="Put on the cost of material, %",
        min_value=0,
        max_digits=5,
        help_text="Unless a material has its own.",
    )
    tax_rate_pct = PercentField(
        label="Sales tax, %",
        min_value=0,
        max_digits=7,  # one more than its column, so that 100 is told of its limit alone
        decimal_places=4,
        max_value=Decimal("99.9999"),
        help_text="The whole rate where you are. Local law decides, not this program.",
    )
    is_labour_taxed = forms.BooleanField(label="Labour is taxed", required=False)
    tax_basis = forms.ChoiceField(label="Tax is rounded", choices=Rates.TaxBasis.choices, widget=forms.RadioSelect)
