"""The drying model stripped to one rate in steady air, against worked examples of the Lewis equation and algebra."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.drying import AirSample, MoistureReading, Outcome, RatePrior, WoodSettings, forecast_drying
from jobs.calc.moisture.drying.response import dried
from jobs.calc.moisture.wood import emc_pct, rh_holding_pct

WORKED = Path(__file__).parent / "data" / "moisture" / "drying_worked_examples.csv"
# The bare Lewis equation: no chance, no influence of warmth or wetness, a meter as good as exact.
LEWIS = WoodSettings(
    warmth_power=0.0,
    wetness_per_pct=0.0,
    wetness_sd=0.0,
    offset_sd_pct=0.0,
    wander_sd_pct=0.0,
    rate_wander_sd=0.0,
    meter_sd_pct=0.001,
    meter_sd_above=0.0,
    air_spread_share=0.0,
    air_spread_min_pct=0.0,
)


def readings(*values):
    return [MoistureReading(24.0 * number, value) for number, value in enumerate(values)]


def forecast(series, air, limit_pct, prior, settings=LEWIS):
    return forecast_drying(series, air, now_h=series[-1].at_h, limit_pct=limit_pct, prior=prior, settings=settings)


def worked(quantity):
    """The row of the worked examples as numbers: inputs by name, and the value."""
    with WORKED.open(encoding="utf-8", newline="") as file:
        row = next(row for row in csv.DictReader(file) if row["quantity"] == quantity)
    pairs = (part.split("=") for part in row["inputs"].split(";"))
    return {name: float(value.split()[0]) for name, value in pairs}, row["value"]


def air_holding(mc_pct):
    """Air at 20 C in whose equilibrium wood has this moisture content, and that exactly."""
    rh_pct = rh_holding_pct(20.0, mc_pct)
    return (AirSample(0.0, 20.0, rh_pct),), emc_pct(20.0, rh_pct)


def test_moisture_at_a_time_is_that_of_the_lewis_equation():
    inputs, value = worked("Lewis MC at time")

    after = dried(np.array([inputs["M0"]]), np.array([inputs["Me"]]), np.array([inputs["k"]]), inputs["t"], 30.0)

    assert after[0] == pytest.approx(float(value), abs=1e-5)


def test_the_date_in_steady_air_is_that_of_the_lewis_equation():
    """The equation's equilibrium is hit to half a percent of humidity; the rest of it is algebra."""
    inputs, value = worked("Lewis time to target")
    air, equilibrium_pct = air_holding(inputs["Me"])
    exact_h = math.log((inputs["M0"] - equilibrium_pct) / (inputs["Mt"] - equilibrium_pct)) / inputs["k"]

    made = forecast(
        readings(inputs["M0"]),
        air,
        limit_pct=inputs["Mt"],
        prior=RatePrior(inputs["k"], 0.0, "given"),
        settings=LEWIS,
    )

    assert made.outcome is Outcome.DATE
    assert made.dry_even_h == pytest.approx(exact_h, abs=0.05)
    assert made.dry_safe_h == pytest.approx(exact_h, abs=0.05)
    assert exact_h == pytest.approx(float(value), abs=0.5)


def test_the_moisture_where_the_lewis_date_lies_is_the_limit():
    inputs, _ = worked("Lewis MC at time")
    air, equilibrium_pct = air_holding(inputs["Me"])
    exact_pct = equilibrium_pct + (inputs["M0"] - equilibrium_pct) * math.exp(-inputs["k"] * inputs["t"])

    made = forecast(
        readings(inputs["M0"]), air, limit_pct=12.0, prior=RatePrior(inputs["k"], 0.0, "given"), settings=LEWIS
    )
    at_h, median_pct = zip(*((point.at_h, point.median_pct) for point in made.curve), strict=True)

    assert np.interp(inputs["t"], at_h, median_pct) == pytest.approx(exact_pct, abs=0.05)


def test_a_limit_below_the_equilibrium_is_never_reached():
    inputs, value = worked("unreachable target")
    air, _ = air_holding(inputs["Me"] + 0.3)

    made = forecast(readings(20.0, 15.0), air, limit_pct=inputs["Mt"], prior=RatePrior(0.02, 0.0, ""), settings=LEWIS)

    assert value == "none"
    assert made.outcome is Outcome.NEAR_EQUILIBRIUM
    assert made.dry_even_h is None
    assert made.dry_safe_h is None


def test_two_readings_give_the_rate_of_the_lewis_equation():
    """With a vague prior, an exact meter and no model error the rate is what algebra says."""
    inputs, value = worked("k from two readings")
    air, equilibrium_pct = air_holding(inputs["Me"])
    start, end = inputs["M(0)"], inputs["M(24)"]
    exact = math.log((start - equilibrium_pct) / (end - equilibrium_pct)) / 24

    made = forecast(
        readings(start, end),
        air,
        limit_pct=16.0,
        prior=RatePrior(0.02, 0.5, ""),
        settings=replace(LEWIS, meter_sd_pct=0.05),
    )

    assert made.rate_median_per_h == pytest.approx(exact, rel=0.02)
    assert exact == pytest.approx(float(value), rel=0.02)


def test_above_fibre_saturation_wood_dries_in_a_straight_line():
    """60 % down to 40 %: (30 - 10) % times 0.01 per h is 0.2 points an hour, for 100 h."""
    after = dried(np.array([60.0]), np.array([10.0]), np.array([0.01]), 100.0, 30.0)

    assert after[0] == pytest.approx(40.0)


@given(st.floats(0, 80), st.floats(0, 29), st.floats(1e-4, 1), st.floats(0.1, 50), st.floats(0.1, 50))
def test_two_spans_of_drying_are_one_long_one(mc_pct, equilibrium_pct, rate, one_h, other_h):
    args = np.array([equilibrium_pct]), np.array([rate])

    parted = dried(dried(np.array([mc_pct]), *args, one_h, 30.0), *args, other_h, 30.0)

    assert parted == pytest.approx(dried(np.array([mc_pct]), *args, one_h + other_h, 30.0), abs=1e-6)


@given(st.floats(0, 80), st.floats(0, 29), st.floats(1e-4, 1), st.floats(0.1, 500))
def test_wood_never_passes_its_equilibrium(mc_pct, equilibrium_pct, rate, span_h):
    (after,) = dried(np.array([mc_pct]), np.array([equilibrium_pct]), np.array([rate]), span_h, 30.0)

    low, high = sorted([mc_pct, equilibrium_pct])
    assert low - 1e-9 <= after <= high + 1e-9
