"""The manager's forms."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from django import forms
from django.utils import timezone

from estimates.calc.contingency import LEAK_WORDS, Leak
from jobs.calc.faces import Face, Place, check_place
from jobs.calc.framing import FaceGroup
from jobs.calc.lengths import print_length
from jobs.calc.promises import closed_words, refusal
from jobs.fields import AboveZeroLengthField, CoachLengthField, LengthField, MoneyField
from jobs.forms.framing import add_framing_fields, check_framing, framing_given
from jobs.models import Bay, Coach, Decision, Job, Owner, Remedy, Shop, StandardRemedy
from jobs.models.finding import FACE_CHOICES, FindingKind
from jobs.services.booking import BookedWork
from shopfloor.services import NewCoach, NewOwner, too_long_for_all

WORKS = 4
CARRIED = ("length", "arrives_on")
NO = "no"
NEEDED_OF_A_NEW_COACH = ("make", "year", "body", "length", "width", "height", "owner_name", "owner_email")
BIGGEST_MM = {"length": 25_000.0, "width": 4_000.0, "height": 5_000.0}
SMALLEST_MM = {"length": 1_000.0, "width": 1_000.0, "height": 500.0}


def size_refusal(name: str, size_mm: float, shop: Shop) -> str:
    """Why no coach has that length, width or height, in words; empty where one may."""
    if SMALLEST_MM[name] <= size_mm <= BIGGEST_MM[name]:
        return ""
    smallest, biggest = (print_length(mm[name], units=shop.units) for mm in (SMALLEST_MM, BIGGEST_MM))
    return f"A coach's {name} lies between {smallest} and {biggest}. Check the unit."


def day_field(label: str, *, required: bool = True, help_text: str = "") -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(label=label, required=required, help_text=help_text, widget=widget)


class BookingForm(forms.Form):
    """A stay, for a coach the shop knows or for a new one."""

    coach = forms.ModelChoiceField(Coach.objects.none(), required=False, empty_label="A new coach, written below")
    make = forms.CharField(max_length=40, required=False)
    model = forms.CharField(max_length=40, required=False)
    year = forms.IntegerField(min_value=1920, max_value=2100, required=False)
    body = forms.ChoiceField(choices=[("", "Choose"), *Coach.Body.choices], required=False)
    wall_build = forms.ChoiceField(
        label="Walls",
        choices=Coach.WallBuild.choices,
        initial=Coach.WallBuild.FRAMED,
        required=False,
        help_text="How they are built up decides how fast they dry.",
    )
    owner_name = forms.CharField(label="Owner's name", max_length=80, required=False)
    owner_email = forms.EmailField(label="E-mail", required=False)
    owner_phone = forms.CharField(label="Phone", max_length=30, required=False)
    owner_locale = forms.ChoiceField(label="Language and region", choices=Owner.Locale.choices, required=False)
    owner_may_decide = forms.BooleanField(label="May say yes or no to added work", required=False, initial=True)
    complaint = forms.CharField(
        label="What the owner reports", max_length=300, widget=forms.Textarea(attrs={"rows": 2})
    )
    arrives_on = day_field("Arrives on")
    promised_on = day_field(
        "Promise the owner this ready date", required=False, help_text="May stay empty: promise once the plan is made."
    )
    bay = forms.ModelChoiceField(Bay.objects.none(), required=False, empty_label="Whichever is free first")
    leak = forms.ChoiceField(
        label="Where the water seems to come in",
        choices=[(leak.value, words.removeprefix("a ").capitalize()) for leak, words in LEAK_WORDS.items()],
        initial=Leak.UNKNOWN.value,
        required=False,
    )
    go_ahead_usd = MoneyField(
        label="Go ahead without asking up to, $",
        max_digits=10,
        min_value=0,
        required=False,
        help_text="Agreed with the owner in advance, tax included. Empty: every added cent is asked about.",
    )
    go_ahead_days = forms.IntegerField(label="and up to so many days later", min_value=0, max_value=365, required=False)
    priority = forms.IntegerField(min_value=1, max_value=9, initial=5, help_text="1 goes before 9.")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = shop
        _choices(self, "coach", Coach.objects.filter(shop=shop).exclude(jobs__in=Job.objects.open()).order_by("make"))
        _choices(self, "bay", shop.bays.all())
        self.fields["length"] = CoachLengthField(units=shop.units, label="Length", required=False)
        for name, label in (("width", "Width"), ("height", "Height of the body")):
            self.fields[name] = LengthField(units=shop.units, label=label, required=False)
        add_framing_fields(self, shop)
        if not self.data.get("coach"):
            for name in NEEDED_OF_A_NEW_COACH:
                self.fields[name].required = True
                self.fields[name].error_messages["required"] = "A new coach needs this."

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if not cleaned.get("coach"):
            self._check_size(cleaned)
            check_framing(self, cleaned, self.shop)
        self._check_promise(cleaned.get("promised_on"), cleaned.get("arrives_on"))
        self._check_bay(cleaned)
        return cleaned

    def coach_or_new(self) -> Coach | NewCoach:
        """The chosen coach, or what was written about a new one; only after is_valid()."""
        given = self.cleaned_data
        if given["coach"]:
            return given["coach"]  # type: ignore[no-any-return]
        return NewCoach(
            make=given["make"],
            model=given["model"],
            year=given["year"],
            body=given["body"],
            wall_build=given["wall_build"] or Coach.WallBuild.FRAMED,
            length_mm=given["length"],
            width_mm=given["width"],
            height_mm=given["height"],
            framing=framing_given(given),
            owner=NewOwner(
                name=given["owner_name"],
                email=given["owner_email"],
                phone=given["owner_phone"],
                locale=given["owner_locale"] or Owner.Locale.EN_US,
                may_decide=given["owner_may_decide"],
            ),
        )

    def framing_pairs(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        """Spacing and direction of the members, group by group."""
        return [(self[f"{group}_spacing"], self[f"{group}_run"]) for group in FaceGroup]

    def framing_is_open(self) -> bool:
        """Whether something stands there that must not be hidden."""
        return any(self.data.get(f"{group}_spacing") for group in FaceGroup)

    def _check_size(self, cleaned: dict[str, Any]) -> None:
        for name in BIGGEST_MM:
            size_mm = cleaned.get(name)
            if size_mm and (refused := size_refusal(name, size_mm, self.shop)):
                self.add_error(name, refused)

    def _check_promise(self, promised_on: date | None, arrives_on: date | None) -> None:
        if promised_on is None:
            return
        today = self.shop.local_date(timezone.now())
        refused = refusal(promised_on, today=today, arrives_on=arrives_on)
        if refused := refused or closed_words(promised_on, self.shop.calendar(), today=today):
            self.add_error("promised_on", refused)

    def _check_bay(self, cleaned: dict[str, Any]) -> None:
        bay, coach = cleaned.get("bay"), cleaned.get("coach")
        length_mm = coach.length_mm if coach else cleaned.get("length")
        if not length_mm:
            return
        if refusal := too_long_for_all(self.shop, length_mm):
            self.add_error("coach" if coach else "length", refusal)
        elif bay and length_mm > bay.longest_coach_mm:
            self.add_error("bay", f"This coach is too long for {bay}.")


class WorkForm(forms.Form):
    """One piece of work the owner brought in, with the remedy agreed at the desk."""

    kind = forms.ChoiceField(label="What is wrong", choices=[("", "Choose"), *FindingKind.choices])
    face = forms.ChoiceField(label="Where", choices=[("", "Choose"), *FACE_CHOICES])
    seen = forms.CharField(label="What is seen", max_length=500, widget=forms.Textarea(attrs={"rows": 2}))
    remedy = forms.ModelChoiceField(StandardRemedy.objects.none(), label="Remedy", empty_label="Choose")

    def __init__(self, *args: Any, shop: Shop, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self, "remedy", shop.standard_remedies.filter(is_active=True))
        self.fields["left"] = LengthField(units=shop.units, label="From the left of the face")
        self.fields["top"] = LengthField(units=shop.units, label="From the top of the face")
        self.fields["width"] = AboveZeroLengthField(units=shop.units, label="Width")
        self.fields["height"] = AboveZeroLengthField(units=shop.units, label="Height")

    def place(self) -> Place | None:
        """The place, once all of it reads as lengths."""
        given = [self.cleaned_data.get(name) for name in ("left", "top", "width", "height")]
        lengths_mm = [length_mm for length_mm in given if length_mm is not None]
        face = self.cleaned_data.get("face")
        if not face or len(lengths_mm) < len(given):
            return None
        return Place(Face(face), *lengths_mm)

    def check_on(self, coach: Coach | NewCoach) -> None:
        """Add an error if the place does not lie on the coach."""
        place = self.place()
        if place is None:
            return
        try:
            check_place(place, coach.faces())
        except ValueError as error:
            self.add_error("face", str(error))

    def work(self) -> BookedWork:
        place = self.place()
        if place is None:
            raise ValueError("work() is for a valid form")
        given = self.cleaned_data
        return BookedWork(given["kind"], place, given["seen"], given["remedy"])


class JobBooking:
    """The booking page's forms taken as one: the stay, and one to four pieces of work."""

    def __init__(self, shop: Shop, data: Any = None, *, asked: Mapping[str, str] | None = None) -> None:
        """asked: what was asked about beforehand, by the names of the fields; it stands in the empty forms."""
        asked = asked or {}
        self.stay = BookingForm(data, shop=shop, initial={name: asked[name] for name in CARRIED if name in asked})
        self.works = [
            WorkForm(
                data,
                shop=shop,
                prefix=f"work{number}",
                initial={name.partition("-")[2]: asked[name] for name in asked if name.startswith(f"work{number}-")},
                empty_permitted=number > 1,
                use_required_attribute=False,
            )
            for number in range(1, WORKS + 1)
        ]

    def is_valid(self) -> bool:
        # A list, not a generator: every form shows its errors at once.
        are_valid = [form.is_valid() for form in (self.stay, *self.works)]
        if self.stay.is_valid():
            coach = self.stay.coach_or_new()
            for form in self._filled():
                form.check_on(coach)
        return all(are_valid) and all(form.is_valid() for form in self.works)

    def work(self) -> list[BookedWork]:
        return [form.work() for form in self._filled()]

    @property
    def error_count(self) -> int:
        return sum(len(form.errors) for form in (self.stay, *self.works))

    def _filled(self) -> list[WorkForm]:
        return [form for form in self.works if form.has_changed()]


