"""When wet wood will be dry: dates, bands, and when no date is given and why."""

import csv
import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from jobs.calc.moisture.drying import (
    PLANNING_PRIORS,
    AirSample,
    MoistureReading,
    Outcome,
    RatePrior,
    WoodSettings,
    drying_odds,
    forecast_drying,
    prior_from_history,
)
from jobs.calc.moisture.drying.response import dried
from jobs.calc.moisture.wood import emc_pct, rh_holding_pct

FRAMING = PLANNING_PRIORS["framing"]
SHOP_AIR = (AirSample(0.0, 20.0, 45.0),)
WORKED = Path(__file__).parents[2] / "reference" / "data" / "moisture" / "drying_worked_examples.csv"
# The bare Lewis equation: no chance, no influence of warmth or wetness, a meter without error.
LEWIS = WoodSettings(
    warmth_power=0.0,
    wetness_per_pct=0.0,
    wetness_sd=0.0,
    offset_sd_pct=0.0,
    wander_sd_pct=0.0,
    rate_wander_sd=0.0,
    meter_sd_pct=0.0,
    meter_sd_above=0.0,
    air_spread_share=0.0,
    air_spread_min_pct=0.0,
)


def readings(*values, every_h=24.0):
    return [MoistureReading(every_h * number, value) for number, value in enumerate(values)]


def forecast(series, air=SHOP_AIR, limit_pct=16.0, **more):
    now_h = more.pop("now_h", series[-1].at_h if series else 0.0)
    return forecast_drying(series, air, now_h=now_h, limit_pct=limit_pct, prior=more.pop("prior", FRAMING), **more)


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
