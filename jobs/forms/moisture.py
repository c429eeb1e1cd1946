"""Marking stations, walking a round, placing equipment, setting limits."""

from typing import Any

from django import forms

from jobs.body_plan import face_size
from jobs.calc.faces import FACE_NAMES, TOLERANCE_MM, Face
from jobs.calc.lengths import parse_length_mm, print_length
from jobs.calc.moisture.limits import LIMITS, Limit
from jobs.calc.moisture.meter import COMMON_MATERIALS, MATERIALS
from jobs.fields import AltitudeField, KeyField, LengthField, NumberField
from jobs.models import Job, Placement, Shop
from jobs.models.finding import FACE_CHOICES
from jobs.models.moisture import Layer, RetiredBecause
from jobs.models.shop import M_PER_FOOT


class StationForm(forms.Form):
    """A spot on the coach, and what it is made of."""

    key = KeyField()
    face = forms.ChoiceField(
        label="Which face?",
        choices=[("", "Choose"), *FACE_CHOICES],
        error_messages={"required": "Choose the face, or tap the spot on the plan."},
    )
    layer = forms.ChoiceField(label="How deep?", choices=[("", "Choose"), *Layer.choices])
    material = forms.ChoiceField(
        label="Made of",
        help_text="The meter is corrected for the species. For panels no correction is published.",
    )
    note = forms.CharField(label="Note", max_length=120, required=False, help_text="Such as: sill, left of the door.")

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job = job
        units = job.shop.units
        self.fields["left"] = LengthField(
            units=units, label="From the front", help_text="On the front and rear walls: from the road side."
        )
        self.fields["top"] = LengthField(
            units=units, label="From the top edge", help_text="On the roof and floor: from the road side."
        )
        self.fields["material"].choices = _material_choices()  # type: ignore[attr-defined]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("face"):
            return cleaned
        size = face_size(self.job.coach, cleaned["face"])
        for name, most_mm in (("left", size.width_mm), ("top", size.height_mm)):
            mm = cleaned.get(name)
            if mm is not None and mm > most_mm + TOLERANCE_MM:
                shown = print_length(most_mm, units=self.job.shop.units)
                self.add_error(name, f"The {FACE_NAMES[Face(cleaned['face'])]} ends at {shown}. Check the distance.")
        return cleaned


class RetireForm(forms.Form):
    because = forms.ChoiceField(
        label="Why?",
        choices=[("", "Choose"), *RetiredBecause.choices],
        error_messages={"required": "Say why it is no longer read."},
    )


class StrikeForm(forms.Form):
    reason = forms.CharField(
        label="What was wrong with it?", max_length=200, error_messages={"required": "Say what was wrong with it."}
    )


class PlacementForm(forms.Form):
    """Equipment put to work."""

    key = KeyField()
    kind = forms.ChoiceField(label="What", choices=Placement.Kind.choices)
    count = forms.IntegerField(
        label="How many",
        min_value=1,
        max_value=40,
        initial=1,
        error_messages={"required": "How many?", "invalid": "Write a whole number."},
        widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off"}),
    )
    face = forms.ChoiceField(label="At which face", required=False, choices=[("", "The whole coach"), *FACE_CHOICES])
    note = forms.CharField(label="Where exactly", max_length=120, required=False)


class LimitsForm(forms.Form):
    """The shop's limits, each with its default and where that comes from."""

    def __init__(self, *args: Any, shop: Shop, values: dict[str, float], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop, self.before = shop, values
        for limit in LIMITS:
            self.fields[limit.key] = self._field(limit)
            self.initial[limit.key] = self._shown(limit, values[limit.key])

    def values(self) -> dict[str, float]:
        return {limit.key: self._meant(limit) for limit in LIMITS}

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for limit in LIMITS:
            value = cleaned.get(limit.key)
            if limit.unit == "mm" and value is not None and value < limit.lowest:
                self.add_error(limit.key, f"At least {limit.lowest:g} mm, please.")
        return cleaned

    def _meant(self, limit: Limit) -> float:
        """What was typed; where a length is typed as it is shown, the length itself, for it is shown rounded."""
        typed: float = self.cleaned_data[limit.key]
        if limit.unit == "mm":
            for exact in (self.before[limit.key], limit.default):
                if parse_length_mm(self._shown(limit, exact), units=self.shop.units) == typed:
                    return exact
        return typed

    def _field(self, limit: Limit) -> forms.Field:
        default, lowest, highest = (self._shown(limit, each) for each in (limit.default, limit.lowest, limit.highest))
        words = f"Between {lowest} and {highest}, by default {default}. {limit.origin}"
        if limit.unit == "mm":
            return LengthField(units=self.shop.units, label=limit.name, longest_mm=limit.highest, help_text=words)
        return NumberField(label=f"{limit.name}, %", min_value=limit.lowest, max_value=limit.highest, help_text=words)

    def _shown(self, limit: Limit, value: float) -> str:
        if limit.unit == "mm":
            is_metric = self.shop.units == Shop.Units.METRIC
            return f"{round(value, 1):g} mm" if is_metric else print_length(value, units=self.shop.units)
        return f"{value:g}"


class AltitudeForm(forms.Form):
    """How high the shop stands."""

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        sign, metres = ("ft", M_PER_FOOT) if shop.units == Shop.Units.US else ("m", 1.0)
        self.fields["altitude_m"] = AltitudeField(
            units=shop.units,
            label=f"Altitude above the sea, {sign}",
            help_text="A map says it; the nearest hundred will do.",
        )
        self.initial["altitude_m"] = f"{shop.altitude_m / metres:.0f}"


def _material_choices() -> list[Any]:
    """The few that coaches are mostly built of first, then all that a correction is published for."""
    common = [(key, MATERIALS[key].label) for key in COMMON_MATERIALS]
    others = sorted((item.label, key) for key, item in MATERIALS.items() if key not in COMMON_MATERIALS)
    return [("", "Choose"), ("Common", common), ("All others", [(key, name) for name, key in others])]
