"""Moist air against ASHRAE's published values and a computed grid.

Tolerance of a published row: its own column. The grid (computed by another program, 14.696 psia) is printed
to few digits, so half a unit of the last printed digit is part of what is compared: 0.1 % relative is asked
of pressures, ratio and grains, 0.01 K of the dew point.
"""

import csv
from pathlib import Path

import pytest

from jobs.calc.moisture.air import (
    dew_point_c,
    enthalpy_j_per_kg,
    grains_per_lb,
    humidity_ratio,
    humidity_ratio_by_wet_bulb,
    relative_humidity_by_wet_bulb_pct,
    relative_humidity_pct,
    saturation_pressure_pa,
    standard_pressure_pa,
    vapour_pressure_pa,
    volume_m3_per_kg,
)

DATA = Path(__file__).parent / "data"
PA_PER_PSI = 6894.757293168
GRID_PRESSURE_PA = 14.696 * PA_PER_PSI


def by_wet_bulb(given):
    return humidity_ratio_by_wet_bulb(given["t_c"], given["twb_c"], given["p"])


COMPUTE = {
    "sat_vapour_pressure": lambda given: saturation_pressure_pa(given["t_c"]),
    "sat_humidity_ratio": lambda given: humidity_ratio(given["t_c"], 100, given["p"]),
    "sat_enthalpy": lambda given: enthalpy_j_per_kg(given["t_c"], humidity_ratio(given["t_c"], 100, given["p"])),
    "std_atm_pressure": lambda given: standard_pressure_pa(given["altitude_m"]),
    "humidity_ratio": by_wet_bulb,
    "relative_humidity": lambda given: (
        relative_humidity_by_wet_bulb_pct(given["t_c"], given["twb_c"], given["p"]) / 100
    ),
    "moist_air_enthalpy": lambda given: enthalpy_j_per_kg(given["t_c"], by_wet_bulb(given)),
    "moist_air_volume": lambda given: volume_m3_per_kg(given["t_c"], by_wet_bulb(given), given["p"]),
    "relative_humidity_from_vapour_pressure": lambda given: relative_humidity_pct(given["t_c"], given["vp"]) / 100,
}


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def number(text):
    """A number, or a product of two such as 0.8*3169.7."""
    left, _, right = text.partition("*")
    return float(left) * float(right or 1)


PUBLISHED = rows("psychro_ashrae_published.csv")
GRID = rows("psychro_grid_ip.csv")


def celsius(temp_f):
    return (float(temp_f) - 32) / 1.8


def test_every_published_row_is_checked():
    assert {row["quantity"] for row in PUBLISHED} == set(COMPUTE)
    assert len(PUBLISHED) == 17
    assert len(GRID) == 122


@pytest.mark.parametrize("row", PUBLISHED, ids=lambda row: f"{row['quantity']} {row['inputs']}")
def test_published_values_are_met_within_the_tolerance_of_their_row(row):
    given = {name: number(value) for name, _, value in (part.partition("=") for part in row["inputs"].split(";"))}
    measure, tolerance = row["tolerance"].split()

    computed = COMPUTE[row["quantity"]](given)

    print(f"{row['quantity']:40} {row['inputs']:20} off by {computed / float(row['value']) - 1:+.5%}")
    assert computed == pytest.approx(float(row["value"]), **{measure: float(tolerance)})


GRID_QUANTITIES = {
    "sat_vapour_pressure_psia": lambda temp_c, rh_pct: saturation_pressure_pa(temp_c) / PA_PER_PSI,
    "vapour_pressure_psia": lambda temp_c, rh_pct: vapour_pressure_pa(temp_c, rh_pct) / PA_PER_PSI,
    "humidity_ratio_lb_lb": lambda temp_c, rh_pct: humidity_ratio(temp_c, rh_pct, GRID_PRESSURE_PA),
    "grains_per_lb": lambda temp_c, rh_pct: grains_per_lb(temp_c, rh_pct, GRID_PRESSURE_PA),
}


@pytest.mark.parametrize("quantity", GRID_QUANTITIES)
def test_the_computed_grid_is_met_within_a_tenth_of_a_percent(quantity):
    off = [
        abs(GRID_QUANTITIES[quantity](celsius(row["temp_f"]), float(row["rh_pct"])) / float(row[quantity]) - 1)
        for row in GRID
    ]

    print(f"{quantity:26} {len(off)} rows, worst {max(off):.4%}")
    assert max(off) <= 0.001


def test_dew_points_of_the_computed_grid_are_met_within_a_hundredth_of_a_kelvin():
    off_k = [
        abs(dew_point_c(celsius(row["temp_f"]), float(row["rh_pct"])) - celsius(row["dew_point_f"])) for row in GRID
    ]

    print(f"dew point                  {len(off_k)} rows, worst {max(off_k):.5f} K")
    assert max(off_k) <= 0.01
    assert min(float(row["dew_point_f"]) for row in GRID) < 0  # frost points are among them
