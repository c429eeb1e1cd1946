"""When wet wood will be dry, for one station at a time: dates, and when no date is given and why."""

from dataclasses import replace

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
from jobs.calc.moisture.wood import emc_pct, rh_holding_pct

FRAMING = PLANNING_PRIORS["framing"]
SHOP_AIR = (AirSample(0.0, 20.0, 45.0),)


def readings(*values, every_h=24.0):
    return [MoistureReading(every_h * number, value) for number, value in enumerate(values)]


def forecast(series, air=SHOP_AIR, limit_pct=16.0, **more):
    now_h = more.pop("now_h", series[-1].at_h if series else 0.0)
    return forecast_drying(series, air, now_h=now_h, limit_pct=limit_pct, prior=more.pop("prior", FRAMING), **more)


# --- dates


def test_the_same_seed_gives_the_same_answer():
    series = readings(27.0, 24.0, 21.5)

    assert forecast(series, seed=7) == forecast(series, seed=7)
    assert forecast(series, seed=7) != forecast(series, seed=8)


def test_another_seed_moves_the_even_date_by_little():
    hours = [forecast(readings(27.0, 24.0, 21.5, 20.0), seed=seed).dry_even_h - 72 for seed in range(12)]

    assert np.std(hours) < 0.1 * np.mean(hours)


def test_a_first_date_rests_on_the_prior_and_says_so():
    made = forecast(readings(26.0))

    assert made.outcome is Outcome.DATE
    assert "One reading only so far" in made.reason
    assert "planning assumption, no source" in made.reason
    assert made.dry_safe_h > 1.4 * made.dry_even_h


@settings(max_examples=25, deadline=None)
@given(st.floats(25, 60), st.floats(1, 20), st.integers(0, 5))
def test_wetter_air_ahead_never_brings_the_date_forward(rh_pct, more_pct, seed):
    series = readings(27.0, 24.5)
    past = [AirSample(0.0, 22.0, 45.0), AirSample(24.0, 22.0, 45.0)]

    hours = [
        drying_odds(
            series,
            [*past, AirSample(24.5, 22.0, rh), AirSample(800.0, 22.0, rh)],
            now_h=24.0,
            limit_pct=17.0,
            prior=FRAMING,
            seed=seed,
        ).under_h
        for rh in (rh_pct, rh_pct + more_pct)
    ]

    for share in (0.1, 0.5, 0.8):
        drier_h, wetter_h = (np.quantile(each, share, method="inverted_cdf") for each in hours)
        assert drier_h <= wetter_h


def test_warmer_air_of_the_same_equilibrium_dries_sooner():
    cool = [AirSample(0.0, 10.0, 40.0)]
    warm = [AirSample(0.0, 30.0, rh_holding_pct(30.0, emc_pct(10.0, 40.0)))]

    assert forecast(readings(26.0), warm).dry_even_h < 0.6 * forecast(readings(26.0), cool).dry_even_h


# --- no date, and why


def test_a_reading_at_the_limit_is_dry():
    made = forecast(readings(22.0, 18.0, 16.0))

    assert made.outcome is Outcome.DRY
    assert made.dry_even_h is None
    assert made.reason == "The latest reading, corrected, is 16.0 %; the limit is 16 %."


def test_a_reading_below_the_meter_is_dry():
    made = forecast([MoistureReading(0.0, 20.0), MoistureReading(48.0, 7.0, "low")])

    assert made.outcome is Outcome.DRY
    assert "below 7 %" in made.reason


def test_humid_air_is_named_with_the_humidity_that_would_do():
    made = forecast(readings(24.0, 21.5, 20.0, 19.0), [AirSample(0.0, 20.0, 82.0)])

    assert made.outcome is Outcome.NEAR_EQUILIBRIUM
    assert made.dry_even_h is None
    assert made.equilibrium_pct == pytest.approx(emc_pct(20.0, 82.0))
    assert "Bring the humidity under 7" in made.reason


