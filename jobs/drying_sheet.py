"""The drying page of a job: rows ready to print, a fixed number of queries whatever the number of stations."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise

import numpy as np

from jobs.body_plan import spot_words
from jobs.calc.faces import Face, covered_m2
from jobs.calc.moisture import mould, sizing
from jobs.calc.moisture.air import GRAINS_PER_LB, dew_point_c, humidity_ratio, standard_pressure_pa
from jobs.calc.moisture.airing import airing_words
from jobs.calc.moisture.drying import OWN_READINGS, rests_on_planning
from jobs.calc.moisture.limits import Limits
from jobs.calc.moisture.meter import MATERIALS
from jobs.calc.moisture.verdict import Verdict
from jobs.calc.moisture.wood import emc_pct
from jobs.calc.temperatures import print_temperature
from jobs.jumps import jump_words
from jobs.models import Coach, Job, Placement, Reading, ReadingRound, Shop, Station, StationForecast
from jobs.models.moisture import Layer
from jobs.services.drying import corrected, limit_for, limits_of

Outcome = StationForecast.Outcome
MM2_PER_M2 = 1e6
STALE = timedelta(days=2)
OWN_RATE_WORDS = f"After about {OWN_READINGS} readings, a day apart, the wood's own rate takes over."


@dataclass(frozen=True)
class ReadingRow:
    """A reading as it is printed: what the meter showed and what that stands for."""

    pk: int
    taken_at: datetime
    meter: str
    corrected: str
    how: str
    # What is improbable about it, seen from the reading before.
    jump: str


@dataclass(frozen=True)
class StationRow:
    """A station with its readings, newest first, and its forecast."""

    station: Station
    place: str
    material: str
    limit_pct: float
    readings: tuple[ReadingRow, ...]
    forecast: StationForecast | None
    is_stale: bool
    is_due: bool
    # Its date still rests on the planning rate of its layer.
    is_planned: bool

    @property
    def planned_words(self) -> str:
        return (
            f"The date rests on the planning rate for {self.station.get_layer_display()}, a planning value without a "
            f"source. {OWN_RATE_WORDS}"
        )

    @property
    def state(self) -> str:
        if self.forecast is None:
            return "not read yet" if not self.readings else "being worked out"
        return self.forecast.get_outcome_display()

    @property
    def jumps(self) -> tuple[str, ...]:
        """Its improbable readings, newest first."""
        return tuple(each.jump for each in self.readings if each.jump)

    @property
    def mark(self) -> str:
        """The drawn sign beside the state (css: state-...)."""
        if self.forecast is None:
            return "waiting"
        return (
            "done" if self.forecast.outcome == Outcome.DRY else "refused" if self.forecast.needs_a_hand else "running"
        )

    @property
    def version(self) -> str:
        """Changes with whatever the chart shows, so that browsers keep it until then."""
        return f"{self.forecast.worked_out_at.timestamp():.0f}" if self.forecast else "0"


@dataclass(frozen=True)
class AirRow:
    """The air of one round and what it does to wood."""

    round: ReadingRound
    words: str
    dew_point_c: float
    grains: float
    water: str
    equilibrium_pct: float
    read: int


@dataclass(frozen=True)
class DryingSummary:
    """How a job dries, in one line: by when, or which stations (numbers) hold it up."""

    even_at: datetime | None
    safe_at: datetime | None
    troubled: tuple[int, ...]
    is_dry: bool


@dataclass(frozen=True)
class Advice:
    """What to set up for the wet places, by published rules."""

    wet_area_m2: float
    water: int
    class_source: str
    blowers: sizing.Advice
    dehumidifier: sizing.Advice | sizing.NoAdvice


@dataclass(frozen=True)
class DryingSheet:
    limits: Limits
    stations: tuple[StationRow, ...]
    retired: tuple[StationRow, ...]
    struck: tuple[Reading, ...]
    layers: tuple[tuple[str, str], ...]
    rounds: tuple[AirRow, ...]
    airing: str
    placements: tuple[Placement, ...]
    summary: DryingSummary | None
    troubled: tuple[StationRow, ...]
    jumped: tuple[StationRow, ...]
    planned_words: str
    advice: Advice | None
    mould_note: str
    is_settling: bool

    @property
    def version(self) -> str:
        """Changes with what the moisture plans show."""
        newest = max((f"{row.round.taken_at.timestamp():.0f}" for row in self.rounds), default="0")
        return f"{newest}-{len(self.rounds)}-{len(self.stations)}"


def drying_summary(job: Job) -> DryingSummary | None:
    """How the job dries by its latest forecasts (one query); None while no station in use has one."""
    return summary_of(list(job.stations.in_use().select_related("forecast")))


def summary_of(stations: Iterable[Station]) -> DryingSummary | None:
    """The same from stations in use, read with their forecasts."""
    marked = list(stations)
    found = [each.forecast for each in marked if hasattr(each, "forecast")]
    if not found:
        return None
    troubled = tuple(each.number for each in marked if hasattr(each, "forecast") and each.forecast.needs_a_hand)
    dated = [each for each in found if each.outcome == Outcome.DATE and not troubled]
    even = [each.dry_even_at for each in dated if each.dry_even_at]
    safe = [each.dry_safe_at for each in dated if each.dry_safe_at]
    return DryingSummary(
        even_at=max(even, default=None),
        safe_at=max(safe) if safe and len(safe) == len(dated) else None,
        troubled=troubled,
        # A station that was never read could be anything.
        is_dry=len(found) == len(marked) and all(each.outcome == Outcome.DRY for each in found),
    )


def read_drying(job: Job, *, now: datetime) -> DryingSheet:
    """All that the page and the paper print."""
    limits = limits_of(job.shop)
    marked = list(job.stations.with_readings())
    stations = [each for each in marked if each.retired_at is None]
    rows = tuple(_station_row(each, job, limits, now) for each in stations)
    rounds = list(job.rounds.select_related("taken_by").prefetch_related("readings"))
    summary = summary_of(stations)
    return DryingSheet(
        limits=limits,
        stations=rows,
        retired=tuple(_station_row(each, job, limits, now) for each in marked if each.retired_at is not None),
        struck=tuple(
            Reading.objects.filter(round__job=job, strike__isnull=False)
            .select_related("strike__struck_by", "round", "station")
            .order_by("round__taken_at")
        ),
        layers=tuple((layer.value, layer.label) for layer in Layer if any(each.layer == layer for each in stations)),
        rounds=tuple(_air_row(each, job.shop) for each in reversed(rounds)),
        airing=_airing(rounds[-1], job.shop) if rounds else "",
        placements=tuple(job.placements.select_related("placed_by").order_by("-placed_at")),
        summary=summary,
        troubled=tuple(row for row in rows if row.forecast and row.forecast.needs_a_hand),
        jumped=tuple(row for row in rows if row.jumps),
        planned_words=_planned_words([row for row in rows if row.is_planned]),
        advice=_advice(job),
        mould_note=_mould_note(rounds) if summary and summary.is_dry else "",
        is_settling=any(row.readings and _is_behind(row) for row in rows),
    )


def _station_row(station: Station, job: Job, limits: Limits, now: datetime) -> StationRow:
    readings = list(station.readings.all())
    jumps = ["", *(jump_words(station, *pair, limits=limits) for pair in pairwise(readings))]
    forecast = getattr(station, "forecast", None)
    return StationRow(
        station=station,
        place=spot_words(station, job.coach),
        material=MATERIALS[station.material].name,
        limit_pct=limit_for(station, limits),
        readings=tuple(reversed([_reading_row(*each) for each in zip(readings, jumps[: len(readings)], strict=True)])),
        forecast=forecast,
        is_stale=bool(readings) and now - readings[-1].round.taken_at > STALE,
        is_due=bool(forecast and forecast.dry_even_at and forecast.dry_even_at <= now),
        is_planned=forecast is not None and forecast.dry_even_at is not None and _is_planned(station, forecast),
    )


def _is_planned(station: Station, forecast: StationForecast) -> bool:
    return rests_on_planning(
        station.layer,
        forecast.rate_origin,
        rate_low_per_h=forecast.rate_low_per_h,
        rate_high_per_h=forecast.rate_high_per_h,
    )


def _planned_words(rows: Sequence[StationRow]) -> str:
    """At which stations the date is mostly planning still; empty where it is at none."""
    if not rows:
        return ""
    numbers = [str(row.station.number) for row in rows]
    if len(numbers) == 1:
        begin = f"The date of station {numbers[0]} still rests"
    else:
        begin = f"The dates of stations {', '.join(numbers[:-1])} and {numbers[-1]} still rest"
    return f"{begin} on a planning rate, a planning value without a source. {OWN_RATE_WORDS}"


def _reading_row(reading: Reading, jump: str) -> ReadingRow:
    if reading.meter_pct is None:
        return ReadingRow(reading.pk, reading.round.taken_at, str(reading), str(reading), "beyond the scale", jump)
    found = corrected(reading)
    return ReadingRow(reading.pk, reading.round.taken_at, str(reading), f"{found.mc_pct:.1f} %", found.how, jump)


def _is_behind(row: StationRow) -> bool:
    """The worker has not taken in the latest reading yet."""
    return row.forecast is None or row.forecast.round.taken_at < row.readings[0].taken_at


def _air_row(taken: ReadingRound, shop: Shop) -> AirRow:
    temp_c, rh_pct = taken.drying_air
    ratio = humidity_ratio(temp_c, rh_pct, standard_pressure_pa(shop.altitude_m))
    grains = GRAINS_PER_LB * ratio
    return AirRow(
        round=taken,
        words=_measured_where(taken, shop),
        dew_point_c=dew_point_c(temp_c, max(rh_pct, 1.0)),
        grains=grains,
        water=f"{grains:.0f} gr/lb" if shop.units == Shop.Units.US else f"{1000 * ratio:.1f} g/kg",
        equilibrium_pct=float(emc_pct(temp_c, rh_pct)),
        read=len(taken.readings.all()),
    )


def _measured_where(taken: ReadingRound, shop: Shop) -> str:
    if taken.cavity_rh_pct is not None:
        return "inside the cavity"
    if taken.wet_bulb_c is not None:
        return f"in the shop, wet bulb {print_temperature(taken.wet_bulb_c, units=shop.units)}"
    return "in the shop"


def _airing(taken: ReadingRound, shop: Shop) -> str:
    """What drawing the shop's air through the cavity would do; empty where only one of the two was measured."""
    if taken.cavity_temp_c is None or taken.cavity_rh_pct is None:
        return ""
    return airing_words(
        (taken.air_temp_c, taken.rh_pct),
        (taken.cavity_temp_c, taken.cavity_rh_pct),
        units=shop.units,
        pressure_pa=standard_pressure_pa(shop.altitude_m),
    )


