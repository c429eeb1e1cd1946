"""The drying forecast of one station, from readings and air to date and words."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from jobs.calc.moisture.drying.fit import OFFSET, Fit, fit_readings
from jobs.calc.moisture.drying.forecast import Future, look_ahead
from jobs.calc.moisture.drying.inputs import (
    AirSample,
    CurvePoint,
    DryingForecast,
    MoistureReading,
    Outcome,
    RatePrior,
    require_series,
)
from jobs.calc.moisture.drying.judge import LONGEST_RISE, Air, Evidence, judge
from jobs.calc.moisture.drying.response import DAY_H, AirLog, FloatArray, WoodSettings, saturation_pressure_share
from jobs.calc.moisture.wood import emc_pct, require_within

EVEN, SAFE = 0.5, 0.8
BAND = (0.1, 0.5, 0.9)
CURVE_POINTS = 60
# To weigh the readings takes many particles, to draw the future from them fewer will do.
FUTURE_EVERY = 3
HORIZON_H = 720.0
HORIZON_MAX_H = 8784.0
USUAL = WoodSettings()


@dataclass(frozen=True)
class Odds:
    """The possible courses of a station behind its forecast.

    at_h, paths_pct: times [h] from the first reading on, and moisture content [%] by time and course. under_h: first
    time each course is at or under the limit, not before now; inf beyond the horizon. rates_per_h: of each course.
    """

    at_h: FloatArray
    paths_pct: FloatArray
    under_h: FloatArray
    rates_per_h: FloatArray


def forecast_drying(
    readings: Sequence[MoistureReading],
    air: Sequence[AirSample],
    *,
    now_h: float,
    limit_pct: float,
    prior: RatePrior,
    seed: int = 0,
    horizon_h: float = HORIZON_H,
    settings: WoodSettings = USUAL,
) -> DryingForecast:
    """When a station will be at or under its limit, as even odds and safe, or why there is no date.

    readings: corrected values in order of time, wood or panels (panels are treated as wood; approximate). air: the
    log at the station, in order of time, one sample at least; samples after now are taken as known, beyond them the
    last logged day is repeated (its mean if less than a day was logged). now_h: not before the latest reading.
    limit_pct: 1 to 200 %. prior: what is known of the rate beforehand; with one value the date rests on it alone.
    seed: same seed, same answer. horizon_h: how far to look, above 0 and up to a year.

    Raises ValueError for no air, times that do not rise, values outside their ranges or now before a reading.
    """
    require_series(readings, air, now_h, limit_pct)
    require_within("horizon_h", horizon_h, 1.0, HORIZON_MAX_H)
    case = _Case(readings, AirLog(air), now_h, limit_pct, prior, horizon_h, settings)
    if not readings:
        return _unread(case)
    fit, future = _work_out(case, seed)
    evidence = _evidence(case, fit, future)
    outcome, reason = judge(evidence)
    low, median, high = np.quantile(fit.particles.rate_per_h, BAND)
    has_date = outcome is Outcome.DATE
    return DryingForecast(
        outcome=outcome,
        rate_low_per_h=float(low),
        rate_median_per_h=float(median),
        rate_high_per_h=float(high),
        dry_even_h=future.hour_by(EVEN) if has_date else None,
        dry_safe_h=future.hour_by(SAFE) if has_date else None,
        equilibrium_pct=evidence.air.equilibrium_pct,
        curve=_curve(fit, future),
        reason=reason,
    )


def drying_odds(
    readings: Sequence[MoistureReading],
    air: Sequence[AirSample],
    *,
    now_h: float,
    limit_pct: float,
    prior: RatePrior,
    seed: int = 0,
    horizon_h: float = HORIZON_H,
    settings: WoodSettings = USUAL,
) -> Odds:
    """The courses from which forecast_drying takes its date, whatever they come to; for checks and for plans.

    Arguments and errors as there, but at least one reading.
    """
    require_series(readings, air, now_h, limit_pct)
    require_within("horizon_h", horizon_h, 1.0, HORIZON_MAX_H)
    if not readings:
        raise ValueError("readings must hold at least 1 reading, got 0")
    case = _Case(readings, AirLog(air), now_h, limit_pct, prior, horizon_h, settings)
    fit, future = _work_out(case, seed)
    return Odds(
        np.concatenate([fit.at_h, future.at_h[1:]]),
        np.concatenate([fit.paths_pct, future.paths_pct[1:]]),
        future.under_h,
        fit.particles.rate_per_h,
    )


@dataclass(frozen=True)
class _Case:
    """What is asked."""

    readings: Sequence[MoistureReading]
    air: AirLog
    now_h: float
    limit_pct: float
    prior: RatePrior
    horizon_h: float
    settings: WoodSettings


def _work_out(case: _Case, seed: int) -> tuple[Fit, Future]:
    rng = np.random.default_rng(seed)
    fit = fit_readings(case.readings, case.air, case.prior, case.settings, rng).thinned(FUTURE_EVERY)
    future = look_ahead(
        fit,
        case.air,
        case.prior,
        case.settings,
        rng,
        now_h=case.now_h,
        limit_pct=case.limit_pct,
        horizon_h=case.horizon_h,
    )
    return fit, future


def _evidence(case: _Case, fit: Fit, future: Future) -> Evidence:
    even_h, safe_h = future.hour_by(EVEN), future.hour_by(SAFE)
    day, warmth = _last_day(case)
    return Evidence(
        readings=case.readings,
        limit_pct=case.limit_pct,
        air=day,
        usual_rate_per_h=case.prior.median_per_h * warmth,
        held_at_pct=day.equilibrium_pct + float(np.median(fit.particles.state[OFFSET])),
        reach_share=future.reach_share,
        even_in_h=None if even_h is None else even_h - case.now_h,
        safe_in_h=None if safe_h is None else safe_h - case.now_h,
        horizon_h=case.horizon_h,
        rate_origin=case.prior.origin,
        settings=case.settings,
    )


def _last_day(case: _Case) -> tuple[Air, float]:
    """Means of the last day's air, and by what factor its warmth speeds drying."""
    temp_c, rh_pct = case.air.half_hourly(case.now_h - DAY_H, case.now_h)
    warmth = saturation_pressure_share(temp_c) ** case.settings.warmth_power
    since_h = min([case.now_h - DAY_H, *(reading.at_h for reading in case.readings[-LONGEST_RISE:])])
    wettest_pct = float(emc_pct(*case.air.half_hourly(since_h, case.now_h)).max())
    day = Air(float(temp_c.mean()), float(rh_pct.mean()), float(emc_pct(temp_c, rh_pct).mean()), wettest_pct)
    return day, float(warmth.mean())


