"""What a coach that might be booked would need: by the catalogue and a size, or in hours. Never stored."""

from collections.abc import Iterator
from typing import Any
from urllib.parse import urlencode

from django import forms

from estimates.first_date import ODDS, USUAL_ODDS, PlacedRemedy, Prospect, operations_at
from estimates.inputs import Snapshot
from jobs.fields import HOURS_EXAMPLE, AboveZeroLengthField, CoachLengthField, LengthField, NumberField
from jobs.models import Skill
from jobs.models.finding import FACE_CHOICES
from jobs.models.work import OperationKind, Phase
from jobs.services.work import NewOperation
from shopfloor.asking import AskingForm
from shopfloor.forms import day_field, size_refusal

ROWS = (1, 2, 3)
WHAT, SIZE, AT = ("remedy", "face"), ("width", "height"), ("left", "top")


class FirstDateForm(AskingForm):
    """Length and arrival of a coach, up to three remedies by the size of their places, and hours by skill."""

    def __init__(self, *args: Any, snapshot: Snapshot, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.snapshot, self.shop = snapshot, snapshot.shop
        self.today = snapshot.shop.local_date(snapshot.now)
        self.skills = list(self.shop.skills.all())
        self.fields["length"] = CoachLengthField(units=self.shop.units, label="Length of the coach")
        self.fields["arrives_on"] = day_field("Arrives not before")
        self.fields["arrives_on"].initial = self.today
        self.fields["odds"] = forms.TypedChoiceField(
            label="How sure",
            choices=[(each, f"{each} times in 100") for each in ODDS],
            coerce=int,
            initial=USUAL_ODDS,
            required=False,
            error_messages={"invalid_choice": "Choose odds of the list."},
        )
        self.remedies = {str(each.pk): each for each in self.shop.standard_remedies.filter(is_active=True)}
        for row in ROWS:
            self._add_remedy(row)
            for name in (*WHAT, *SIZE, *AT):
                self.named[f"{name}{row}"] = f"Remedy {row}, {name}" if name != "remedy" else f"Remedy {row}"
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

    def in_100(self) -> int:
        """The odds asked for; only after is_valid()."""
        return self.cleaned_data["odds"] or USUAL_ODDS

    def prospect(self) -> Prospect:
        """The coach as described; only after is_valid()."""
        given = self.cleaned_data
        return Prospect(given["length"], given["arrives_on"], tuple(self.chains))

    def booking_link(self) -> str:
        """What booking takes over, as the query of its address: all but plain hours, which take a remedy there."""
        asked = {f"work{row}-{name}": self.data.get(f"{name}{row}", "") for row in ROWS for name in (*WHAT, *SIZE, *AT)}
        stay = {name: self.data.get(name, "") for name in ("length", "arrives_on")}
        return "?" + urlencode({name: text for name, text in (stay | asked).items() if text})

    def has_hours(self) -> bool:
        return any(field.value() for field in self.hours())

    def counts_from_the_start(self) -> bool:
        """Whether some place was taken to lie where its face begins, since nobody has said where it does."""
        return any(
            self.cleaned_data.get(f"remedy{row}") and self.cleaned_data.get(f"left{row}") is None for row in ROWS
        )

    def rows(self) -> list[tuple[list[forms.BoundField], list[forms.BoundField]]]:
        """What and where, for each remedy."""
        return [
            ([self[f"{name}{row}"] for name in WHAT], [self[f"{name}{row}"] for name in (*SIZE, *AT)]) for row in ROWS
        ]

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
        for name in SIZE:
            self.fields[f"{name}{row}"] = AboveZeroLengthField(
                units=self.shop.units, label=f"{name.capitalize()} of the place", required=False
            )
        for name in AT:
            self.fields[f"{name}{row}"] = LengthField(
                units=self.shop.units, label=f"From the {name} of the face", required=False
            )

    def _check_length(self, length_mm: float | None) -> None:
        if not length_mm:
            return
        if refused := size_refusal("length", length_mm, self.shop):
            self.add_error("length", refused)
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
        names = [f"{name}{row}" for name in (*WHAT, *SIZE)]
        at = [f"{name}{row}" for name in AT]
        typed = [cleaned.get(name) for name in names] + [cleaned.get(name) is not None for name in at]
        if any(name in self.errors for name in (*names, *at)) or not any(typed):
            return
        missing = ("Which remedy?", "On which face?", "How wide is it?", "How high is it?")
        for name, words in zip(names, missing, strict=True):
            if not cleaned.get(name):
                self.add_error(name, words)
        if any(name in self.errors for name in names):
            return
        remedy, face, width_mm, height_mm = (cleaned[name] for name in names)
        left_mm, top_mm = (cleaned.get(name) or 0.0 for name in at)
        placed = PlacedRemedy(self.remedies[remedy], face, width_mm, height_mm, left_mm, top_mm)
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
