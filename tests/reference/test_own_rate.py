"""After how many readings does a station's own rate say more than the planning value? The page names a number.

The wood here is simulated, apart from the product's forecast: an hourly Euler course of dM/dt = -k (M - E), straight
above fibre saturation, in steady air of 22 C and 45 %, with rates drawn from the planning value's own spread and the
meter's error on each reading. So this shows what the forecast makes of readings as it expects them, and no more.
"""

import numpy as np
import pytest

from jobs.calc.moisture.drying import (
    OWN_READINGS,
    PLANNING_PRIORS,
    AirSample,
    MoistureReading,
    forecast_drying,
    rests_on_planning,
)

STATIONS = 20
EVERY_H = 24
HELD_AT_PCT = 8.5  # Wood Handbook table at 22 C and 45 %, rounded
SHARE_OF_STATIONS = 0.7


def readings_of(rate_per_h, start_pct, count, rng):
    mc_pct, readings = start_pct, []
    for hour in range(EVERY_H * (count - 1) + 1):
        if hour % EVERY_H == 0:
            error = np.hypot(1.0, 0.25 * max(mc_pct - 30, 0)) * rng.standard_normal()
            readings.append(MoistureReading(float(hour), max(mc_pct + error, 0.0)))
        mc_pct -= rate_per_h * (min(mc_pct, 30) - HELD_AT_PCT)
    return readings


@pytest.mark.parametrize("layer", PLANNING_PRIORS)
def test_after_so_many_daily_readings_the_woods_own_rate_has_mostly_taken_over(layer):
    prior, rng = PLANNING_PRIORS[layer], np.random.default_rng(11)
    resting = np.zeros((STATIONS, OWN_READINGS))
    for station in range(STATIONS):
        rate_per_h = prior.median_per_h * np.exp(prior.log_sd * rng.standard_normal())
        readings = readings_of(rate_per_h, rng.uniform(26, 36), OWN_READINGS, rng)
        for count in range(1, OWN_READINGS + 1):
            known = readings[:count]
            made = forecast_drying(
                known,
                [AirSample(each.at_h, 22.0, 45.0) for each in known],
                now_h=known[-1].at_h,
                limit_pct=16.0,
                prior=prior,
                seed=station,
            )
            resting[station, count - 1] = rests_on_planning(
                layer, prior.origin, rate_low_per_h=made.rate_low_per_h, rate_high_per_h=made.rate_high_per_h
            )

    taken_over = 1 - resting.mean(axis=0)
    print(f"{layer}: own rate took over at {taken_over} of {STATIONS} stations after 1 to {OWN_READINGS} readings")
    assert taken_over[0] == 0
    assert taken_over[-1] >= SHARE_OF_STATIONS