def test_a_limit_that_no_drying_reaches_asks_for_a_comparison():
    made = forecast(readings(12.0, 10.0, 9.0), [AirSample(0.0, 20.0, 40.0)], limit_pct=5.0)

    assert made.outcome is Outcome.NEAR_EQUILIBRIUM
    assert "never got wet" in made.reason


def test_the_named_humidity_would_give_a_date():
    made = forecast(readings(24.0, 21.5, 20.0, 19.0), [AirSample(0.0, 20.0, 82.0)])
    named_rh_pct = float(made.reason.split("under ")[1].split(" ")[0])

    after = forecast(
        readings(24.0, 21.5, 20.0, 19.0),
        [
            AirSample(0.0, 20.0, 82.0),
            AirSample(72.0, 20.0, 82.0),
            AirSample(72.1, 20.0, named_rh_pct),
            AirSample(800.0, 20.0, named_rh_pct),
        ],
    )

    assert after.outcome is Outcome.DATE


def test_readings_that_rise_beyond_the_meters_error_point_to_a_leak():
    made = forecast(readings(18.0, 20.0, 23.0))

    assert made.outcome is Outcome.RISING
    assert "Look for the leak" in made.reason


def test_a_leak_that_begins_late_is_seen_behind_a_long_fall():
    made = forecast(readings(30.0, 26.0, 23.0, 20.5, 18.5, 22.0, 25.0))

    assert made.outcome is Outcome.RISING


@pytest.mark.parametrize("last_pct", [19.0, 20.5, 21.5])
def test_one_reading_above_the_one_before_is_no_leak(last_pct):
    assert forecast(readings(25.0, 22.0, 18.8, last_pct)).outcome is not Outcome.RISING


def test_wood_that_takes_up_water_from_humid_air_is_no_leak():
    made = forecast(readings(13.0, 15.0, 17.5, 19.5), [AirSample(0.0, 18.0, 90.0)])

    assert made.outcome is Outcome.NEAR_EQUILIBRIUM


def test_wood_that_has_stopped_falling_far_above_the_air_is_stalled():
    made = forecast(readings(31.0, 27.0, 24.3, 23.8, 24.2, 23.9, 24.1, 23.9))

    assert made.outcome is Outcome.STALLED
    assert "Open more, move the blower" in made.reason


def test_wood_too_slow_for_the_horizon_is_stalled():
    made = forecast(readings(26.0, 25.8), prior=RatePrior(0.0004, 0.3, "made up"))

    assert made.outcome is Outcome.STALLED
    assert "not be dry within 30 days" in made.reason


def test_slow_but_steady_drying_gets_a_date():
    series = readings(*(10 + 16 * np.exp(-0.004 * 24 * day) for day in range(7)))

    assert forecast(series).outcome is Outcome.DATE


# --- whatever comes


RANGES = st.sampled_from(["value", "value", "value", "low", "high"])
SERIES = st.lists(st.tuples(st.floats(0.1, 60), st.floats(0, 60), RANGES), max_size=8)
AIRS = st.lists(st.tuples(st.floats(0.1, 60), st.floats(-30, 60), st.floats(0, 100)), min_size=1, max_size=8)


@settings(max_examples=150, deadline=None)
@given(SERIES, AIRS, st.floats(0, 400), st.floats(5, 30), st.sampled_from(sorted(PLANNING_PRIORS)))
def test_any_readings_in_any_air_give_a_forecast_that_is_of_a_piece(series, air, wait_h, limit_pct, layer):
    made_readings = [
        MoistureReading(float(at_h), mc_pct, range_)
        for at_h, (_, mc_pct, range_) in zip(np.cumsum([each[0] for each in series]), series, strict=True)
    ]
    made_air = [
        AirSample(float(at_h), temp_c, rh_pct)
        for at_h, (_, temp_c, rh_pct) in zip(np.cumsum([each[0] for each in air]), air, strict=True)
    ]
    now_h = (made_readings[-1].at_h if series else 0.0) + wait_h

    made = forecast(made_readings, made_air, limit_pct, now_h=now_h, prior=PLANNING_PRIORS[layer])

    assert (made.outcome is Outcome.DATE) == (made.dry_even_h is not None)
    if made.dry_even_h is not None:
        assert now_h <= made.dry_even_h <= (made.dry_safe_h or float("inf")) <= float("inf")
    if made.dry_safe_h is not None:
        assert made.outcome is Outcome.DATE
    assert 0 < made.rate_low_per_h <= made.rate_median_per_h <= made.rate_high_per_h
    assert 0 <= made.equilibrium_pct <= 32
    assert 10 < len(made.reason) <= 400
    assert len(made.curve) <= 60
    assert all(0 <= point.low_pct <= point.median_pct <= point.high_pct < 300 for point in made.curve)


