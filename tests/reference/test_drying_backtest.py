"""The drying forecast against 14 measured drying episodes with hourly air.

Data: fuel sticks outdoors, drying after rain (van der Kamp, Moore, McKendry 2017, doi 10.1016/j.agrformet.2017.01.013).
Each episode is fitted on the readings of hours 0, 6, 12, 18 and 24 and forecast from hour 25 on, twice: with the air
as it later was (the terms of the baseline) and with the last logged day repeated (what the shop has).

What is the product's and what the test's: model structure and settings are the product's defaults. Only the prior is
of this material: such sticks are called 10-hour fuels for their time lag of about 10 h, so 0.1 per h, and a spread of
0.5, so 6 to 16 h for two in three; the same for all episodes.

A true time is the first at which the measured curve, straight between hours, is at or under the limit. Before hour 24
it lies among the fitted hours and is compared with the fitted courses; later ones are forecast, from hour 24 on.
The table in output/ is the record of the last accepted run; BACKTEST_WRITE=1 writes it anew.
"""

import csv
import os
from collections import Counter, defaultdict
from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from jobs.calc.moisture.drying import (
    AirSample,
    MoistureReading,
    Outcome,
    RatePrior,
    WoodSettings,
    drying_odds,
    forecast_drying,
)

DATA = Path(__file__).parent / "data" / "moisture"
RECORD = Path(__file__).parent / "output" / "drying_backtest.csv"
METHOD_PAGE = Path(__file__).parents[2] / ".readme" / "drying-method.md"
PRODUCT = WoodSettings()
STICKS = RatePrior(0.1, 0.5, "10-hour fuel sticks")
FITTED_H = 24
READ_EVERY_H = 6
LIMITS = (19, 16)
OUT_OF_REACH_PCT = 1.0
BAND = (0.1, 0.5, 0.8, 0.9)
# To be beaten: a stricter figure than the 1.75 that the baseline's own table comes to.
RMSE_TO_BEAT = 1.64


def rows(path):
    with path.open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def episodes():
    """By name: moisture content and air, hour by hour, over the hours the baseline used."""
    hours = {row["episode"]: int(row["n_hours"]) for row in rows(DATA / "drying_backtest_baseline.csv")}
    series = defaultdict(list)
    for row in rows(DATA / "fuelstick_drying_episodes.csv"):
        if len(series[row["episode"]]) < hours[row["episode"]]:
            series[row["episode"]].append([float(row[key]) for key in ("mc_pct", "air_temp_c", "rh_pct")])
    return {name: np.array(values) for name, values in series.items()}


def first_under(mc_pct, limit_pct, from_h=0):
    """First hour at or under the limit, straight between hours; by column; inf for never."""
    mc_pct = mc_pct[from_h:]
    under = mc_pct <= limit_pct
    at = under.argmax(axis=0)
    columns = np.arange(mc_pct.shape[1])
    before, after = mc_pct[np.maximum(at - 1, 0), columns], mc_pct[at, columns]
    falls = (at > 0) & (before > after)
    share = np.where(falls, (before - limit_pct) / np.where(falls, before - after, 1.0), 1.0)
    return np.where(under.any(axis=0), from_h + np.maximum(at - 1 + share, 0.0), np.inf)


def odds(series, air, limit_pct, settings=PRODUCT, noise=None, seed=0):
    known_h = len(series) if air == "later" else FITTED_H + 1
    read = series[:, 0] if noise is None else np.maximum(series[:, 0] + noise, 0.1)
    return drying_odds(
        readings_of(read),
        air_of(series[:known_h]),
        now_h=float(FITTED_H),
        limit_pct=limit_pct,
        prior=STICKS,
        settings=settings,
        seed=seed,
        horizon_h=720.0 if limit_pct > OUT_OF_REACH_PCT else float(len(series) - 1 - FITTED_H),
    )


def readings_of(mc_pct):
    return [MoistureReading(float(hour), mc_pct[hour]) for hour in range(0, FITTED_H + 1, READ_EVERY_H)]


def air_of(series):
    return [AirSample(float(hour), temp_c, rh_pct) for hour, (_, temp_c, rh_pct) in enumerate(series)]


