"""Form fields for what people type at a bench: lengths, numbers, photos."""

import math
import re
import uuid
from datetime import UTC, datetime
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import UploadedFile

from jobs.calc.lengths import parse_length_mm, print_length
from jobs.calc.temperatures import print_temperature
from jobs.models import Shop
from jobs.models.moisture import AIR_TEMP_C
from jobs.models.shop import ALTITUDE_M, M_PER_FOOT

LOCAL_TIME = "%Y-%m-%dT%H:%M"
HOURS_EXAMPLE = "Write hours as a number, such as 2.5."
# Never with an exponent, as a plain g would write a million.
LIMIT_WORDS = {"min_value": "At least %(limit_value).12g, please.", "max_value": "At most %(limit_value).12g, please."}
# Groups of three from the first comma on, never a lone zero before one.
THOUSANDS = re.compile(r"-?[1-9][0-9]{0,2}(,[0-9]{3})+(\.[0-9]*)?", re.ASCII)
COMMA_WORDS = "Write cents after a point, and a comma only between thousands: 12.50 or 1,000.00."
EXAMPLES = {Shop.Units.US: "6' 3 1/2\" or 75.5", Shop.Units.METRIC: "1.92 m or 1920"}
COACH_EXAMPLES = {Shop.Units.US: "24' 6\" or 24", Shop.Units.METRIC: "7.3 m or 7300"}
COACH_UNITS = {Shop.Units.US: ("ft", 82), Shop.Units.METRIC: ("m", 25)}


class KeyField(forms.UUIDField):
    """The mark of one form, so that what is sent twice is stored once; a damaged one is made anew with the page."""

    widget = forms.HiddenInput

    def __init__(self, **kwargs: Any) -> None:
        words = "It was damaged on its way and has been mended. Please send it again."
        super().__init__(label="This page", error_messages={"required": words, "invalid": words}, **kwargs)

    def bound_data(self, data: Any, initial: Any) -> Any:
        try:
            self.clean(data)
        except ValidationError:
            return str(uuid.uuid4())
        return data


class LengthField(forms.CharField):
    """A length as people write it, in the shop's units; the cleaned value is in millimetres, or None."""

    def __init__(self, *, units: str, longest_mm: float | None = None, **kwargs: Any) -> None:
        self.units, self.longest_mm = units, longest_mm
        attributes = {"autocomplete": "off", "data-units": units, "placeholder": EXAMPLES[Shop.Units(units)]}
        messages = {"required": f"Measure it and write it down, such as {EXAMPLES[Shop.Units(units)]}."}
        super().__init__(max_length=40, widget=forms.TextInput(attrs=attributes), error_messages=messages, **kwargs)

    def clean(self, value: Any) -> float | None:
        text = super().clean(value)
        if not text:
            return None
        try:
            length_mm = parse_length_mm(text, units=self.units)
        except ValueError as error:
            raise ValidationError(str(error)) from None
        if self.longest_mm is not None and length_mm > self.longest_mm:
            raise ValidationError(f"At most {print_length(self.longest_mm, units=self.units)}, please.")
        return length_mm


class AboveZeroLengthField(LengthField):
    """A length that something has."""

    def clean(self, value: Any) -> float | None:
        length_mm = super().clean(value)
        if length_mm is not None and not length_mm > 0:
            raise ValidationError(f"Must be more than nothing, such as {EXAMPLES[Shop.Units(self.units)]}.")
        return length_mm


class CoachLengthField(LengthField):
    """The length of a coach. A bare number that is one in feet (in a metric shop in metres) is read so: nobody has a
    coach of 24 inches."""

    def __init__(self, *, units: str, **kwargs: Any) -> None:
        super().__init__(units=units, **kwargs)
        example = COACH_EXAMPLES[Shop.Units(units)]
        self.widget.attrs["placeholder"] = example
        self.error_messages["required"] = f"Measure it and write it down, such as {example}."

    def clean(self, value: Any) -> float | None:
        unit, longest = COACH_UNITS[Shop.Units(self.units)]
        text = str(value or "").strip()
        if re.fullmatch(r"[0-9]{1,2}([.,][0-9]{1,2})?", text) and 0 < float(text.replace(",", ".")) <= longest:
            value = f"{text} {unit}"
        return super().clean(value)


class NumberField(forms.FloatField):
    """A number typed with a point or a comma, on the phone's number keys."""

    widget = forms.TextInput

    def __init__(self, *, error_messages: dict[str, str] | None = None, **kwargs: Any) -> None:
        super().__init__(error_messages=LIMIT_WORDS | (error_messages or {}), **kwargs)

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return super().widget_attrs(widget) | {"inputmode": "decimal", "autocomplete": "off"}


class TemperatureField(NumberField):
    """A temperature in the shop's units (Fahrenheit or Celsius); the cleaned value is in Celsius, or None."""

    def __init__(self, *, units: str, **kwargs: Any) -> None:
        self.units = units
        messages = {
            "required": f"Read the thermometer, such as {'72' if units == Shop.Units.US else '22'}.",
            "invalid": "Write the temperature as a number.",
        }
        super().__init__(error_messages=messages, **kwargs)

    def clean(self, value: Any) -> float | None:
        number = super().clean(value)
        if number is None:
            return None
        temp_c = (number - 32) / 1.8 if self.units == Shop.Units.US else float(number)
        lowest_c, highest_c = AIR_TEMP_C
        if not lowest_c <= temp_c <= highest_c:
            ends = [print_temperature(each, units=self.units) for each in AIR_TEMP_C]
            raise ValidationError(f"That is hardly the air of a shop: it lies between {ends[0]} and {ends[1]}.")
        return temp_c


