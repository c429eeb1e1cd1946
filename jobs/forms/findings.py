"""Posting a finding, its photos, its evidence, and a person's own verdict."""

import uuid
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.forms import BoundField

from jobs import held
from jobs.body_plan import face_size
from jobs.calc.faces import FACE_NAMES, TOLERANCE_MM, Face, Place, check_place
from jobs.calc.lengths import print_length
from jobs.calc.moisture.evidence import MEMBERS
from jobs.calc.moisture.verdict import Verdict
from jobs.errors import JobError
from jobs.fields import (
    EXAMPLES,
    HOURS_EXAMPLE,
    AboveZeroLengthField,
    LengthField,
    MoneyField,
    NumberField,
    PhotosField,
    too_big_words,
)
from jobs.models import Finding, Job, Shop, Skill, StandardRemedy
from jobs.models.finding import FACE_CHOICES, VERDICT_CHOICES, FindingKind
from jobs.photos import PhotoRefused
from jobs.services.findings import OwnMaterial, OwnRemedy, UploadedPhoto
from jobs.services.verdicts import Evidence, check_probe

MATERIAL_ROWS = (1, 2, 3)


class PhotosForm(forms.Form):
    """Photos from the camera, the album, or both."""

    camera = PhotosField(camera=True, label="Take a photo")
    album = PhotosField(label="Choose photos", help_text=f"Up to {settings.PHOTO_MAX_COUNT} photos in all.")

    needs_photo = True

    def __init__(self, *args: Any, held_photos: Sequence[UploadedPhoto] = (), **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.held_photos = list(held_photos)
        self.accepted: list[UploadedPhoto] = list(held_photos)

    @property
    def held_photos_words(self) -> str:
        count = len(self.held_photos)
        return f"{count} photo{'' if count == 1 else 's'}"

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("forget_held"):
            self.accepted = []
        for name in ("camera", "album"):
            for file in cleaned.get(name) or []:
                self._accept(name, file)
        if len(self.accepted) > settings.PHOTO_MAX_COUNT:
            self.add_error("album", f"At most {settings.PHOTO_MAX_COUNT} photos; these are {len(self.accepted)}.")
            self.accepted = self.accepted[: settings.PHOTO_MAX_COUNT]
        if self.needs_photo and not self.accepted and not self.errors:
            self.add_error("album", "Choose at least one photo.")
        return cleaned

    def _accept(self, field: str, file: "UploadedFile[bytes]") -> None:
        name = file.name or "A photo"
        if (file.size or 0) > settings.PHOTO_MAX_BYTES:
            self.add_error(field, too_big_words(name))
            return
        try:
            self.accepted.append(held.accept(file.read()))
        except PhotoRefused as error:
            self.add_error(field, f"{name}: {error}")


class EvidenceFields(forms.Form):
    """What was measured and seen at the place; all of it may be left out."""

    moisture_pct = NumberField(
        label="Moisture, %",
        required=False,
        min_value=0,
        max_value=200,
        error_messages={"invalid": "Write a number, such as 18."},
    )
    tap_sound = forms.ChoiceField(
        label="Tap sound", required=False, choices=[("", "Not tapped"), *Finding.TapSound.choices]
    )
    look = forms.ChoiceField(label="Look", required=False, choices=[("", "Not noted"), *Finding.Look.choices])
    is_wet = forms.TypedChoiceField(
        label="Wet to the touch?",
        required=False,
        choices=[("", "Not known"), ("yes", "Yes"), ("no", "No")],
        coerce=lambda text: text == "yes",
        empty_value=None,
    )
    member = forms.ChoiceField(label="What is it a part of?", required=False, choices=[("", "Not noted"), *MEMBERS])
    is_near_mains = forms.BooleanField(
        label="Mains wiring is in reach", required=False, help_text="Shore power, generator or inverter wiring."
    )
    is_near_gas = forms.BooleanField(label="A gas line is in reach", required=False)

    def __init__(self, *args: Any, units: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["probe_depth"] = LengthField(
            units=units, label="Probe depth", required=False, longest_mm=500, help_text="How far the awl goes in."
        )
        self.fields["member_thickness"] = AboveZeroLengthField(
            units=units, label="Thickness of that part", required=False, longest_mm=500
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not {"probe_depth", "member_thickness"} & set(self.errors):
            try:
                check_probe(self._evidence(cleaned))
            except JobError as error:
                self.add_error("probe_depth", str(error))
        return cleaned

    def evidence(self) -> Evidence:
        return self._evidence(self.cleaned_data)

    def _evidence(self, cleaned: dict[str, Any]) -> Evidence:
        return Evidence(
            moisture_pct=cleaned.get("moisture_pct"),
            probe_depth_mm=cleaned.get("probe_depth"),
            tap_sound=cleaned.get("tap_sound", ""),
            look=cleaned.get("look", ""),
            is_wet=cleaned.get("is_wet"),
            member=cleaned.get("member", ""),
            member_thickness_mm=cleaned.get("member_thickness"),
            is_near_mains=cleaned.get("is_near_mains", False),
            is_near_gas=cleaned.get("is_near_gas", False),
        )


class EvidenceForm(EvidenceFields):
    """The evidence on a finding, as it is known now."""

    def __init__(self, *args: Any, finding: Finding, is_read: bool, is_probe_stale: bool, **kwargs: Any) -> None:
        self.finding = finding
        units = finding.job.shop.units
        super().__init__(*args, units=units, initial=_evidence_initial(finding, units), **kwargs)
        if is_read:
            # What was noted before would pass for today's; the stations here say how wet it is.
            self.initial.update(moisture_pct="", is_wet="")
            self.fields["moisture_pct"].help_text = "Leave it empty: the stations here have been read since."
        if is_probe_stale:
            # Sent along untouched, it would pass for what was probed in dry wood.
            self.initial.update(probe_depth="", tap_sound="")
            self.fields["probe_depth"].help_text = "Probed while it was wet: probe and tap it again."

    def _evidence(self, cleaned: dict[str, Any]) -> Evidence:
        """A length that was left alone stays as it was measured: the form shows it rounded."""
        shown = {name for name in ("probe_depth", "member_thickness") if self.initial[name]}
        left_alone = shown - set(self.changed_data)
        measured = {f"{name}_mm": getattr(self.finding, f"{name}_mm") for name in left_alone}
        return replace(super()._evidence(cleaned), **measured)


def _evidence_initial(finding: Finding, units: str) -> dict[str, Any]:
    def shown(mm: float | None) -> str:
        return "" if mm is None else print_length(mm, units=units)

    return {
        "moisture_pct": "" if finding.moisture_pct is None else f"{finding.moisture_pct:g}",
        "probe_depth": shown(finding.probe_depth_mm),
        "tap_sound": finding.tap_sound,
        "look": finding.look,
        "is_wet": {True: "yes", False: "no", None: ""}[finding.is_wet],
        "member": finding.member,
        "member_thickness": shown(finding.member_thickness_mm),
        "is_near_mains": finding.is_near_mains,
        "is_near_gas": finding.is_near_gas,
    }


class OwnVerdictForm(forms.Form):
    """A person's own verdict, or taking it back."""

    verdict = forms.ChoiceField(
        label="Your verdict",
        required=False,
        choices=[("", "As computed"), *[each for each in VERDICT_CHOICES if each[0] != Verdict.OPEN]],
    )
    reason = forms.CharField(
        label="Why?",
        max_length=300,
        widget=forms.Textarea(attrs={"rows": 2, "maxlength": 300}),
        error_messages={"required": "Say why, in a sentence."},
    )


class FindingForm(PhotosForm, EvidenceFields):
    """What teardown revealed, where, how we know, and what to do about it."""

    needs_photo = False

    key = forms.UUIDField(widget=forms.HiddenInput)
    forget_held = forms.BooleanField(required=False, label="Leave these photos out")
    kind = forms.ChoiceField(
        label="What is it?",
        choices=[("", "Choose"), *FindingKind.choices],
        error_messages={"required": "Choose what it is."},
    )
    seen = forms.CharField(
        label="What do you see?",
        max_length=500,
        widget=forms.Textarea(attrs={"rows": 3, "maxlength": 500}),
        help_text="In plain words; the owner reads this.",
        error_messages={"required": "Say in a sentence what you see."},
    )
    face = forms.ChoiceField(
        label="Which face?",
        choices=[("", "Choose"), *FACE_CHOICES],
        error_messages={"required": "Choose the face, or mark the place on the plan."},
    )
    is_unsafe_to_leave = forms.BooleanField(
        label="Unsafe to leave as it is",
        required=False,
        help_text="The owner is told that this should not stay as it is.",
    )
    remedy = forms.ModelChoiceField(
        label="Remedy from the list",
        queryset=StandardRemedy.objects.none(),
        required=False,
        empty_label="None of these",
    )
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

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, units=job.shop.units, **kwargs)
        self.job = job
        self.fields |= _place_fields(job.shop.units) | _material_fields()
        self.fields["remedy"].queryset = job.shop.standard_remedies.filter(is_active=True)  # type: ignore[attr-defined]
        self.fields["own_skill"].queryset = job.shop.skills.all()  # type: ignore[attr-defined]

    def material_rows(self) -> list[tuple[BoundField, BoundField, BoundField]]:
        """The bound fields of the material rows, for the page."""
        return [
            (self[f"material_{row}_name"], self[f"material_{row}_quantity"], self[f"material_{row}_cost"])
            for row in MATERIAL_ROWS
        ]

    def has_own_remedy(self) -> bool:
        """Whether anything stands in the fields of an own remedy, so that the page shows them open."""
        return any(self[name].value() for name in self.fields if name.startswith(("own_", "material_")))

    def place(self) -> Place:
        cleaned = self.cleaned_data
        return Place(Face(cleaned["face"]), cleaned["left"], cleaned["top"], cleaned["width"], cleaned["height"])

    def chosen_remedy(self) -> StandardRemedy | OwnRemedy:
        cleaned = self.cleaned_data
        if cleaned["remedy"]:
            standard: StandardRemedy = cleaned["remedy"]
            return standard
        materials = (self._material(row) for row in MATERIAL_ROWS)
        return OwnRemedy(
            words=cleaned["own_words"],
            hours=cleaned["own_hours"],
            skill=cleaned["own_skill"],
            wait_hours=cleaned["own_wait_hours"] or 0.0,
            materials=tuple(material for material in materials if material),
        )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._check_place()
        self._check_remedy()
        for row in MATERIAL_ROWS:
            self._check_material(row)
        return cleaned

    def _check_place(self) -> None:
        """The place lies on its face; the error stands beside the measure to change."""
        if not all(self.cleaned_data.get(name) is not None for name in ("face", "left", "top", "width", "height")):
            return
        place = self.place()
        size = face_size(self.job.coach, place.face)
        over = {"width": place.left_mm + place.width_mm - size.width_mm}
        over["height"] = place.top_mm + place.height_mm - size.height_mm
        try:
            check_place(place, self.job.coach.faces())
        except ValueError as error:
            too_far = [name for name, over_mm in over.items() if over_mm > TOLERANCE_MM]
            for name in too_far:
                self.add_error(name, self._over_words(place, over[name], name))
            if not too_far:
                self.add_error("face", str(error))

    def _over_words(self, place: Place, over_mm: float, name: str) -> str:
        face, over = FACE_NAMES[place.face], print_length(over_mm, units=self.job.shop.units)
        return f"Reaches {over} beyond the end of the {face}. Make the {name} smaller or start nearer the edge."

    def _check_remedy(self) -> None:
        standard = self.cleaned_data.get("remedy")
        if standard and self.has_own_remedy():
            self.add_error("remedy", "Choose a remedy from the list or describe your own, not both.")
            return
        if standard or "remedy" in self.errors:
            return
        if not self.has_own_remedy():
            self.add_error("remedy", "Choose a remedy, or describe your own below.")
            return
        for name, words in (
            ("own_words", "Say what you would do."),
            ("own_hours", "How many working hours will it take?"),
            ("own_skill", "Which skill does it need?"),
        ):
            if not self.cleaned_data.get(name) and name not in self.errors:
                self.add_error(name, words)

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


def new_key() -> uuid.UUID:
    """The mark of one form: what is sent twice under it is stored once."""
    return uuid.uuid4()


def _place_fields(units: str) -> dict[str, forms.Field]:
    example = f"Such as {EXAMPLES[Shop.Units(units)]}."
    return {
        "left": LengthField(
            units=units, label="From the front", help_text="On the front and rear walls: from the road side."
        ),
        "top": LengthField(
            units=units, label="From the top edge", help_text="On the roof and floor: from the road side."
        ),
        "width": AboveZeroLengthField(units=units, label="Width", help_text=example),
        "height": AboveZeroLengthField(units=units, label="Height", help_text=example),
    }


def _material_fields() -> dict[str, forms.Field]:
    fields: dict[str, forms.Field] = {}
    for row in MATERIAL_ROWS:
        fields[f"material_{row}_name"] = forms.CharField(label=f"Material {row}", max_length=80, required=False)
        fields[f"material_{row}_quantity"] = MoneyField(
            label="Quantity", max_digits=8, min_value=Decimal("0.01"), required=False
        )
        fields[f"material_{row}_cost"] = MoneyField(label="Cost of one, $", max_digits=10, min_value=0, required=False)
    return fields
