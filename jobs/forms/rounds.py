"""Walking a round: the air once, then one value a station."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField

from jobs.body_plan import spot_words
from jobs.calc.moisture.air import relative_humidity_by_wet_bulb_pct, standard_pressure_pa, wet_bulb_c
from jobs.calc.moisture.limits import Limits
from jobs.calc.temperatures import print_temperature
from jobs.errors import JobError
from jobs.fields import KeyField, LocalTimeField, NumberField, TemperatureField
from jobs.jumps import jump_words
from jobs.models import Job, Reading, ReadingRound, Shop, Station
from jobs.services.drying import limits_of
from jobs.services.moisture import Air, NewReading, check_round_time, to_the_minute

SKIP = "skip"
HUMIDITY_MESSAGES = {
    "required": "Give the humidity, such as 48, or the wet bulb.",
    "invalid": "Write a number, such as 48.",
}
MOST_PCT = 200
# Drier air is a slip, or a wick that has run dry.
LEAST_RH_PCT = 1


class UnforcedInput(forms.TextInput):
    """Needed, unless another field stands for it: the browser is not to insist, the form does."""

    def use_required_attribute(self, initial: Any) -> bool:
        return False


@dataclass(frozen=True)
class Doubt:
    """A reading that is asked about, and whether it was confirmed: a tick in `name` with the value that it is for."""

    words: str
    name: str
    value: str
    shown: str
    is_sure: bool


@dataclass(frozen=True)
class StationRow:
    """A station in the round's form: its two fields and what it read before."""

    station: Station
    range: BoundField
    meter_pct: BoundField
    before: Reading | None
    place: str
    doubt: "Doubt | None"

    @property
    def before_words(self) -> str:
        return str(self.before) if self.before else ""