def back_test(name, air, **more):
    """One episode as a row of the table."""
    series = episodes()[name]
    courses = odds(series, air, OUT_OF_REACH_PCT, **more)
    hourly = courses.paths_pct[np.isin(courses.at_h, np.arange(len(series)))]
    later, ahead = series[FITTED_H + 1 :, 0], hourly[FITTED_H + 1 :]
    low, median, high = np.quantile(ahead, (0.1, 0.5, 0.9), axis=1)
    row = {
        "episode": name,
        "air": air,
        "rmse_pct": float(np.sqrt(np.mean((median - later) ** 2))),
        "hours_in_band": float(np.mean((low <= later) & (later <= high))),
    }
    for limit_pct in LIMITS:
        (true_h,) = first_under(series[:, :1], limit_pct)
        is_fitted = true_h <= FITTED_H
        hours = first_under(hourly, limit_pct) if is_fitted else odds(series, air, limit_pct, **more).under_h
        low_h, even_h, safe_h, high_h = np.quantile(hours, BAND, method="inverted_cdf")
        row |= {
            f"kind_{limit_pct}": "fitted" if is_fitted else "forecast",
            f"true_{limit_pct}_h": float(true_h),
            f"low_{limit_pct}_h": float(low_h),
            f"even_{limit_pct}_h": float(even_h),
            f"safe_{limit_pct}_h": float(safe_h),
            f"high_{limit_pct}_h": float(high_h),
        }
    return row


@cache
def table():
    return [back_test(name, air) for air in ("later", "repeated") for name in episodes()]


def times(air, kind=None):
    """Of all limits together: true, low, even, safe and high hour, a row each."""
    return np.array(
        [
            [row[f"{name}_{limit_pct}_h"] for name in ("true", "low", "even", "safe", "high")]
            for row in table()
            for limit_pct in LIMITS
            if row["air"] == air and kind in {None, row[f"kind_{limit_pct}"]}
        ]
    )


def share_in_band(found):
    return float(np.mean((found[:, 1] <= found[:, 0]) & (found[:, 0] <= found[:, 4])))


def median_rmse(air):
    return float(np.median([row["rmse_pct"] for row in table() if row["air"] == air]))


def summary():
    """The lines of the table on the method page."""
    lines = []
    for air in ("later", "repeated"):
        mine = [row for row in table() if row["air"] == air]
        worst = max(row["rmse_pct"] for row in mine)
        within = np.mean([row["hours_in_band"] for row in mine])
        lines.append(f"| {air} | moisture, hour 25 on | 14 | {median_rmse(air):.2f} | {worst:.2f} | {within:.0%} | |")
        for kind in ("fitted", "forecast"):
            found = times(air, kind)
            error = np.abs(found[:, 2] - found[:, 0])
            safe = np.mean(found[:, 0] <= found[:, 3])
            lines.append(
                f"| {air} | {kind} time | {len(found)} | {np.median(error):.1f} h | {error.max():.1f} h "
                f"| {share_in_band(found):.0%} | {safe:.0%} |"
            )
    return lines


def baseline_errors():
    """Absolute errors of the baseline's times [h], by kind. It was fitted on all 25 hourly values."""
    errors = {"fitted": [], "forecast": []}
    for row in rows(DATA / "drying_backtest_baseline.csv"):
        for limit_pct in LIMITS:
            model_h, true_h = (float(row[f"hours_to_{limit_pct}_{which}"]) for which in ("model", "actual"))
            errors["fitted" if true_h <= FITTED_H else "forecast"].append(abs(model_h - true_h))
    return errors


def test_there_are_fourteen_episodes_and_both_kinds_of_times():
    assert len(episodes()) == 14
    assert len(times("later", "fitted")) == 16
    assert len(times("later", "forecast")) == 12


def test_true_times_are_those_of_the_baseline_table():
    """Arithmetic on the same curves, done twice: agreement within the rounding of the printed tenth."""
    for row in rows(DATA / "drying_backtest_baseline.csv"):
        series = episodes()[row["episode"]]
        for limit_pct in LIMITS:
            (true_h,) = first_under(series[:, :1], limit_pct)
            assert true_h == pytest.approx(float(row[f"hours_to_{limit_pct}_actual"]), abs=0.06)


def test_the_forecast_beats_the_single_rate_fit_on_its_own_terms():
    baseline = {
        row["episode"]: float(row["rmse_forecast_25h_on_pct"]) for row in rows(DATA / "drying_backtest_baseline.csv")
    }
    better = [row["rmse_pct"] < baseline[row["episode"]] for row in table() if row["air"] == "later"]

    print(f"\nbetter than the baseline in {sum(better)} of 14; its median {np.median(list(baseline.values())):.2f}")
    assert np.median(list(baseline.values())) > RMSE_TO_BEAT
    assert median_rmse("later") < 1.0
    assert sum(better) >= 12


def test_four_of_five_true_times_lie_in_the_band_of_four_in_five():
    share = share_in_band(times("later"))

    assert 0.7 <= share <= 0.9