class PromiseForm(forms.Form):
    """A ready date for the owner; the first needs no reason, a new one does."""

    ready_on = day_field("Ready on")
    reason = forms.CharField(
        label="Why, in words for the owner", max_length=300, required=False, widget=forms.Textarea(attrs={"rows": 2})
    )

    def __init__(self, *args: Any, job: Job, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.shop = job.shop
        if job.promise:
            self.fields["reason"].required = True
            self.fields["reason"].error_messages["required"] = "Tell the owner why the date changes."
        else:
            del self.fields["reason"]

    def clean_ready_on(self) -> date:
        ready_on: date = self.cleaned_data["ready_on"]
        today = self.shop.local_date(timezone.now())
        if closed := closed_words(ready_on, self.shop.calendar(), today=today):
            raise forms.ValidationError(closed)
        return ready_on


class NumberCalledField(forms.CharField):
    """Needed for some answers, and said to be, where others are “optional”."""

    needed = "for an answer by phone"


class SpokenAnswerForm(forms.Form):
    """An owner's answer by phone or in person, written down by the shop. Nothing is chosen beforehand."""

    answer = forms.ChoiceField(label="The owner says", widget=forms.RadioSelect)
    owner = forms.ModelChoiceField(Owner.objects.none(), label="Who answers", empty_label="Choose")
    typed_name = forms.CharField(label="Name as the owner gives it", max_length=80)
    channel = forms.ChoiceField(
        label="How",
        choices=[(Decision.Channel.PHONE, "By phone"), (Decision.Channel.IN_PERSON, "In person")],
        widget=forms.RadioSelect,
    )
    phone = NumberCalledField(label="Number called", max_length=30, required=False)
    seen_sha256 = forms.CharField(max_length=64, widget=forms.HiddenInput)

    def __init__(self, *args: Any, job: Job, remedies: Sequence[Remedy], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        _choices(self, "owner", job.deciders())
        self.fields["answer"].choices = [  # type: ignore[attr-defined]
            *((str(remedy.pk), f"Yes: {remedy.name}") for remedy in remedies),
            (NO, "No, leave it as it is"),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if cleaned.get("channel") == Decision.Channel.PHONE and not cleaned.get("phone"):
            self.add_error("phone", "Give the number that was called.")
        return cleaned

    def remedy_id(self) -> int | None:
        """The remedy chosen (its primary key), None for a no; only after is_valid()."""
        answer = self.cleaned_data["answer"]
        return None if answer == NO else int(answer)


class TurnForm(forms.Form):
    priority = forms.IntegerField(
        min_value=1,
        max_value=9,
        error_messages=dict.fromkeys(
            ("required", "invalid", "min_value", "max_value"), "A turn is a number from 1 to 9."
        ),
    )


class WithdrawalForm(forms.Form):
    reason = forms.CharField(label="Why it is taken back", max_length=200)


def _choices(form: forms.Form, name: str, queryset: Any) -> None:
    field = form.fields[name]
    if not isinstance(field, forms.ModelChoiceField):
        raise TypeError(f"{name} is no choice among rows")
    field.queryset = queryset
