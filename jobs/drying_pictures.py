"""The drying charts and the moisture plan of a job: rows in, SVG or PNG out, drawn once and kept until they change."""

import hashlib
from collections.abc import Callable
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from django.core.cache import cache

from jobs.calc.faces import FACE_NAMES, unfold
from jobs.calc.moisture.limits import Limits
from jobs.calc.moisture.meter import MATERIALS
from jobs.charts import drying_data, moisture_plan_data
from jobs.charts.drying_data import Format
from jobs.models import Job, Placement, Shop, Station, StationForecast
from jobs.models.moisture import Layer
from jobs.services.drying import limit_for, limits_of, moisture_or_end

KEPT_SECONDS = 30 * 24 * 3600


def chart_of(station: Station, limits: Limits, *, now: datetime) -> drying_data.DryingChart:
    """What the station's chart shows; the station comes with readings and forecast, its job with placements."""
    forecast = getattr(station, "forecast", None)
    job = station.job
    return drying_data.DryingChart(
        station=station_words(station),
        readings=tuple(
            drying_data.ReadingMark(each.round.taken_at, moisture_or_end(each, limits), each.range)  # type: ignore[arg-type]
            for each in station.readings.all()
        ),
        now=forecast.worked_out_at if forecast else now,
        limit_pct=limit_for(station, limits),
        time_zone=job.shop.time_zone,
        curve=tuple(
            drying_data.CurvePoint(datetime.fromisoformat(at), low, median, high)
            for at, low, median, high in _curve(forecast)
        ),
        equilibrium_pct=forecast.equilibrium_pct if forecast else None,
        dryers=tuple(
            drying_data.DryerSpan(each.placed_at, each.taken_away_at, each.words)
            for each in job.placements.all()
            if _dries(each, station)
        ),
        dry_even_at=forecast.dry_even_at if forecast else None,
        dry_safe_at=forecast.dry_safe_at if forecast else None,
    )


def draw_chart(station: Station, fmt: Format, *, now: datetime) -> bytes:
    """The station's drying chart."""
    from jobs.charts import drying as drying_chart  # heavy: what draws nothing, as the clock, starts without it

    chart = chart_of(station, limits_of(station.job.shop), now=now)
    return _kept(f"chart-{fmt}", repr(chart), lambda: drying_chart.draw(chart, fmt))


def plan_of(job: Job, layer: str) -> moisture_plan_data.MoisturePlan:
    """The latest reading of each station of one layer, on the unfolded coach."""
    coach = job.coach
    stations = list(job.stations.in_use().filter(layer=layer).with_readings())
    taken = [reading.round.taken_at for each in stations for reading in each.readings.all()]
    limits = limits_of(job.shop)
    return moisture_plan_data.MoisturePlan(
        layer=Layer(layer).label,
        faces=tuple(
            moisture_plan_data.PlanFace(FACE_NAMES[each.face], each.x_mm, each.y_mm, each.width_mm, each.height_mm)
            for each in unfold(length_mm=coach.length_mm, width_mm=coach.width_mm, height_mm=coach.height_mm)
        ),
        stations=tuple(_plan_station(each, limits) for each in stations),
        limit_pct=min((limit_for(each, limits) for each in stations), default=limits.close_in_pct),
        taken_at_words=_moment_words(max(taken), job.shop) if taken else "not read yet",
    )


def draw_plan_picture(job: Job, layer: str, fmt: Format) -> bytes:
    """The moisture plan of one layer."""
    from jobs.charts import moisture_plan  # heavy, as above

    plan = plan_of(job, layer)
    return _kept(f"plan-{fmt}", repr(plan), lambda: moisture_plan.draw(plan, fmt))


def station_words(station: Station) -> str:
    return f"Station {station.number}, {station.get_layer_display()}, {MATERIALS[station.material].name}"


def _curve(forecast: StationForecast | None) -> list[list[Any]]:
    """The fitted curve, and on into the forecast where there is a date to forecast."""
    if forecast is None or forecast.outcome == StationForecast.Outcome.TOO_FEW:
        return []
    if forecast.outcome in {StationForecast.Outcome.DATE, StationForecast.Outcome.DRY}:
        return list(forecast.curve)
    return [point for point in forecast.curve if datetime.fromisoformat(point[0]) <= forecast.worked_out_at]


def _plan_station(station: Station, limits: Limits) -> moisture_plan_data.PlanStation:
    readings = list(station.readings.all())
    return moisture_plan_data.PlanStation(
        number=station.number,
        face=FACE_NAMES[station.place_face],
        left_mm=station.left_mm,
        top_mm=station.top_mm,
        mc_pct=moisture_or_end(readings[-1], limits) if readings else None,
        kind=readings[-1].range if readings else "value",  # type: ignore[arg-type]
    )


def _moment_words(at: datetime, shop: Shop) -> str:
    local = at.astimezone(ZoneInfo(shop.time_zone))
    return f"{local:%a, %b} {local.day}, {local.hour % 12 or 12}:{local:%M %p}"


def _dries(placement: Placement, station: Station) -> bool:
    return placement.face in {"", station.face}


def _kept(name: str, content: str, draw: Callable[[], bytes]) -> bytes:
    """A picture by all that it shows: whatever changes is drawn anew, and nothing else."""
    key = f"{name}-{hashlib.sha256(content.encode()).hexdigest()}"
    picture: bytes | None = cache.get(key)
    if picture is None:
        picture = draw()
        cache.set(key, picture, KEPT_SECONDS)
    return picture