class RoundForm(forms.Form):
    """A round: the air once, then one value a station. A station left empty is skipped."""

    key = KeyField()
    rh_pct = NumberField(
        label="Humidity, %",
        min_value=LEAST_RH_PCT,
        max_value=100,
        error_messages=HUMIDITY_MESSAGES,
        widget=UnforcedInput,
    )
    cavity_rh_pct = NumberField(
        label="Humidity in there, %",
        min_value=LEAST_RH_PCT,
        max_value=100,
        required=False,
        error_messages=HUMIDITY_MESSAGES,
    )

    def __init__(self, *args: Any, job: Job, stations: Sequence[Station], now: datetime, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.job, self.stations, self.now = job, stations, now
        self.doubts: dict[int, Doubt] = {}
        self.fields["taken_at"] = LocalTimeField(time_zone=job.shop.time_zone, exact=now, label="Read at")
        units = job.shop.units
        sign = "°F" if units == Shop.Units.US else "°C"
        self.fields["air_temp"] = TemperatureField(units=units, label=f"Air, {sign}")
        self.fields["wet_bulb"] = TemperatureField(units=units, label=f"Wet bulb, {sign}", required=False)
        if self.data.get("wet_bulb", "").strip():
            self.fields["rh_pct"].required = False
        self.fields["cavity_temp"] = TemperatureField(units=units, label=f"Cavity, {sign}", required=False)
        for station in stations:
            self.fields[f"range_{station.pk}"] = forms.ChoiceField(
                label="The meter shows",
                required=False,
                choices=[("value", "a value"), ("low", "too dry for it"), ("high", "too wet for it"), (SKIP, "skip")],
                widget=forms.RadioSelect,
                initial="value",
            )
            self.fields[f"reading_{station.pk}"] = NumberField(
                label=f"Station {station.number}, %",
                required=False,
                min_value=0,
                max_value=MOST_PCT,
                # Django fills these in with %, so the sign itself is doubled.
                error_messages={
                    "invalid": "Write a number, such as 18.",
                    "min_value": "Moisture cannot be below 0 %%.",
                    "max_value": f"Moisture above {MOST_PCT} %% is hardly a reading. Check the number.",
                },
            )

    def rows(self) -> list[StationRow]:
        """The stations in their order, each with its bound fields."""
        return [
            StationRow(
                station,
                self[f"range_{station.pk}"],
                self[f"reading_{station.pk}"],
                list(station.readings.all())[-1] if station.readings.all() else None,
                spot_words(station, self.job.coach),
                self.doubts.get(station.pk),
            )
            for station in self.stations
        ]

    def has_cavity(self) -> bool:
        """Whether anything stands in the cavity's fields, so that the page shows them open."""
        return any(self[name].value() for name in ("cavity_temp", "cavity_rh_pct"))

    def clean_taken_at(self) -> datetime:
        taken_at: datetime = self.cleaned_data["taken_at"]
        try:
            check_round_time(self.job, taken_at, now=self.now)
        except JobError as error:
            raise ValidationError(str(error)) from None
        return taken_at

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        if (cleaned.get("cavity_temp") is None) != (cleaned.get("cavity_rh_pct") is None):
            missing = "cavity_temp" if cleaned.get("cavity_temp") is None else "cavity_rh_pct"
            if missing not in self.errors:
                self.add_error(missing, "Give both for the cavity, or neither.")
        if cleaned.get("wet_bulb") is not None:
            self._read_wet_bulb(cleaned)
        self._check_readings(cleaned)
        self._ask_about_jumps(cleaned)
        if not self.errors and not self.readings():
            self.add_error(None, "Nothing was read. Give at least one station a value.")
        return cleaned

    def _read_wet_bulb(self, cleaned: dict[str, Any]) -> None:
        """Work the humidity out of both bulbs, or say beside the wet one why they cannot be."""
        wick_c, temp_c = cleaned["wet_bulb"], cleaned.get("air_temp")
        units = self.job.shop.units
        if cleaned.get("rh_pct") is not None:
            self.add_error("wet_bulb", "Give the humidity or the wet bulb, not both: rub one out.")
        elif wick_c < 0:
            freezing = print_temperature(0.0, units=units)
            self.add_error("wet_bulb", f"Below {freezing} the wick freezes and tells little. Read a hygrometer.")
        elif temp_c is not None and wick_c > temp_c:
            self.add_error("wet_bulb", "A wet bulb is never warmer than the air. Check both, or swap them.")
        elif temp_c is not None:
            rh_pct = self._humidity_pct(temp_c, wick_c)
            if rh_pct < LEAST_RH_PCT:
                least = print_temperature(wet_bulb_c(temp_c, LEAST_RH_PCT, self._pressure_pa()), units=units)
                self.add_error("wet_bulb", f"No air is so dry: it would show about {least} at least. Check both.")
            cleaned["rh_pct"] = rh_pct

    def _humidity_pct(self, temp_c: float, wick_c: float) -> float:
        """0 where even dry air would not cool the wick so far."""
        try:
            return relative_humidity_by_wet_bulb_pct(temp_c, wick_c, self._pressure_pa())
        except ValueError:
            return 0.0

    def _pressure_pa(self) -> float:
        return standard_pressure_pa(self.job.shop.altitude_m)

    def _check_readings(self, cleaned: dict[str, Any]) -> None:
        """A number and "beyond the scale" exclude each other; a station that is read no more is not passed over."""
        for station in self.stations:
            is_beyond = cleaned.get(f"range_{station.pk}") in {Reading.Range.LOW, Reading.Range.HIGH}
            if is_beyond and cleaned.get(f"reading_{station.pk}") is not None:
                self.add_error(f"reading_{station.pk}", "Either a number or beyond the meter: rub one out.")
        known = {f"reading_{station.pk}" for station in self.stations}
        gone = [name for name in self.data if name.startswith("reading_") and name not in known and self.data[name]]
        if gone:
            self.add_error(None, "A station you read is no longer read. The others are kept here: send them again.")

    def _ask_about_jumps(self, cleaned: dict[str, Any]) -> None:
        """A jump that wood hardly makes is stored once it is confirmed, with the value it was confirmed for."""
        if cleaned.get("taken_at") is None:
            return
        limits = limits_of(self.job.shop)
        taken = ReadingRound(taken_at=to_the_minute(cleaned["taken_at"]))
        for station in self.stations:
            new = self._reading(station)
            if new is None or f"reading_{station.pk}" in self.errors:
                continue
            reading = Reading(round=taken, station=station, range=new.range, meter_pct=new.meter_pct)
            if words := _jump_at(station, reading, limits):
                self._ask(station, reading, words)

    def _ask(self, station: Station, reading: Reading, words: str) -> None:
        name = f"sure_{station.pk}"
        value = reading.range if reading.meter_pct is None else f"{reading.meter_pct:g}"
        doubt = Doubt(words, name, value, str(reading), self.data.get(name) == value)
        self.doubts[station.pk] = doubt
        if not doubt.is_sure:
            self.add_error(
                f"reading_{station.pk}",
                f"{words} Read it again. If the meter does show {doubt.shown}, tick it below and send again.",
            )

    def sure_of(self) -> list[int]:
        """The stations whose jump was confirmed."""
        return [pk for pk, doubt in self.doubts.items() if doubt.is_sure]

    def air(self) -> Air:
        cleaned = self.cleaned_data
        return Air(cleaned["air_temp"], cleaned["rh_pct"], cleaned["wet_bulb"])

    def cavity_air(self) -> Air | None:
        cleaned = self.cleaned_data
        return None if cleaned["cavity_temp"] is None else Air(cleaned["cavity_temp"], cleaned["cavity_rh_pct"])

    def readings(self) -> list[NewReading]:
        """What was read, station by station; the skipped ones are left out."""
        found = (self._reading(station) for station in self.stations)
        return [each for each in found if each]

    def _reading(self, station: Station) -> NewReading | None:
        range_ = self.cleaned_data.get(f"range_{station.pk}") or "value"
        if range_ in {Reading.Range.LOW, Reading.Range.HIGH}:
            return NewReading(station.pk, range_)
        meter_pct = self.cleaned_data.get(f"reading_{station.pk}")
        return None if range_ == SKIP or meter_pct is None else NewReading(station.pk, range_, meter_pct)


def _jump_at(station: Station, reading: Reading, limits: Limits) -> str:
    """The jump from the reading before it, or to the one after where a round was missed; empty without one."""
    known = list(station.readings.all())
    at = reading.round.taken_at
    before = [each for each in known if each.round.taken_at < at][-1:]
    after = [each for each in known if each.round.taken_at > at][:1]
    pairs = [*((each, reading) for each in before), *((reading, each) for each in after)]
    return next(filter(None, (jump_words(station, *pair, limits=limits) for pair in pairs)), "")