def _advice(job: Job) -> Advice | None:
    """How many blowers and which dehumidifier for the wet places; None when nothing is known to be wet."""
    wet = [each for each in job.findings.all() if each.standing_verdict == Verdict.WAIT_FOR_DRY or each.is_wet]
    if not wet:
        return None
    total_m2 = sum(size.width_mm * size.height_mm for size in job.coach.faces()) / MM2_PER_M2
    floor_m2 = covered_m2([each.place for each in wet if each.face == Face.FLOOR])
    upper_m2 = covered_m2([each.place for each in wet if each.face != Face.FLOOR])
    # A place may reach past its face by the tolerance of typing; more than all of it cannot be wet.
    water = sizing.water_class(min(floor_m2 + upper_m2, total_m2), total_m2, is_deep=False)
    return Advice(
        wet_area_m2=floor_m2 + upper_m2,
        water=water,
        class_source=sizing.CLASS_SOURCE,
        blowers=sizing.blowers_needed(wet_floor_m2=floor_m2, wet_upper_m2=upper_m2),
        dehumidifier=sizing.dehumidifier_pints_per_day(_volume_m3(job.coach), water),
    )


def _volume_m3(coach: Coach) -> float:
    return coach.length_mm * coach.width_mm * coach.height_mm / MM2_PER_M2 / 1000.0


def _mould_note(rounds: Sequence[ReadingRound]) -> str:
    """The mould index of the cavity's air as logged, hour by hour between rounds; empty with less than two."""
    logged = [(each.taken_at, *each.drying_air) for each in rounds if each.cavity_rh_pct is not None]
    if len(logged) < 2:
        return ""
    begin = logged[0][0]
    hours = [(at - begin) / timedelta(hours=1) for at, _, _ in logged]
    steps = np.arange(0.0, hours[-1] + 1.0)
    temps_c = np.interp(steps, hours, [temp for _, temp, _ in logged])
    rhs_pct = np.interp(steps, hours, [rh for _, _, rh in logged])
    index = mould.mould_index(temps_c, rhs_pct, material_class=mould.MaterialClass.VERY_SENSITIVE)
    return mould.risk_note(float(index[-1]))
