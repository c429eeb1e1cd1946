"""Take-off against published tables."""

import csv
from pathlib import Path

import pytest

from estimates.calc.takeoff import bead_length_ft, board_feet, packs_needed

DATA = Path(__file__).parent / "data"
ML_PER_CUBIC_INCH = 16.387064


def rows(name, **wanted):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if all(row[key] == value for key, value in wanted.items())]


BOARDS = rows("board_feet_table.csv", status="published")
BEADS = [row for row in rows("sealant_yield_published.csv", status="published") if row["bead_shape"] == "rectangular"]


def test_there_are_published_rows():
    assert len(BOARDS) >= 60
    assert len(BEADS) >= 5


@pytest.mark.parametrize("row", BOARDS, ids=lambda row: f"{row['nominal']}x{row['length_ft']}")
def test_board_feet_agree_with_the_published_table(row):
    """Western Wood Products Association table; it prints whole numbers, halves, thirds or hundredths."""
    computed = board_feet(float(row["thickness_in"]), float(row["width_in"]), float(row["length_ft"]))

    decimals = len(row["published_bf"].partition(".")[2])
    assert abs(computed - float(row["published_bf"])) <= 0.5 * 10**-decimals + 0.005


@pytest.mark.parametrize("row", BEADS, ids=lambda row: f"{row['package']} {row['width_in']}x{row['depth_in']}")
def test_bead_lengths_agree_with_the_published_table_within_a_foot(row):
    length_ft = bead_length_ft(
        float(row["package_in3"]) * ML_PER_CUBIC_INCH, float(row["width_in"]), float(row["depth_in"])
    )

    assert abs(length_ft - float(row["published_linear_ft"])) <= 1


def test_waste_divides_as_in_the_published_worked_example():
    """106 in of floor in boards 5.5 in wide with 15 % waste: 22.67, so 23 boards."""
    (row,) = rows("waste_allowances.csv", status="published")
    floor_in, board_in, kept = (float(part) for part in row["worked_example"].replace(" in", "").split(" / "))
    exact, whole = row["result"].removesuffix(" pieces of 10 ft").split(" -> ")

    assert floor_in / board_in / kept == pytest.approx(float(exact), abs=0.005)
    assert packs_needed(floor_in, pack_quantity=board_in, waste=1 - kept) == int(whole)


def test_waste_that_divides_asks_for_more_than_waste_that_is_added():
    """Arithmetic: of 11 packs with a tenth lost 9.9 are left, so ten packs' worth takes 12, not 11."""
    assert packs_needed(10.0, pack_quantity=1.0, waste=0.1) == 12
