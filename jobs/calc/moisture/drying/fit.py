"""Learning a station's drying rate from its readings: many possible stations, weighed by each reading in turn.

A particle filter. Each particle is one possible station with its own rate, offset from the equilibrium equation and
moisture content; each reading keeps the likely ones. So the spread is wide after one reading and narrows as readings
come, and a reading beyond the meter's end counts for what it says and no more.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import log_ndtr, ndtri

from jobs.calc.moisture.drying.inputs import MoistureReading, RatePrior
from jobs.calc.moisture.drying.response import (
    REFERENCE_MC_PCT,
    AirLog,
    AirSteps,
    FloatArray,
    WoodSettings,
    dried,
)

PARTICLES = 1200
# A step is a tenth of the usual time lag, within these.
STEP_MIN_H, STEP_MAX_H = 0.5, 4.0
# A gap of months between readings is taken in longer ones, so that it cannot take minutes to compute.
GAP_STEPS_MAX = 400
# Kernel shrinkage when particles are drawn anew (Liu and West 2001): fixed traits keep mean and spread but get jitter.
KEPT = 0.98
# A meter value may be plain wrong (pins in a knot): tails of Student's t with this many degrees of freedom.
TAIL_DEGREES = 5.0
# How wet wood beyond the meter's upper end may be: a half-normal tail of so many points above it.
BEYOND_METER_SD_PCT = 10.0
# Equilibrium stays this far under fibre saturation, and the rate under e to this: what lies beyond is no wood.
EQUILIBRIUM_MARGIN_PCT = 1.0
MAX_LOG_RATE = 5.0

# Rows of a particle's state. The first three do not change with time.
LOG_RATE, OFFSET, WETNESS, WANDER, RATE_WANDER = range(5)
TRAITS, WANDERINGS = slice(0, 3), slice(3, 5)


@dataclass
class Particles:
    """Possible stations, one a column: traits and wanderings, and moisture content now [%]."""

    state: FloatArray
    mc_pct: FloatArray

    @property
    def rate_per_h(self) -> FloatArray:
        """At 20 C and 20 % moisture content [1/h]."""
        rate: FloatArray = np.exp(self.state[LOG_RATE])
        return rate


@dataclass(frozen=True)
class Fit:
    """Particles after the last reading, and how each came there: times [h], moisture [%] by time and particle."""

    particles: Particles
    at_h: FloatArray
    paths_pct: FloatArray

    def thinned(self, every: int) -> "Fit":
        """Every so many of the particles; they stand in the order of their ancestors, so none is left out whole."""
        some = Particles(self.particles.state[:, ::every], self.particles.mc_pct[::every])
        return Fit(some, self.at_h, self.paths_pct[:, ::every])


def fit_readings(
    readings: Sequence[MoistureReading],
    air: AirLog,
    prior: RatePrior,
    settings: WoodSettings,
    rng: np.random.Generator,
) -> Fit:
    """What the readings, in order of time and at least one, leave possible."""
    particles = _first(readings[0], prior, settings, rng)
    edges_h, reading_at = _edges(readings, prior)
    steps = air.steps(edges_h, settings)
    paths = np.empty((len(edges_h), PARTICLES))
    paths[0] = particles.mc_pct
    for index in range(len(edges_h) - 1):
        advance(particles, steps, index, settings, rng)
        paths[index + 1] = particles.mc_pct
        if index + 1 in reading_at:
            chosen = _choose(particles, reading_at[index + 1], settings, rng)
            paths[: index + 2] = paths[: index + 2, chosen]
    return Fit(particles, edges_h, paths)


def advance(
    particles: Particles,
    steps: AirSteps,
    index: int,
    settings: WoodSettings,
    rng: np.random.Generator,
    extra_equilibrium_pct: FloatArray | float = 0.0,
) -> None:
    """Move all particles on by one step of time, in place."""
    span_h = float(steps.edges_h[index + 1] - steps.edges_h[index])
    state = particles.state
    spreads = np.array([[settings.wander_sd_pct], [settings.rate_wander_sd]])
    wander(state[WANDERINGS], spreads, span_h / settings.wander_h, rng)
    saturation = settings.fibre_saturation_pct
    equilibrium = steps.equilibrium_pct[index] + state[OFFSET] + state[WANDER] + extra_equilibrium_pct
    equilibrium = np.minimum(np.maximum(equilibrium, 0.0), saturation - EQUILIBRIUM_MARGIN_PCT)
    wetness = np.minimum(particles.mc_pct, saturation) - REFERENCE_MC_PCT
    exponent = state[LOG_RATE] + state[RATE_WANDER] + state[WETNESS] * wetness
    rate = steps.warmth[index] * np.exp(np.minimum(exponent, MAX_LOG_RATE))
    particles.mc_pct = dried(particles.mc_pct, equilibrium, rate, span_h, saturation)


def wander(values: FloatArray, sd: float | FloatArray, span: float, rng: np.random.Generator) -> None:
    """Let values stray with a lasting spread and a memory of 1 in units of span, in place (Ornstein-Uhlenbeck)."""
    kept = np.exp(-span)
    values *= kept
    values += sd * np.sqrt(1.0 - kept * kept) * rng.standard_normal(values.shape)


def step_h(prior: RatePrior) -> float:
    """Length of a step of time that suits so fast a layer [h]."""
    return float(np.clip(0.1 / prior.median_per_h, STEP_MIN_H, STEP_MAX_H))


def _first(reading: MoistureReading, prior: RatePrior, settings: WoodSettings, rng: np.random.Generator) -> Particles:
    """Particles drawn from what is known after the first reading; evenly spread quantiles, so few do for many."""
    state = np.zeros((5, PARTICLES))
    state[LOG_RATE] = np.log(prior.median_per_h) + prior.log_sd * _even_normals(rng)
    state[OFFSET] = settings.offset_sd_pct * _even_normals(rng)
    state[WETNESS] = np.maximum(settings.wetness_per_pct + settings.wetness_sd * _even_normals(rng), 0.0)
    state[WANDER] = settings.wander_sd_pct * _even_normals(rng)
    state[RATE_WANDER] = settings.rate_wander_sd * _even_normals(rng)
    spread = _even_normals(rng)
    if reading.range == "high":
        mc_pct = reading.mc_pct + BEYOND_METER_SD_PCT * np.abs(spread)
    elif reading.range == "low":
        mc_pct = reading.mc_pct * rng.random(PARTICLES)
    else:
        mc_pct = np.maximum(reading.mc_pct + settings.meter_sd_at(reading.mc_pct) * spread, 0.0)
    return Particles(state, mc_pct)


def _even_normals(rng: np.random.Generator) -> FloatArray:
    shares = (np.arange(PARTICLES) + rng.random(PARTICLES)) / PARTICLES
    normals: FloatArray = ndtri(np.clip(rng.permutation(shares), 1e-9, 1 - 1e-9))
    return normals


def _edges(readings: Sequence[MoistureReading], prior: RatePrior) -> tuple[FloatArray, dict[int, MoistureReading]]:
    """Times of steps such that each reading ends one, and which reading follows which step."""
    edges = [readings[0].at_h]
    reading_at = {}
    for reading in readings[1:]:
        count = min(max(1, int(np.ceil((reading.at_h - edges[-1]) / step_h(prior)))), GAP_STEPS_MAX)
        edges.extend(np.linspace(edges[-1], reading.at_h, count + 1)[1:].tolist())
        reading_at[len(edges) - 1] = reading
    return np.array(edges), reading_at


def _choose(
    particles: Particles, reading: MoistureReading, settings: WoodSettings, rng: np.random.Generator
) -> NDArray[np.intp]:
    """Draw the particles anew by how well they explain a reading; return which became which."""
    log_weight = _log_likelihood(reading, particles.mc_pct, settings)
    weight = np.exp(log_weight - log_weight.max())
    weight /= weight.sum()
    ticks = (np.arange(PARTICLES) + rng.random()) / PARTICLES
    chosen = np.minimum(np.searchsorted(np.cumsum(weight), ticks), PARTICLES - 1)
    traits = particles.state[TRAITS]
    mean = traits @ weight[:, None]
    sd = np.sqrt((traits - mean) ** 2 @ weight[:, None])
    particles.state = particles.state[:, chosen]
    jitter = np.sqrt(1.0 - KEPT**2) * sd * rng.standard_normal(traits.shape)
    particles.state[TRAITS] = KEPT * particles.state[TRAITS] + (1.0 - KEPT) * mean + jitter
    particles.mc_pct = particles.mc_pct[chosen]
    return chosen


def _log_likelihood(reading: MoistureReading, mc_pct: FloatArray, settings: WoodSettings) -> FloatArray:
    """How likely each moisture content makes the reading, up to a constant."""
    off = (reading.mc_pct - mc_pct) / settings.meter_sd_at(reading.mc_pct)
    if reading.range == "value":
        likely: FloatArray = -(TAIL_DEGREES + 1.0) / 2.0 * np.log1p(off * off / TAIL_DEGREES)
        return likely
    # Beyond an end: the chance that the meter, with its error, passed that end.
    passed: FloatArray = log_ndtr(off if reading.range == "low" else -off)
    return passed
