"""Take-off against published tables."""

import csv
from fractions import Fraction
from pathlib import Path

import pytest

from estimates.calc.sheets import (
    CONDUCTIVITY_W_PER_MK,
    FIELD_LAP_MM,
    PANEL_GAP_MM,
    lay_sheets,
    r_value_us,
    sheets_for_area,
)
from estimates.calc.takeoff import (
    PANEL_EDGE_SPACING_MM,
    PANEL_FIELD_SPACING_MM,
    Coverage,
    adhesive,
    bead_length_ft,
    board_feet,
    package_ml,
    packs_needed,
)

DATA = Path(__file__).parent / "data"
ML_PER_CUBIC_INCH = 16.387064
MM_PER_INCH = 25.4
M2_PER_FT2 = 0.3048**2


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


FACTS = {row["topic"]: row["value"] for row in rows("panel_and_membrane_facts.csv", status="published")}
PACKAGES = rows("sealant_package_volume.csv", status="published")
INSULATION = rows("insulation_r_per_inch.csv", status="published k, R derived")


def test_the_other_tables_have_their_published_rows():
    assert (len(PACKAGES), len(INSULATION)) == (4, 4)
    assert len(rows("adhesive_coverage.csv", status="published")) == 4


@pytest.mark.parametrize("row", PACKAGES, ids=lambda row: f"{row['package']} {row['us_fl_oz']}")
def test_package_volumes_are_the_published_ones_to_their_printed_tenth(row):
    volume_in3 = package_ml(float(row["us_fl_oz"]), package=row["package"]) / ML_PER_CUBIC_INCH

    assert volume_in3 == pytest.approx(float(row["published_in3"]), abs=0.05)


@pytest.mark.parametrize("row", PACKAGES, ids=lambda row: f"{row['package']} {row['us_fl_oz']}")
def test_ounces_of_a_plain_can_are_as_computed_from_the_gallon(row):
    volume_in3 = package_ml(float(row["us_fl_oz"]), package="can") / ML_PER_CUBIC_INCH

    assert volume_in3 == pytest.approx(float(row["exact_in3_at_231in3_per_gal"]), abs=0.0006)


def test_a_published_yield_between_a_square_and_a_round_bead_is_bracketed():
    """The 10.1 oz cartridge at 3/8 in, shape not stated: 12 ft lies between our square bead and a round one."""
    (row,) = [row for row in rows("sealant_yield_published.csv") if row["bead_shape"] != "rectangular"]
    width_in = float(row["width_in"])

    square_ft = bead_length_ft(package_ml(10.1, package="cartridge"), width_in, width_in)

    assert square_ft < float(row["published_linear_ft"]) < square_ft * 4 / 3.14159


def finished_and_coated(row):
    """Published gallons for a finished area, both faces coated, and ours by each basis."""
    rate = float(row["published_rate"])
    call = {"faces": 2, "pack_quantity": 1.0, "pack": "gallon", "waste": 0.0, "units": "us"}
    return [
        adhesive(600 * M2_PER_FT2, coverage, **call)
        for coverage in (Coverage(rate, "ft2/gal", "finished area"), Coverage(2 * rate, "ft2/gal", "coated face"))
    ]


@pytest.mark.parametrize("row", rows("adhesive_coverage.csv", published_rate="60"), ids=lambda row: row["meaning"][:20])
def test_sixty_square_feet_a_gallon_finished_is_a_hundred_and_twenty_of_single_coated_face(row):
    finished, coated = finished_and_coated(row)

    assert row["status"] == "published"
    assert finished.quantity == pytest.approx(600 / 60)
    assert finished.packs == coated.packs == 10
    assert coated.quantity == pytest.approx(finished.quantity)


def test_a_pail_covers_what_its_published_rate_says():
    """100-120 ft2/gal is 500-600 ft2 per 5 gal pail: one pail for either area at its rate, two for a foot more."""
    (row,) = rows("adhesive_coverage.csv", published_rate="100-120")
    areas_ft2 = [float(part) for part in row["meaning"].split(" ft2")[0].split("-")]
    rates = [float(part) for part in row["published_rate"].split("-")]
    pail = {"faces": 2, "pack_quantity": 5.0, "pack": "pail", "waste": 0.0, "units": "us"}

    assert (row["status"], areas_ft2) == ("published", [500, 600])
    for area_ft2, rate in zip(areas_ft2, rates, strict=True):
        coverage = Coverage(rate, "ft2/gal", "finished area")
        assert adhesive(area_ft2 * M2_PER_FT2, coverage, **pail).packs == 1
        assert adhesive((area_ft2 + 1) * M2_PER_FT2, coverage, **pail).packs == 2


def test_resin_by_weight_on_one_face_is_as_published():
    """4-8 lb per 100 ft2 is 200-400 g/m2 as printed, both rounded."""
    (row,) = rows("adhesive_coverage.csv", published_rate="4-8")
    grams = [float(part) for part in row["note"].split("resin ")[1].split(" g/m2")[0].split("-")]
    pounds = [float(part) for part in row["published_rate"].split("-")]
    call = {"faces": 1, "pack_quantity": 1.0, "pack": "can", "waste": 0.0, "units": "us"}

    for weight_g, weight_lb in zip(grams, pounds, strict=True):
        worked = adhesive(100 * M2_PER_FT2, Coverage(weight_g, "g/m2", "coated face"), **call)
        assert worked.quantity / 0.45359237 == pytest.approx(weight_lb, rel=0.05)


def test_sheets_by_area_are_length_times_height_by_thirty_two_rounded_up():
    assert FACTS["sheets for area"] == "area / 32"
    assert FACTS["wood structural panel sheet"] == "4 x 8"
    for area_ft2, sheets in [(32, 1), (32.1, 2), (64, 2), (8 * 20, 5), (8 * 21, 6), (0, 0)]:
        assert sheets_for_area(area_ft2 * M2_PER_FT2) == sheets


def test_the_gap_between_panels_the_lap_of_field_sheets_and_the_nailing_are_the_published_ones():
    assert float(Fraction(FACTS["panel gap at edges and ends"])) * MM_PER_INCH == PANEL_GAP_MM
    assert float(FACTS["single-ply TPO sheet lap (field sheets)"]) * MM_PER_INCH == pytest.approx(FIELD_LAP_MM)
    edges, field = "panel edges", "intermediate supports"
    spacings_in = {end: float(v) for topic, v in FACTS.items() for end in (edges, field) if topic.endswith(f", {end}")}
    assert spacings_in[edges] * MM_PER_INCH == pytest.approx(PANEL_EDGE_SPACING_MM)
    assert spacings_in[field] * MM_PER_INCH == pytest.approx(PANEL_FIELD_SPACING_MM)


def test_a_layout_of_whole_sheets_takes_what_the_area_says():
    """Arithmetic: 24 x 8 ft less nothing is six sheets of 4 x 8 ft, by rows and by area."""
    plan = lay_sheets(24 * 304.8, 8 * 304.8, grain=None, gap_mm=0)

    assert plan.count == sheets_for_area(24 * 8 * M2_PER_FT2) == 6
    assert plan.is_least


@pytest.mark.parametrize("row", INSULATION, ids=lambda row: row["material"])
def test_r_values_follow_from_the_handbook_conductivity(row):
    material = row["material"].split(" (")[0]

    assert CONDUCTIVITY_W_PER_MK[material] == float(row["k_W_per_mK"])
    assert r_value_us(material, MM_PER_INCH) == pytest.approx(float(row["R_per_inch_low"]), abs=0.005)
    assert row["R_per_inch_low"] == row["R_per_inch_high"]