def test_with_only_the_recent_air_the_band_still_holds_most_times_and_safe_is_safe():
    found = times("repeated", "forecast")

    assert share_in_band(found) >= 0.7
    assert np.mean(found[:, 0] <= found[:, 3]) >= 0.8


def test_with_a_meter_that_is_a_point_off_the_band_of_four_in_five_holds():
    """The measured values are exact; a pin meter's are not. Ten draws of its error for each episode."""
    inside = []
    for number in range(10):
        chance = np.random.default_rng(number)
        for name in episodes():
            row = back_test(name, "later", noise=chance.standard_normal(len(episodes()[name])), seed=number)
            inside += [row[f"low_{limit}_h"] <= row[f"true_{limit}_h"] <= row[f"high_{limit}_h"] for limit in LIMITS]

    print(f"\nwith meter error: {np.mean(inside):.0%} of {len(inside)} times in the band")
    assert 0.7 <= np.mean(inside) <= 0.9


def test_no_episode_is_taken_for_a_leak_or_trapped_water():
    """None was one, though humid nights make most sticks wetter by several points between readings."""
    outcomes = Counter(
        forecast_drying(
            readings_of(series[:, 0]), air_of(series[: FITTED_H + 1]), now_h=24.0, limit_pct=limit_pct, prior=STICKS
        ).outcome
        for series in episodes().values()
        for limit_pct in LIMITS
    )

    print(f"\n{ {outcome.value: count for outcome, count in outcomes.items()} }")
    assert outcomes.total() == 28
    assert outcomes[Outcome.RISING] == outcomes[Outcome.STALLED] == 0


def test_settings_chosen_without_an_episode_forecast_it_as_well():
    """Leave one out: of 27 settings around the product's the best on all other rains, used on the one left out."""
    choices = [
        replace(PRODUCT, warmth_power=power, wetness_per_pct=wetness, wander_sd_pct=wander)
        for power in (0.5, 0.85, 1.2)
        for wetness in (0.0, 0.04, 0.08)
        for wander in (1.0, 1.5, 2.5)
    ]
    names = list(episodes())
    errors = np.array([[_rmse(name, choice) for name in names] for choice in choices])
    held_out = []
    for number, name in enumerate(names):
        others = [_day(other) != _day(name) for other in names]  # one rain wetted both sites
        held_out.append(errors[np.median(errors[:, others], axis=1).argmin(), number])

    print(
        f"\nleave one out: median {np.median(held_out):.2f} points; all settings {np.median(errors, axis=1).round(2)}"
    )
    assert np.median(held_out) < 1.2
    assert np.median(errors, axis=1).max() < 2.0


def _rmse(name, choice):
    series = episodes()[name]
    courses = odds(series, "later", OUT_OF_REACH_PCT, choice)
    ahead = courses.paths_pct[np.isin(courses.at_h, np.arange(FITTED_H + 1, len(series)))]
    return float(np.sqrt(np.mean((np.median(ahead, axis=1) - series[FITTED_H + 1 :, 0]) ** 2)))


@cache
def _starts():
    return {row["episode"]: row["start_local"] for row in rows(DATA / "drying_backtest_baseline.csv")}


def _day(name):
    return _starts()[name].split()[0]


def test_the_table_agrees_with_its_record_and_the_method_page():
    made = [{key: _text(value) for key, value in row.items()} for row in table()]
    if os.environ.get("BACKTEST_WRITE"):
        with RECORD.open("w", encoding="utf-8", newline="") as file:
            writer = csv.DictWriter(file, list(made[0]), lineterminator="\n")
            writer.writeheader()
            writer.writerows(made)
    print("\n" + "\n".join(summary()))
    for kind, errors in baseline_errors().items():
        print(f"baseline: {len(errors)} {kind}, median error {np.median(errors):.1f} h, worst {max(errors):.1f} h")

    for mine, kept in zip(made, rows(RECORD), strict=True):
        for key, value in kept.items():
            assert _near(mine[key], value), f"{mine['episode']}, {mine['air']} air, {key}: {mine[key]}, record {value}"
    page = METHOD_PAGE.read_text(encoding="utf-8")
    assert [line for line in summary() if line not in page] == []


def _text(value):
    if not isinstance(value, float):
        return value
    return f"{value:.2f}" if np.isfinite(value) else ""


def _near(one, other):
    """Within a tenth, so that another processor's last digits do not matter."""
    try:
        return abs(float(one) - float(other)) <= 0.1
    except ValueError:
        return one == other
