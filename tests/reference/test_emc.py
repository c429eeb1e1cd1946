"""Equilibrium moisture content against the printed table and values computed elsewhere with the same equation."""

import csv
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.wood import emc_pct, rh_holding_pct

DATA = Path(__file__).parent / "data" / "moisture"
TABLE_TOLERANCE = 0.1
TEMPS = st.floats(-30, 80)
HUMIDITIES = st.floats(0, 100)


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def celsius(row):
    return (float(row["temp_f"]) - 32) / 1.8


TABLE = [row for row in rows("emc_wood_handbook_table.csv") if row["status"] == "published-quoted"]
# Rules of thumb and the check near saturation say themselves that they are soft; they are no measure of the equation.
WORKED = [
    row
    for row in rows("emc_worked_examples.csv")
    if "rule of thumb" not in row["source"] and "soft" not in row["source"]
]


def test_there_are_published_rows():
    assert len(TABLE) >= 130
    assert len(WORKED) >= 10


@pytest.mark.parametrize("row", TABLE, ids=lambda row: f"{row['temp_f']}F-{row['rh_pct']}%")
def test_equilibrium_agrees_with_the_printed_table(row):
    computed = emc_pct(celsius(row), float(row["rh_pct"]))

    assert computed == pytest.approx(float(row["emc_pct_table"]), abs=TABLE_TOLERANCE)


@pytest.mark.parametrize("row", WORKED, ids=lambda row: f"{row['temp_f']}F-{row['rh_pct']}%")
def test_equilibrium_agrees_with_values_computed_elsewhere(row):
    computed = emc_pct(celsius(row), float(row["rh_pct"]))

    assert computed == pytest.approx(float(row["emc_pct_published"]), abs=float(row["tolerance"]))


def test_the_worst_row_of_the_table_is_shown(capsys):
    worst = max(TABLE, key=_off)

    with capsys.disabled():
        print(f"\nequilibrium: worst of {len(TABLE)} printed rows off by {_off(worst):.3f} point ({worst['temp_f']} F)")
    assert _off(worst) <= TABLE_TOLERANCE


def _off(row):
    return abs(emc_pct(celsius(row), float(row["rh_pct"])) - float(row["emc_pct_table"]))


@given(TEMPS, HUMIDITIES, HUMIDITIES)
def test_wetter_air_never_holds_wood_drier(temp_c, one, other):
    drier, wetter = sorted([one, other])

    assert emc_pct(temp_c, drier) <= emc_pct(temp_c, wetter)


@given(TEMPS, HUMIDITIES)
def test_equilibrium_lies_between_bone_dry_and_fibre_saturation(temp_c, rh_pct):
    assert 0 <= emc_pct(temp_c, rh_pct) < 32


def test_an_array_gives_what_its_elements_give():
    temps, humidities = np.array([0.0, 20.0, 50.0]), np.array([30.0, 60.0, 90.0])

    together = emc_pct(temps, humidities)

    assert together.tolist() == [emc_pct(float(t), float(h)) for t, h in zip(temps, humidities, strict=True)]


@given(st.floats(0, 50), st.floats(2, 24))
def test_the_humidity_that_holds_wood_is_the_highest_that_does(temp_c, mc_pct):
    rh_pct = rh_holding_pct(temp_c, mc_pct)

    assert emc_pct(temp_c, rh_pct) <= mc_pct < emc_pct(temp_c, rh_pct + 0.5)


def test_wood_above_saturated_air_is_held_by_any_humidity():
    assert rh_holding_pct(20.0, 40.0) is None


@pytest.mark.parametrize(
    ("temp_c", "rh_pct", "message"),
    [
        (-30.1, 50.0, r"air_temp_c must be -30 to 80, got -30\.1"),
        (80.1, 50.0, r"air_temp_c must be -30 to 80, got 80\.1"),
        (float("nan"), 50.0, "air_temp_c must be -30 to 80, got nan"),
        (20.0, -0.1, r"rh_pct must be 0 to 100, got -0\.1"),
        (20.0, 100.1, r"rh_pct must be 0 to 100, got 100\.1"),
    ],
)
def test_air_that_cannot_be_is_refused(temp_c, rh_pct, message):
    with pytest.raises(ValueError, match=message):
        emc_pct(temp_c, rh_pct)


def test_a_bad_value_inside_an_array_is_named():
    with pytest.raises(ValueError, match=r"rh_pct must be 0 to 100, got 101\.0"):
        emc_pct(np.array([20.0, 20.0]), np.array([50.0, 101.0]))


def test_wood_drier_than_bone_dry_is_refused():
    with pytest.raises(ValueError, match="mc_pct must be at least 0, got -1"):
        rh_holding_pct(20.0, -1.0)