# --- beyond the meter, and little to go by


def test_a_station_not_read_yet_asks_for_a_reading():
    made = forecast([])

    assert made.outcome is Outcome.TOO_FEW
    assert made.curve == ()
    assert made.rate_median_per_h == pytest.approx(FRAMING.median_per_h)
    assert made.reason == "Not read yet. Take a reading."


def test_readings_beyond_the_meter_alone_give_no_date():
    made = forecast([MoistureReading(0.0, 30.0, "high"), MoistureReading(24.0, 30.0, "high")])

    assert made.outcome is Outcome.TOO_FEW
    assert made.dry_even_h is None


def test_a_reading_beyond_the_meter_still_tells_something():
    """That wood was beyond 30 % two days ago rules out the slowest rates, if it is 22 % today."""
    alone = forecast([MoistureReading(48.0, 22.0)])

    after_high = forecast([MoistureReading(0.0, 30.0, "high"), MoistureReading(48.0, 22.0)])

    assert after_high.rate_low_per_h > 1.2 * alone.rate_low_per_h


def test_one_wild_reading_does_not_carry_the_date_away():
    honest = forecast(readings(27.0, 24.5, 22.5, 20.8, 19.5))

    with_one_wild = forecast(readings(27.0, 24.5, 30.0, 20.8, 19.5))

    left_h, left_wild_h = honest.dry_even_h - 96, with_one_wild.dry_even_h - 96
    assert left_wild_h == pytest.approx(left_h, rel=0.5)


def test_the_curve_runs_from_the_first_reading_past_the_safe_date():
    made = forecast(readings(27.0, 24.5, 22.5))

    times_h = [point.at_h for point in made.curve]
    assert len(times_h) <= 60
    assert times_h == sorted(set(times_h))
    assert times_h[0] == 0.0
    assert times_h[-1] >= made.dry_safe_h
    assert all(point.low_pct <= point.median_pct <= point.high_pct for point in made.curve)


def test_a_date_is_never_in_the_past():
    """Read at 17 % a week ago: by now it should be under 16 %."""
    made = forecast(readings(22.0, 19.0, 17.0), now_h=48.0 + 168.0)

    assert made.outcome is Outcome.DATE
    assert made.dry_even_h == 216.0
    assert "read again" in made.reason


def test_the_last_day_is_repeated_after_the_log():
    """A day that dries at noon: by the repeated noon the wood is on its way, by night it is not."""
    day = [AirSample(float(hour), 20.0, 30.0 if hour % 24 in range(8, 18) else 85.0) for hour in range(49)]

    made = forecast_drying(
        [MoistureReading(0.0, 24.0), MoistureReading(48.0, 19.5)],
        day,
        now_h=48.0,
        limit_pct=14.0,
        prior=RatePrior(0.05, 0.2, ""),
        settings=replace(WoodSettings(), wander_sd_pct=0.0, air_spread_share=0.0, air_spread_min_pct=0.0),
    )

    ahead = {round(point.at_h): point.median_pct for point in made.curve if 48 <= point.at_h <= 96}
    hours = np.array(sorted(ahead))
    falls = np.diff([ahead[hour] for hour in hours]) / np.diff(hours)
    middles = (hours[:-1] + hours[1:]) / 2 % 24
    assert falls[(middles > 9) & (middles < 17)].max() < 0 < falls[(middles > 20) | (middles < 6)].min()


