"""When each station will be dry, worked out from the readings and the air; and what the shop's limits are."""

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Count

from jobs import kinds
from jobs.calc.moisture.drying import (
    PLANNING_PRIORS,
    AirSample,
    DryingForecast,
    MoistureReading,
    RatePrior,
    forecast_drying,
    prior_from_history,
)
from jobs.calc.moisture.limits import Limits
from jobs.calc.moisture.meter import MATERIALS, CorrectedReading, corrected_mc
from jobs.journal import record
from jobs.models import Job, Reading, ReadingRound, Shop, Station, StationForecast

Outcome = StationForecast.Outcome
# Fewer readings fit many rates; they would blur the shop's history.
HISTORY_READINGS = 4


@dataclass(frozen=True)
class WorkedOut:
    """A station's forecast, not yet stored."""

    station: Station
    round: ReadingRound
    forecast: DryingForecast
    origin: datetime
    rate_origin: str
    limit_pct: float


def limits_of(shop: Shop) -> Limits:
    """The shop's limits: its own where it has set them, else the stated defaults (one query)."""
    return Limits(**dict(shop.limits.values_list("key", "value")))


def work_out_drying(job: Job, *, now: datetime) -> list[WorkedOut]:
    """Forecast every station in use that has been read. Reads, computes, writes nothing."""
    rounds = list(job.rounds.order_by("taken_at"))
    stations = [each for each in job.stations.in_use().with_readings() if each.readings.all()]
    if not rounds or not stations:
        return []
    limits = limits_of(job.shop)
    origin = rounds[0].taken_at
    air = [AirSample(_hours(each.taken_at, origin), *each.drying_air) for each in rounds]
    priors = _priors(job, stations)
    return [_work_out(station, air, priors[station.pk], limits=limits, origin=origin, now=now) for station in stations]


def store_drying(job: Job, worked_out: Sequence[WorkedOut], *, cause: str, now: datetime) -> None:
    """Keep the forecasts, unless newer ones are there. Runs inside the caller's transaction.

    cause: the kind of the journal entry that called for it.

    After commit: the shop is replanned with the new drying times.
    """
    if StationForecast.objects.filter(station__job=job, worked_out_at__gt=now).exists():
        return
    StationForecast.objects.filter(station__job=job).exclude(
        station__in=[each.station.pk for each in worked_out]
    ).delete()
    for each in worked_out:
        StationForecast.objects.update_or_create(station=each.station, defaults=_fields(each, now))
    data = {
        "cause": cause,
        "stations": [_entry_row(each) for each in worked_out],
        "unread": job.stations.in_use().count() - len(worked_out),
    }
    record(job, kinds.DRYING_WORKED_OUT, now=now, data=data)


def limit_for(station: Station, limits: Limits) -> float:
    """The close-in limit [%] of what the station is made of: panels have their own."""
    is_panel = MATERIALS[station.material].group == "panel"
    return limits.panel_close_in_pct if is_panel else limits.close_in_pct


def moisture_of(reading: Reading) -> float | None:
    """The reading's moisture content [%], corrected for wood temperature and species; None beyond the scale."""
    return None if reading.meter_pct is None else corrected(reading).mc_pct


def moisture_or_end(reading: Reading, limits: Limits) -> float:
    """The same; beyond an end of the meter's scale, that end [%]."""
    ends = {Reading.Range.LOW.value: limits.meter_low_pct, Reading.Range.HIGH.value: limits.meter_high_pct}
    return ends[reading.range] if reading.meter_pct is None else corrected(reading).mc_pct


def corrected(reading: Reading) -> CorrectedReading:
    """A value of the meter, corrected, and in words how. The wood is taken to be as warm as the air around it."""
    return corrected_mc(reading.meter_pct or 0.0, reading.station.material, reading.round.drying_air[0])


def _work_out(
    station: Station, air: list[AirSample], prior: RatePrior, *, limits: Limits, origin: datetime, now: datetime
) -> WorkedOut:
    readings = list(station.readings.all())
    limit_pct = limit_for(station, limits)
    forecast = forecast_drying(
        [_moisture_reading(each, limits, origin) for each in readings],
        air,
        now_h=max(_hours(now, origin), _hours(readings[-1].round.taken_at, origin)),
        limit_pct=limit_pct,
        prior=prior,
        seed=station.number,
    )
    return WorkedOut(station, readings[-1].round, forecast, origin, prior.origin, limit_pct)


def _moisture_reading(reading: Reading, limits: Limits, origin: datetime) -> MoistureReading:
    at_h = _hours(reading.round.taken_at, origin)
    return MoistureReading(at_h, moisture_or_end(reading, limits), reading.range)  # type: ignore[arg-type]


def _priors(job: Job, stations: Sequence[Station]) -> dict[int, RatePrior]:
    """What is expected of each station's rate before it is read: the shop's record of the same build-up, if any."""
    history: dict[tuple[str, str], list[float]] = defaultdict(list)
    known = (
        StationForecast.objects.filter(
            station__job__shop=job.shop,
            station__job__coach__wall_build=job.coach.wall_build,
            outcome__in=[Outcome.DRY, Outcome.DATE],
        )
        .exclude(station__job=job)
        .annotate(reading_count=Count("station__readings"))
        .filter(reading_count__gte=HISTORY_READINGS)
    )
    for layer, material, rate in known.values_list("station__layer", "station__material", "rate_per_h"):
        history[layer, material].append(rate)
    return {
        each.pk: prior_from_history(history[each.layer, each.material], PLANNING_PRIORS[each.layer])
        for each in stations
    }


def _fields(each: WorkedOut, now: datetime) -> dict[str, Any]:
    forecast = each.forecast
    return {
        "round": each.round,
        "worked_out_at": now,
        "outcome": forecast.outcome.value,
        "reason": forecast.reason,
        "limit_pct": each.limit_pct,
        "equilibrium_pct": forecast.equilibrium_pct,
        "rate_low_per_h": forecast.rate_low_per_h,
        "rate_per_h": forecast.rate_median_per_h,
        "rate_high_per_h": forecast.rate_high_per_h,
        "rate_origin": each.rate_origin,
        "dry_even_at": _at(forecast.dry_even_h, each.origin),
        "dry_safe_at": _at(forecast.dry_safe_h, each.origin),
        "curve": [
            [
                (each.origin + timedelta(hours=point.at_h)).isoformat(),
                round(point.low_pct, 2),
                round(point.median_pct, 2),
                round(point.high_pct, 2),
            ]
            for point in forecast.curve
        ],
    }


def _entry_row(each: WorkedOut) -> dict[str, Any]:
    even_at, safe_at = (_at(hours, each.origin) for hours in (each.forecast.dry_even_h, each.forecast.dry_safe_h))
    readings = list(each.station.readings.all())
    latest = readings[-1]
    return {
        "station": each.station.number,
        "readings": len(readings),
        "outcome": each.forecast.outcome.value,
        "range": latest.range,
        "mc_pct": moisture_of(latest),
        "limit_pct": each.limit_pct,
        "dry_even_at": even_at.isoformat() if even_at else None,
        "dry_safe_at": safe_at.isoformat() if safe_at else None,
    }


def _hours(at: datetime, origin: datetime) -> float:
    return (at - origin) / timedelta(hours=1)


def _at(hours: float | None, origin: datetime) -> datetime | None:
    """The next whole hour: finer would be noise."""
    if hours is None:
        return None
    at = origin + timedelta(hours=hours)
    hour = at.replace(minute=0, second=0, microsecond=0)
    return hour if at == hour else hour + timedelta(hours=1)
