"""What a coach that might be booked would need: by the catalogue and a size, or in hours. Never stored."""

from collections.abc import Iterator
from typing import Any

from django import forms

from estimates.first_date import PlacedRemedy, Prospect, operations_at
from estimates.inputs import Snapshot
from jobs.fields import HOURS_EXAMPLE, AboveZeroLengthField, NumberField
from jobs.models import Skill
from jobs.models.finding import FACE_CHOICES
from jobs.models.work import OperationKind, Phase
from jobs.services.work import NewOperation
from shopfloor.forms import BIGGEST_MM, SMALLEST_MM, day_field

ROWS = (1, 2, 3)


class FirstDateForm(forms.Form):
    """Length and arrival of a coach, up to three remedies by the size of their places, and hours by skill."""

    def __init__(self, *args: Any, snapshot: Snapshot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.snapshot, self.shop = snapshot, snapshot.shop
        self.today = snapshot.shop.local_date(snapshot.now)
        self.skills = list(self.shop.skills.all())
        self.fields["length"] = AboveZeroLengthField(units=self.shop.units, label="Length of the coach")
        self.fields["arrives_on"] = day_field("Arrives not before")
        self.fields["arrives_on"].initial = self.today
        self.remedies = {str(each.pk): each for each in self.shop.standard_remedies.filter(is_active=True)}
        for row in ROWS:
            self._add_remedy(row)
        for skill in self.skills:
            self.fields[f"hours{skill.pk}"] = _hours_field(f"Hours, {skill.name}", 2000)
        self.fields["wait_hours"] = _hours_field("Hours of drying or curing", 24 * 60)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        self._check_length(cleaned.get("length"))
        arrives_on = cleaned.get("arrives_on")
        if arrives_on and arrives_on < self.today:
            self.add_error("arrives_on", "That day has passed.")
        elif arrives_on and (arrives_on - self.today).days > 365:
            self.add_error("arrives_on", "That is more than a year away.")
        self.chains = list(self._chains(cleaned)) if cleaned.get("length") else []
        if not self.errors and not self.chains:
            raise forms.ValidationError("Say what is to be done: a remedy with its size, or hours.")
        return cleaned

    def prospect(self) -> Prospect:
        """The coach as described; only after is_valid()."""
        given = self.cleaned_data
        return Prospect(given["length"], given["arrives_on"], tuple(self.chains))

    def rows(self) -> list[list[forms.BoundField]]:
        return [[self[f"{name}{row}"] for name in ("remedy", "face", "width", "height")] for row in ROWS]

    def hours(self) -> list[forms.BoundField]:
        return [self[f"hours{skill.pk}"] for skill in self.skills] + [self["wait_hours"]]

    def _add_remedy(self, row: int) -> None:
        named = [(key, remedy.name) for key, remedy in self.remedies.items()]
        self.fields[f"remedy{row}"] = forms.ChoiceField(
            label="Remedy", choices=[("", "Choose a remedy"), *named], required=False
        )
        self.fields[f"face{row}"] = forms.ChoiceField(
            label="Where", choices=[("", "Choose"), *FACE_CHOICES], required=False
        )
        for name in ("width", "height"):
            self.fields[f"{name}{row}"] = AboveZeroLengthField(
                units=self.shop.units, label=f"{name.capitalize()} of the place", required=False
            )

    def _check_length(self, length_mm: float | None) -> None:
        if not length_mm:
            return
        if not SMALLEST_MM["length"] <= length_mm <= BIGGEST_MM["length"]:
            self.add_error("length", "No coach is as long as that.")
        elif not any(bay.longest_coach_mm >= length_mm for bay in self.snapshot.bays):
            self.add_error("length", "It is too long for every bay of the shop.")

    def _chains(self, cleaned: dict[str, Any]) -> Iterator[tuple[NewOperation, ...]]:
        for row in ROWS:
            yield from self._placed(cleaned, row)
        hours = [
            self._labour(skill, cleaned[f"hours{skill.pk}"]) for skill in self.skills if cleaned.get(f"hours{skill.pk}")
        ]
        if cleaned.get("wait_hours"):
            hours.append(
                NewOperation(Phase.FRAMING, "Drying or curing", OperationKind.WAIT, cleaned["wait_hours"], None)
            )
        if hours:
            yield tuple(hours)

    def _placed(self, cleaned: dict[str, Any], row: int) -> Iterator[tuple[NewOperation, ...]]:
        names = [f"{name}{row}" for name in ("remedy", "face", "width", "height")]
        if any(name in self.errors for name in names) or not any(cleaned.get(name) for name in names):
            return
        missing = ("Which remedy?", "On which face?", "How wide is it?", "How high is it?")
        for name, words in zip(names, missing, strict=True):
            if not cleaned.get(name):
                self.add_error(name, words)
        if any(name in self.errors for name in names):
            return
        remedy, face, width_mm, height_mm = (cleaned[name] for name in names)
        placed = PlacedRemedy(self.remedies[remedy], face, width_mm, height_mm)
        try:
            yield operations_at(placed, self.shop, cleaned["length"])
        except ValueError as error:
            self.add_error(f"width{row}", str(error))

    def _labour(self, skill: Skill, hours: float) -> NewOperation:
        return NewOperation(Phase.FRAMING, f"Work, {skill.name}", OperationKind.LABOUR, hours, skill)


def _hours_field(label: str, most: float) -> NumberField:
    return NumberField(
        label=label, min_value=0.25, max_value=most, required=False, error_messages={"invalid": HOURS_EXAMPLE}
    )
