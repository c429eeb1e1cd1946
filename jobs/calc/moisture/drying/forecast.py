"""Carrying possible stations on into the future, and when each comes under the limit."""

from dataclasses import dataclass

import numpy as np

from jobs.calc.moisture.drying.fit import GAP_STEPS_MAX, WANDERINGS, Fit, Particles, advance, step_h, wander
from jobs.calc.moisture.drying.inputs import RatePrior
from jobs.calc.moisture.drying.response import DAY_H, AirLog, FloatArray, WoodSettings

# From here on steps are longer: what is not dry by then is slow.
NEAR_H = 120.0
FAR_STEP = 3.0
# Once this share is under the limit, the odds that are asked for are known.
ENOUGH = 0.93
# Every so many particles go on once more without chance: does the limit lie within reach, or only luck?
CALM_EVERY = 4


@dataclass(frozen=True)
class Future:
    """Times [h], moisture [%] by time and particle, hour at which each particle is under the limit (or inf).

    reach_share: share of stations that come under the limit within the horizon without luck, in the expected air.
    """

    at_h: FloatArray
    paths_pct: FloatArray
    under_h: FloatArray
    reach_share: float

    def hour_by(self, share: float) -> float | None:
        """Hour by which this share of the particles is under the limit, or None within the horizon."""
        hour = float(np.sort(self.under_h)[int(np.ceil(share * self.under_h.size)) - 1])
        return hour if np.isfinite(hour) else None


def look_ahead(
    fit: Fit,
    air: AirLog,
    prior: RatePrior,
    settings: WoodSettings,
    rng: np.random.Generator,
    *,
    now_h: float,
    limit_pct: float,
    horizon_h: float,
) -> Future:
    """Go on from the last reading to the horizon, or until nearly all are under the limit.

    After the log the last day's air is repeated, but may stray from it, the further, the more that day's air swung.
    """
    steps = air.steps(_edges(float(fit.at_h[-1]), now_h, horizon_h, step_h(prior)), settings)
    spread_pct = air_spread_pct(air, now_h, settings)
    count = fit.particles.mc_pct.size
    particles = _with_calm_ones(fit.particles)
    # The same hour of another day does not go on from this one: it strays fully from the start.
    stray_pct = spread_pct * rng.standard_normal(particles.mc_pct.shape)
    _quieten(particles, stray_pct, count)
    paths, under_h = [particles.mc_pct], np.full(particles.mc_pct.shape, np.inf)
    for index in range(len(steps.edges_h) - 1):
        span_h = float(steps.edges_h[index + 1] - steps.edges_h[index])
        if steps.is_repeated[index]:
            wander(stray_pct, spread_pct, span_h / settings.air_spread_h, rng)
        advance(particles, steps, index, settings, rng, stray_pct if steps.is_repeated[index] else 0.0)
        _quieten(particles, stray_pct, count)
        _note_crossings(under_h, paths[-1], particles.mc_pct, limit_pct, steps.edges_h[index : index + 2])
        paths.append(particles.mc_pct)
        if steps.edges_h[index + 1] > now_h and np.isfinite(under_h).mean() >= ENOUGH:
            break
    by_chance = np.maximum(under_h[:count], now_h)
    reach_share = float(np.isfinite(under_h[count:]).mean())
    return Future(steps.edges_h[: len(paths)], np.array(paths)[:, :count], by_chance, reach_share)


def air_spread_pct(air: AirLog, now_h: float, settings: WoodSettings) -> float:
    """How far the equilibrium of coming days may stray from the last day's [points]."""
    half_hours = np.linspace(now_h - DAY_H, now_h, 49)
    swing_pct = float(air.steps(half_hours, settings).equilibrium_pct.std())
    return max(settings.air_spread_min_pct, settings.air_spread_share * swing_pct)


def _edges(from_h: float, now_h: float, horizon_h: float, step: float) -> FloatArray:
    pieces = [np.array([from_h])]
    for end_h, length_h in (
        (now_h, step),
        (now_h + min(NEAR_H, horizon_h), step),
        (now_h + horizon_h, FAR_STEP * step),
    ):
        start_h = float(pieces[-1][-1])
        count = min(int(np.ceil((end_h - start_h) / length_h - 1e-9)), GAP_STEPS_MAX)
        if count > 0:
            pieces.append(np.linspace(start_h, end_h, count + 1)[1:])
    return np.concatenate(pieces)


def _with_calm_ones(particles: Particles) -> Particles:
    """All particles and, after them, some once more that chance shall leave alone."""
    state = np.concatenate([particles.state, particles.state[:, ::CALM_EVERY]], axis=1)
    return Particles(state, np.concatenate([particles.mc_pct, particles.mc_pct[::CALM_EVERY]]))


def _quieten(particles: Particles, stray_pct: FloatArray, from_index: int) -> None:
    particles.state[WANDERINGS, from_index:] = 0.0
    stray_pct[from_index:] = 0.0


def _note_crossings(
    under_h: FloatArray, before_pct: FloatArray, after_pct: FloatArray, limit_pct: float, span: FloatArray
) -> None:
    """Write down for each particle the first time it is at or under the limit, by a straight line within the step."""
    crosses = np.flatnonzero((after_pct <= limit_pct) & np.isinf(under_h))
    if crosses.size == 0:
        return
    above, fall = before_pct[crosses] - limit_pct, before_pct[crosses] - after_pct[crosses]
    share = np.where(fall > 0, above / np.where(fall > 0, fall, 1.0), 0.0)
    under_h[crosses] = span[0] + np.maximum(share, 0.0) * (span[1] - span[0])
