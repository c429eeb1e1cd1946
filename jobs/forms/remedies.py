"""Adjusting the remedies of a finding while the owner has not answered."""

from collections.abc import Sequence
from typing import Any

from django import forms

from jobs.forms.own_remedy import OwnRemedyFields, own_remedy_initial
from jobs.models import Finding, StandardRemedy
from jobs.services.remedies import MOST_CHOICES, OwnRemedy, Way, fitting_remedies, remedies_version, ways_of

PLACES = ("first", "second", "third")
LABELS = ("The one we recommend", "Beside it", "And beside that")
OWN = "own"
NONE = "None"


class AdjustForm(OwnRemedyFields):
    """Which remedies stand beside each other, in order, and why they changed."""

    seen = forms.IntegerField(widget=forms.HiddenInput)
    reason = forms.CharField(
        label="Why?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300}),
        help_text="In plain words; the owner reads this.",
        error_messages={"required": "Say why, in a sentence."},
    )

    def __init__(self, *args: Any, finding: Finding, **kwargs: Any) -> None:
        self.finding = finding
        self.standing = ways_of(finding)
        self.fits = fitting_remedies(finding)
        super().__init__(*args, shop=finding.job.shop, initial=self._initial(), **kwargs)
        self.others = self._others()
        self.known = {str(each.pk): each for each in [*self.fits, *self.others]}
        for name, label in zip(PLACES, LABELS, strict=True):
            self.fields[name] = forms.ChoiceField(
                label=label,
                required=name == PLACES[0],
                choices=self._choices(is_first=name == PLACES[0]),
                error_messages={
                    "required": "Choose the one to recommend.",
                    "invalid_choice": "Choose from the list.",
                },
            )

    def ways(self) -> list[Way]:
        """The remedies in the order they were put in; only after is_valid()."""
        own = self.own_remedy()
        chosen = [self.cleaned_data[name] for name in PLACES if self.cleaned_data[name]]
        return [own if value == OWN and own else self.known[value] for value in chosen]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        chosen = [cleaned[name] for name in PLACES if cleaned.get(name)]
        if OWN in chosen:
            self.check_own_remedy()
        elif self._is_own_written():
            self.add_error(PLACES[0], "Say where your own remedy stands, or empty its fields below.")
        for name in PLACES[1:]:
            if cleaned.get(name) and [cleaned.get(each) for each in PLACES].index(cleaned[name]) < PLACES.index(name):
                self.add_error(name, "This one stands there already.")
        return cleaned

    def _is_own_written(self) -> bool:
        """Whether something was written into the fields of an own remedy, beyond what stood in them."""
        names = {name for name in self.fields if name.startswith(("own_", "material_"))}
        return self.has_own_remedy() and bool(names & set(self.changed_data))

    def _initial(self) -> dict[str, Any]:
        own = next((way for way in self.standing if isinstance(way, OwnRemedy)), None)
        places = [OWN if isinstance(way, OwnRemedy) else str(way.pk) for way in self.standing[:MOST_CHOICES]]
        initial = dict(zip(PLACES, places, strict=False)) | {"seen": remedies_version(self.finding)}
        return initial | (own_remedy_initial(own) if own else {})

    def _others(self) -> list[StandardRemedy]:
        """Those of the catalogue that do not fit by themselves, and those that stand though they went out of use."""
        active = self.finding.job.shop.standard_remedies.filter(is_active=True)
        kept = [way for way in self.standing if isinstance(way, StandardRemedy) and not way.is_active]
        return [each for each in [*active, *kept] if each not in self.fits]

    def _choices(self, *, is_first: bool) -> list[Any]:
        groups = [
            ("Fits what was found", _options(self.fits)),
            ("Meant for other damage", _options(self.others)),
            ("Not in the catalogue", [(OWN, "My own words, below")]),
        ]
        return [("", "Choose" if is_first else NONE), *[group for group in groups if group[1]]]


def _options(remedies: Sequence[StandardRemedy]) -> list[tuple[str, str]]:
    return [(str(each.pk), each.name) for each in remedies]
