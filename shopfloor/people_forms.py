"""When somebody works: own week, days away, overtime."""

from datetime import datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms

from jobs.models import Person, ShopHours
from jobs.services.people import OwnHours
from shopfloor.forms import day_field

CLOCK = {"required": "Give a time such as 07:00.", "invalid": "Write a time such as 07:00."}


def clock_field(label: str, *, required: bool = False) -> forms.TimeField:
    return forms.TimeField(
        label=label,
        required=required,
        widget=forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        error_messages=CLOCK,
    )


class WeekForm(forms.Form):
    """A person's own week; all empty for the shop's hours."""

    def __init__(self, *args: Any, person: Person, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        own = {each.weekday: each for each in person.own_hours.all()}
        for day in ShopHours.Weekday:
            self.fields[f"opens{day.value}"] = clock_field(f"{day.label}, from")
            self.fields[f"closes{day.value}"] = clock_field("to")
            if kept := own.get(day.value):
                self.initial.update({f"opens{day.value}": kept.opens, f"closes{day.value}": kept.closes})

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        for day in ShopHours.Weekday:
            opens, closes = cleaned.get(f"opens{day.value}"), cleaned.get(f"closes{day.value}")
            if opens and closes and closes <= opens:
                self.add_error(f"closes{day.value}", "This lies before the beginning.")
            elif opens and not closes and f"closes{day.value}" not in self.errors:
                self.add_error(f"closes{day.value}", "Until when?")
            elif closes and not opens and f"opens{day.value}" not in self.errors:
                self.add_error(f"opens{day.value}", "From when?")
        return cleaned

    def hours(self) -> list[OwnHours]:
        given = self.cleaned_data
        return [
            OwnHours(day.value, given[f"opens{day.value}"], given[f"closes{day.value}"])
            for day in ShopHours.Weekday
            if given[f"opens{day.value}"]
        ]

    def days(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"opens{day.value}"], self[f"closes{day.value}"]) for day in ShopHours.Weekday]


class AwayForm(forms.Form):
    # Beside which field a refusal stands, by the argument of the service that it is about.
    BESIDE = {"first_on": "first_on", "last_on": "last_on"}

    first_on = day_field("First day away")
    last_on = day_field("Last day away")


class OvertimeForm(forms.Form):
    BESIDE = {"on": "on", "begins_at": "begins", "ends_at": "ends"}

    on = day_field("Day")
    begins = clock_field("From", required=True)
    ends = clock_field("To", required=True)

    def span(self, zone: ZoneInfo) -> tuple[datetime, datetime]:
        """The span on the shop's clock; one that ends at or before it begins goes on into the next day."""
        given = self.cleaned_data
        begins_at = datetime.combine(given["on"], given["begins"], tzinfo=zone)
        ends: time = given["ends"]
        ends_on = given["on"] if ends > given["begins"] else given["on"] + timedelta(days=1)
        return begins_at, datetime.combine(ends_on, ends, tzinfo=zone)