def _unread(case: _Case) -> DryingForecast:
    day, _ = _last_day(case)
    evidence = Evidence(
        readings=(),
        limit_pct=case.limit_pct,
        air=day,
        usual_rate_per_h=case.prior.median_per_h,
        held_at_pct=day.equilibrium_pct,
        reach_share=0.0,
        even_in_h=None,
        safe_in_h=None,
        horizon_h=case.horizon_h,
        rate_origin=case.prior.origin,
        settings=case.settings,
    )
    outcome, reason = judge(evidence)
    low, median, high = case.prior.median_per_h * np.exp(case.prior.log_sd * ndtri(BAND))
    return DryingForecast(outcome, float(low), float(median), float(high), None, None, day.equilibrium_pct, (), reason)


def _curve(fit: Fit, future: Future) -> tuple[CurvePoint, ...]:
    """Fitted part and forecast part, evenly thinned to at most half the points each; the ends are kept."""
    past = _points(fit.at_h, fit.paths_pct, CURVE_POINTS // 2)
    ahead = _points(future.at_h, future.paths_pct, CURVE_POINTS // 2 + 1)
    return past + ahead[1:]


def _points(at_h: FloatArray, paths_pct: FloatArray, count: int) -> tuple[CurvePoint, ...]:
    kept = np.unique(np.linspace(0, len(at_h) - 1, min(count, len(at_h))).round().astype(int))
    low, median, high = np.quantile(paths_pct[kept], BAND, axis=1)
    columns = zip(at_h[kept], low, median, high, strict=True)
    return tuple(CurvePoint(*(float(value) for value in column)) for column in columns)