class AltitudeField(forms.CharField):
    """Whole feet or metres above the sea, in the shop's units; the cleaned value is in metres.

    Fractions mean nothing here, so a comma or a point before three digits parts the thousands: 5,280 is no 5.28.
    """

    def __init__(self, *, units: str, **kwargs: Any) -> None:
        is_us = units == Shop.Units.US
        self.metres, self.sign, self.example = (M_PER_FOOT, "ft", "5280") if is_us else (1.0, "m", "1600")
        widget = forms.TextInput(attrs={"autocomplete": "off"})
        messages = {"required": f"Write the altitude, such as {self.example}; by the sea it is 0."}
        super().__init__(max_length=20, widget=widget, error_messages=messages, **kwargs)

    def clean(self, value: Any) -> float:
        text = super().clean(value).replace("\N{MINUS SIGN}", "-")
        if not re.fullmatch(r"-?([0-9]+|[0-9]{1,3}[.,\s'][0-9]{3})", text, re.ASCII):
            raise ValidationError(f"Write it in whole {self.sign}, such as {self.example}.")
        typed = int(re.sub(r"[^0-9-]", "", text))
        lowest, highest = math.ceil(ALTITUDE_M[0] / self.metres), math.floor(ALTITUDE_M[1] / self.metres)
        if not lowest <= typed <= highest:
            raise ValidationError(
                f"No shop stands there: between {lowest:,} and {highest:,} {self.sign}, please. Check the unit."
            )
        return typed * self.metres


class LocalTimeField(forms.CharField):
    """Date and time on the shop's clock; the cleaned value is an aware moment.

    exact: the moment that the field shows at first. Left as it is shown, it is kept to the second, and in the hour
    that the clock goes through twice it stays the one of the two that it was.
    """

    def __init__(self, *, time_zone: str, exact: datetime, **kwargs: Any) -> None:
        self.zone, self.exact = ZoneInfo(time_zone), exact
        widget = forms.DateTimeInput(attrs={"type": "datetime-local"})
        messages = {"required": "Give date and time."}
        super().__init__(widget=widget, initial=self._shown(exact), error_messages=messages, **kwargs)

    def clean(self, value: Any) -> datetime:
        text = super().clean(value)[:16]
        if text == self._shown(self.exact):
            return self.exact
        try:
            naive = datetime.strptime(text, LOCAL_TIME)  # noqa: DTZ007 - the zone follows
            moment = naive.replace(tzinfo=self.zone).astimezone(UTC)
            shown_again = moment.astimezone(self.zone).replace(tzinfo=None)
        except (ValueError, OverflowError):  # the first and the last day there is overflow
            raise ValidationError("Write date and time, such as 2026-03-04T07:30.") from None
        if shown_again != naive:
            raise ValidationError("The clock skips that hour on this day. Check the time.")
        return moment

    def _shown(self, moment: datetime) -> str:
        return moment.astimezone(self.zone).strftime(LOCAL_TIME)


class ExactField(forms.DecimalField):
    """An exact number typed with a point or a comma, and what it may be in plain words."""

    widget = forms.TextInput

    def __init__(
        self, *, max_digits: int, decimal_places: int, error_messages: dict[str, str] | None = None, **kwargs: Any
    ) -> None:
        before = max_digits - decimal_places
        too_long = f"At most {before} digit{'' if before == 1 else 's'} before the point, please."
        words = {
            "required": "Write a number, such as 12.5.",
            "invalid": "Write a number, such as 12.5.",
            "max_decimal_places": f"At most {decimal_places} digits after the point, please.",
            "max_whole_digits": too_long,
            "max_digits": too_long,
        }
        words = LIMIT_WORDS | words | (error_messages or {})
        super().__init__(max_digits=max_digits, decimal_places=decimal_places, error_messages=words, **kwargs)

    def to_python(self, value: Any) -> Any:
        return super().to_python(value.replace(",", ".") if isinstance(value, str) else value)

    def widget_attrs(self, widget: forms.Widget) -> dict[str, Any]:
        return super().widget_attrs(widget) | {"inputmode": "decimal", "autocomplete": "off"}


class HundredthsField(ExactField):
    """A counted quantity or a percentage: to the hundredth."""

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(decimal_places=2, **kwargs)


class MoneyField(HundredthsField):
    """Money, typed as it is printed: $1,000.00. A comma parts thousands alone, so that 1,00 is no sum at all."""

    def to_python(self, value: Any) -> Any:
        if not isinstance(value, str):
            return super().to_python(value)
        typed = value.strip().lstrip("$ ")
        if "," in typed and re.fullmatch(r"-?[0-9.,]+", typed, re.ASCII):
            if not THOUSANDS.fullmatch(typed):
                raise ValidationError(COMMA_WORDS)
            typed = typed.replace(",", "")
        return super().to_python(typed)


class PhotosInput(forms.FileInput):
    allow_multiple_selected = True


class PhotosField(forms.FileField):
    """Any number of files; the cleaned value is their list. Whether they are photos is the form's business."""

    def __init__(self, *, camera: bool = False, **kwargs: Any) -> None:
        attributes = {"accept": "image/*", "data-photos": ""} | ({"capture": "environment"} if camera else {})
        super().__init__(required=False, widget=PhotosInput(attrs=attributes), **kwargs)

    def clean(self, data: Any, initial: Any = None) -> "list[UploadedFile[bytes]]":
        return [file for file in data or [] if file]


def too_big_words(name: str) -> str:
    return f"{name} is larger than {settings.PHOTO_MAX_BYTES // 1_000_000} MB. Please send a smaller one."
