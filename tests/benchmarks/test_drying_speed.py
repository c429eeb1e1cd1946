"""How long the drying forecasts of a whole job take, against scipy on the same readings. Nothing here fails by time."""

import time

import numpy as np
import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import curve_fit

from jobs.calc.moisture.drying import PLANNING_PRIORS, AirSample, MoistureReading, Outcome, forecast_drying
from jobs.calc.moisture.wood import emc_pct

LIMIT_S = 0.300
STATIONS, READINGS, EVERY_H = 24, 10, 13.0
NOW_H = (READINGS - 1) * EVERY_H
FRAMING = PLANNING_PRIORS["framing"]
AIR = [
    AirSample(float(hour), 23 + 3 * np.sin(hour / 24 * 2 * np.pi), 45 - 6 * np.sin(hour / 24 * 2 * np.pi))
    for hour in range(0, int(NOW_H) + 1, 2)
]


@pytest.fixture
def say(capsys):
    def print_now(text):
        with capsys.disabled():
            print(f"\n{text}")

    return print_now


def test_the_drying_of_twenty_four_stations_read_ten_times(say):
    """Once as it is, once by the textbook: a single rate by least squares, each trial an equation solved by scipy."""
    stations = [station(number) for number in range(STATIONS)]
    curve_fit(by_the_textbook, *points(stations[0]), p0=[0.01, 28.0])  # what is loaded once is loaded

    textbook_s, fits = best_of(
        2, lambda: [curve_fit(by_the_textbook, *points(each), p0=[0.01, 28.0]) for each in stations]
    )
    spent_s, forecasts = best_of(5, lambda: [forecast(each, seed) for seed, each in enumerate(stations)])

    say(
        f"drying of {STATIONS} stations: {spent_s:.3f} s, {spent_s / LIMIT_S:.2f} of the limit of {LIMIT_S:g} s, "
        f"{spent_s / textbook_s:.2f} of what a single-rate fit with scipy takes, without a forecast"
    )
    assert sum(made.outcome in {Outcome.DATE, Outcome.DRY} for made in forecasts) >= 0.9 * STATIONS
    agreeing = [
        made.rate_low_per_h / 1.5 < fitted[0] < made.rate_high_per_h * 1.5
        for made, (fitted, _) in zip(forecasts, fits, strict=True)
    ]
    assert np.mean(agreeing) > 0.8


def station(number):
    chance = np.random.default_rng(number)
    rate = 0.006 * np.exp(0.3 * chance.standard_normal())
    at_h = np.arange(READINGS) * EVERY_H
    values = 8 + 21 * np.exp(-rate * at_h) + chance.standard_normal(READINGS)
    return [MoistureReading(float(h), float(v)) for h, v in zip(at_h, values, strict=True)]


def points(readings):
    return [reading.at_h for reading in readings], [reading.mc_pct for reading in readings]


def forecast(readings, seed):
    return forecast_drying(readings, AIR, now_h=NOW_H, limit_pct=13.0, prior=FRAMING, seed=seed)


def by_the_textbook(at_h, rate_per_h, start_pct):
    hours = np.array([sample.at_h for sample in AIR])
    equilibrium = emc_pct(np.array([sample.temp_c for sample in AIR]), np.array([sample.rh_pct for sample in AIR]))

    def change(hour, mc_pct):
        return -rate_per_h * (mc_pct - np.interp(hour, hours, equilibrium))

    return solve_ivp(change, (0.0, NOW_H), [start_pct], t_eval=at_h, max_step=3.0).y[0]


def best_of(times, do):
    spans = []
    for _ in range(times):
        started = time.perf_counter()
        result = do()
        spans.append(time.perf_counter() - started)
    return min(spans), result
