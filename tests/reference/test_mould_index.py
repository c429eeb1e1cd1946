"""The mould index against rows worked out apart from the code, and its constants against the literature's.

The values are printed to a few decimals (five for the index), so they cannot be met closer than half a unit of
the last one; that half unit and 1e-6 are allowed. They are computed, not measured: they show that the published
equations are coded as written, not that they describe a coach.
"""

import csv
import re
from pathlib import Path

import numpy as np
import pytest

from jobs.calc.moisture.mould import (
    EARLY_DECLINE_PER_DAY,
    LATE_DECLINE_PER_DAY,
    MaterialClass,
    critical_rh_pct,
    mould_index,
    weeks_to_first_growth,
)

DATA = Path(__file__).parent / "data"
CLASSES = {
    "vs": MaterialClass.VERY_SENSITIVE,
    "s": MaterialClass.SENSITIVE,
    "mr": MaterialClass.MEDIUM_RESISTANT,
    "r": MaterialClass.RESISTANT,
}


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


CHECKS = rows("mould_index_check_values.csv")
CONSTANT = [row for row in CHECKS if row["case"].startswith("constant")]
DRIED = [row for row in CHECKS if row["case"].startswith("4 weeks 22 C 97 % then 22 C 50 %")]
WEEKS = [row for row in CHECKS if row["class_or_quantity"] == "tm_weeks"]
CRITICAL = [row for row in CHECKS if row["class_or_quantity"] == "rhcrit"]
CONSTANTS = {row["name"]: row for row in rows("mould_index_constants.csv")}


def allowed(printed):
    return 0.5 * 10 ** -len(printed.partition(".")[2]) + 1e-6


def air_of(case):
    return tuple(float(value) for value in re.search(r"([\d.]+) C,? ([\d.]+) %", case).groups())


def test_every_row_is_checked():
    assert (len(CONSTANT), len(DRIED), len(WEEKS), len(CRITICAL)) == (140, 5, 7, 4)
    assert len(CONSTANT) + len(DRIED) + len(WEEKS) + len(CRITICAL) == len(CHECKS)


@pytest.mark.parametrize("short", CLASSES)
def test_the_index_in_constant_air_agrees_with_the_check_values(short):
    chosen = [row for row in CONSTANT if row["class_or_quantity"] == short]

    worst = 0.0
    for row in chosen:
        temp_c, rh_pct = air_of(row["case"])
        hours = int(row["hour"])
        indices = mould_index(np.full(hours, temp_c), np.full(hours, rh_pct), material_class=CLASSES[short])
        off = abs(indices[-1] - float(row["value"]))
        assert off <= allowed(row["value"]), row
        worst = max(worst, off)

    print(f"{CLASSES[short]}: {len(chosen)} rows, worst {worst:.1e}")
    assert len(chosen) == 35


def test_the_decline_after_four_wet_weeks_agrees_with_the_check_values():
    wet, last = 672, max(int(row["hour"]) for row in DRIED)
    rhs_pct = np.where(np.arange(last) < wet, 97.0, 50.0)

    indices = mould_index(np.full(last, 22.0), rhs_pct, material_class=MaterialClass.VERY_SENSITIVE)

    off = {row["hour"]: abs(indices[int(row["hour"]) - 1] - float(row["value"])) for row in DRIED}
    print(f"decline: worst {max(off.values()):.1e}")
    assert all(off[row["hour"]] <= allowed(row["value"]) for row in DRIED)


@pytest.mark.parametrize("row", WEEKS, ids=lambda row: row["case"])
def test_the_weeks_to_first_growth_agree_with_the_check_values(row):
    computed = weeks_to_first_growth(*air_of(row["case"].partition("resawn")[2]))

    assert computed == pytest.approx(float(row["value"]), abs=allowed(row["value"]))


@pytest.mark.parametrize("row", CRITICAL, ids=lambda row: row["case"])
def test_the_curve_of_critical_humidity_agrees_with_the_check_values(row):
    temp_c = float(re.search(r"at ([\d.]+) C", row["case"])[1])

    assert critical_rh_pct(temp_c, 0) == pytest.approx(float(row["value"]), abs=allowed(row["value"]))


@pytest.mark.parametrize("start", [0.0, 0.5, 1.0, 1.5])
@pytest.mark.parametrize("material_class", list(MaterialClass))
def test_one_hour_of_growth_follows_the_published_constants_of_the_class(material_class, start):
    """The check values of the two resistant classes stay below index 1, so their second k1 is met only here."""
    row = CONSTANTS[f"k1 {material_class}"]
    below_1, from_1 = map(float, re.findall(r"([\d.]+) \(M", row["expression"]))
    a, b, c, least = map(float, re.match(r"A=([\d.]+) B=([\d.]+) C=([\d.]+) RHmin=(\d+)", row["note"]).groups())
    excess = (max(critical_rh_pct(22, 0), least) - 98) / (max(critical_rh_pct(22, 0), least) - 100)
    k2 = 1 - np.exp(2.3 * (start - (a + b * excess - c * excess**2)))

    (after,) = mould_index([22.0], [98.0], material_class=material_class, start=start)

    k1 = below_1 if start < 1 else from_1
    assert after - start == pytest.approx(k1 * k2 / 7 / 24 / weeks_to_first_growth(22, 98), rel=1e-9)


def test_the_sign_of_the_linear_term_is_the_published_one():
    """With the misprinted +3.13 the curve would lie above 100 everywhere, and only saturated air would count."""
    assert "- 3.13 T" in CONSTANTS["RHcrit"]["expression"]
    assert critical_rh_pct(20, 0) < 81


def test_the_rates_of_decline_are_the_published_ones():
    published = [float(number) for number in re.findall(r"-(0\.\d+)", CONSTANTS["decline per day"]["expression"])]

    assert published == [EARLY_DECLINE_PER_DAY, LATE_DECLINE_PER_DAY]
