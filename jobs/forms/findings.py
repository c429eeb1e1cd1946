"""Posting a finding, its photos, its evidence, and a person's own verdict."""

import uuid
from collections.abc import Collection, Sequence
from dataclasses import replace
from typing import Any

from django import forms
from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from jobs import held
from jobs.body_plan import face_size
from jobs.calc.faces import FACE_NAMES, TOLERANCE_MM, Face, Place, check_place
from jobs.calc.lengths import print_length
from jobs.calc.moisture.evidence import MEMBERS
from jobs.calc.moisture.verdict import Verdict
from jobs.errors import JobError
from jobs.fields import (
    EXAMPLES,
    AboveZeroLengthField,
    LengthField,
    NumberField,
    PhotosField,
    too_big_words,
)
from jobs.forms.own_remedy import OwnRemedyFields
from jobs.models import Finding, Job, Shop, StandardRemedy
from jobs.models.finding import FACE_CHOICES, VERDICT_CHOICES, FindingKind
from jobs.photos import PhotoRefused
from jobs.services.findings import UploadedPhoto
from jobs.services.remedies import MOST_CHOICES, Fits, Way, fits_at, signature_of
from jobs.services.verdicts import Evidence, check_probe


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


class FindingForm(PhotosForm, EvidenceFields, OwnRemedyFields):
    """What teardown revealed, where, how we know, and what to do about it."""

    needs_photo = False
    # What decides which remedies fit, and what goes along when the page asks again.
    FITS_NAMES = ("kind", "face", "moisture_pct", "probe_depth", "tap_sound", "look", "is_wet", "member")
    FITS_WITH = (*FITS_NAMES, "member_thickness", "left", "top", "width", "height", "shown", "beside")
    MEASURES = ("moisture_pct", "probe_depth", "member_thickness", "left", "top", "width", "height")
    FITS_BY = ", ".join(f"[name={name}]" for name in FITS_WITH)

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
        help_text="The owner is told that this should not stay as it is. An exposed wire near mains wiring always is.",
    )
    remedy = forms.ModelChoiceField(
        label="The remedy you recommend",
        queryset=StandardRemedy.objects.none(),
        required=False,
        empty_label="The one that fits best",
    )
    beside = forms.ModelMultipleChoiceField(
        label="Offer beside it",
        queryset=StandardRemedy.objects.none(),
        required=False,
        widget=forms.CheckboxSelectMultiple,
    )
    # What fitted when the page was drawn; empty while nobody was shown it.
    shown = forms.CharField(required=False, max_length=4000, widget=forms.HiddenInput)

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, units=job.shop.units, shop=job.shop, **kwargs)
        self.job = job
        self.fields |= _place_fields(job.shop.units)
        for name in ("remedy", "beside"):
            self.fields[name].queryset = job.shop.standard_remedies.filter(is_active=True)  # type: ignore[attr-defined]

    def place(self) -> Place:
        cleaned = self.cleaned_data
        return Place(Face(cleaned["face"]), cleaned["left"], cleaned["top"], cleaned["width"], cleaned["height"])

    def chosen_remedy(self) -> Way | None:
        """The remedy to recommend; None for the one that fits best. Only after is_valid()."""
        standard: StandardRemedy | None = self.cleaned_data["remedy"]
        return standard or self.own_remedy()

    def picked_remedies(self) -> list[StandardRemedy] | None:
        """Those to offer beside it; None where nobody picked, so that what fits best is offered."""
        return list(self.cleaned_data["beside"]) if self._is_picked() else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        self._check_place()
        self._check_remedy()
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
        elif self.has_own_remedy():
            self.check_own_remedy()
        if "remedy" in self.errors or not (fits := self.fits()):
            return
        self._check_picked(fits, standard)

    def _check_picked(self, found: Fits, standard: StandardRemedy | None) -> None:
        fits = found.remedies
        beside, is_picked = list(self.cleaned_data.get("beside") or ()), self._is_picked()
        is_named = bool(standard) or self.has_own_remedy()
        if is_picked and self.cleaned_data["shown"] != signature_of(fits):
            self.add_error("beside", "What fits has changed with what you wrote. Please look at the remedies again.")
        elif not is_named and not (beside if is_picked else fits):
            # While other fields are wrong, nobody knows what will fit once they are right.
            if not self.errors:
                self.add_error("remedy", _none_words(found))
        elif is_picked and len([each for each in beside if each != standard]) + is_named > MOST_CHOICES:
            self.add_error("beside", f"At most {MOST_CHOICES} remedies, the recommended one included.")

    def _is_picked(self) -> bool:
        """Whether the ticks are anybody's choice, and not just those that were suggested with what was shown."""
        shown = self.cleaned_data.get("shown", "")
        suggested = [] if shown in {"", "none"} else shown.split(",")[:MOST_CHOICES]
        return {str(each.pk) for each in self.cleaned_data.get("beside") or ()} != set(suggested)

    def forgive(self, kept: Collection[str]) -> bool:
        """Look away from what is missing so far, but for the errors of some fields; whether none are left.

        A measure that was typed and cannot be read is not missing: what fits would be told without it.
        """
        unread = {name for name in self.MEASURES if self[name].value()}
        for name in set(self.errors) - set(kept) - unread:
            del self.errors[name]
        return not self.errors

    def ticks(self) -> list[tuple[StandardRemedy, bool]]:
        """Each remedy that fits, and whether it is ticked: as it was left, or as suggested while nobody picked."""
        fits = self.fits()
        if fits is None:
            return []
        # As sent: what was refused is drawn again with its ticks.
        sent = set(self["beside"].value() or ()) if self["shown"].value() == fits.signature else None
        suggested = {str(each.pk) for each in fits.suggested}
        return [(each, str(each.pk) in (suggested if sent is None else sent)) for each in fits.remedies]

    def fits(self) -> Fits | None:
        """What fits, as far as the fields filled in so far say; None before kind and face are known."""
        cleaned = getattr(self, "cleaned_data", {})
        if not cleaned.get("kind") or not cleaned.get("face"):
            return None
        measures = [cleaned.get(name) for name in ("left", "top", "width", "height")]
        is_whole = all(each is not None for each in measures)
        return fits_at(
            self.job,
            kind=cleaned["kind"],
            face=cleaned["face"],
            evidence=self._evidence(cleaned),
            place=self.place() if is_whole else None,
            now=timezone.now(),
        )


def _none_words(found: Fits) -> str:
    """What to do where no remedy is picked and none is suggested."""
    if found.remedies:
        return "Tick a remedy, or describe your own below."
    if found.measure_first:
        return f"What fits cannot be told yet. {found.measure_first} Or choose a remedy, or describe your own below."
    return "Nothing in the catalogue fits this by itself. Choose one, or describe your own below."


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