# --- what cannot be


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"air": []}, "air must hold at least 1 sample"),
        ({"air": [AirSample(1.0, 20.0, 50.0), AirSample(1.0, 20.0, 50.0)]}, "at_h of air must rise, got 1.0 after 1.0"),
        ({"air": [AirSample(0.0, 20.0, 100.5)]}, r"rh_pct must be 0 to 100, got 100\.5"),
        ({"air": [AirSample(0.0, -40.0, 50.0)]}, r"temp_c must be -30 to 80, got -40\.0"),
        ({"series": [MoistureReading(5.0, 20.0), MoistureReading(4.0, 20.0)]}, "at_h of readings must rise"),
        ({"series": [MoistureReading(0.0, 201.0)]}, r"mc_pct must be 0 to 200, got 201\.0"),
        ({"series": [MoistureReading(0.0, float("nan"))]}, "mc_pct must be 0 to 200, got nan"),
        ({"series": [MoistureReading(float("inf"), 20.0)]}, "at_h of readings must be"),
        ({"series": [MoistureReading(0.0, 20.0, "broken")]}, "range must be value, low or high, got 'broken'"),
        ({"series": [MoistureReading(5.0, 20.0)], "now_h": 4.0}, r"now_h must be finite and not before .* 5, got 4\.0"),
        ({"now_h": float("nan")}, "now_h must be finite"),
        ({"limit_pct": 0.0}, r"limit_pct must be 1 to 200, got 0\.0"),
        ({"horizon_h": 0.0}, r"horizon_h must be 1 to 8784, got 0\.0"),
    ],
)
def test_what_cannot_be_is_refused(change, message):
    arguments = {"series": readings(24.0, 22.0), "air": SHOP_AIR} | change

    with pytest.raises(ValueError, match=message):
        forecast(arguments.pop("series"), arguments.pop("air"), **arguments)


def test_odds_need_a_reading():
    with pytest.raises(ValueError, match="readings must hold at least 1 reading, got 0"):
        drying_odds([], SHOP_AIR, now_h=0.0, limit_pct=16.0, prior=FRAMING)


@pytest.mark.parametrize("sd_pct", [0.0, -1.0])
def test_a_meter_without_error_is_refused(sd_pct):
    with pytest.raises(ValueError, match="meter_sd_pct must be"):
        WoodSettings(meter_sd_pct=sd_pct)


@pytest.mark.parametrize(("median", "log_sd"), [(0.0, 0.5), (-1.0, 0.5), (0.01, -0.1), (float("nan"), 0.5)])
def test_a_prior_that_cannot_be_is_refused(median, log_sd):
    with pytest.raises(ValueError, match="must be"):
        RatePrior(median, log_sd, "")


# --- priors


def test_the_four_layers_of_a_wall_have_planning_priors_that_say_what_they_are():
    assert set(PLANNING_PRIORS) >= {"skin", "framing", "inner_panel", "floor"}
    assert all(prior.origin == "planning assumption, no source" for prior in PLANNING_PRIORS.values())


def test_a_short_history_leaves_the_planning_value():
    assert prior_from_history([0.03] * 4, FRAMING) == FRAMING


def test_history_draws_the_prior_toward_itself_and_narrows_it():
    few, many = prior_from_history([0.03] * 5, FRAMING), prior_from_history([0.03] * 60, FRAMING)

    assert FRAMING.median_per_h < few.median_per_h < many.median_per_h < 0.03
    assert many.log_sd < few.log_sd
    assert many.log_sd == 0.3
    assert many.origin == "shop history of 60 stations"


def test_a_scattered_history_stays_wide():
    assert prior_from_history([0.003, 0.03] * 30, FRAMING).log_sd > 1.0


def test_a_history_with_an_impossible_rate_is_refused():
    with pytest.raises(ValueError, match="rates_per_h must be"):
        prior_from_history([0.02, 0.0], FRAMING)


def test_a_number_after_beyond_the_wet_end_is_no_rise():
    series = [MoistureReading(0.0, 30.0, "high"), MoistureReading(24.0, 45.0)]

    forecast = forecast_drying(series, SHOP_AIR, now_h=24.0, limit_pct=19.0, prior=FRAMING)

    assert forecast.outcome != Outcome.RISING
