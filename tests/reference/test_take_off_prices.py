"""Published take-off values all the way through: a finding's place, a recipe, a material, the line on the bill."""

import csv
import math
from decimal import Decimal
from pathlib import Path

import pytest

from estimates.models import Rates, RecipeMaterial
from estimates.pricing import work_out
from tests.factories import CoachFactory, FindingFactory, JobFactory, RatesFactory, RemedyFactory, ShopFactory

pytestmark = pytest.mark.django_db

DATA = Path(__file__).parent / "data"
ML_PER_CUBIC_INCH = 16.387064
FT, IN = 304.8, 25.4
M2_PER_FT2 = 0.3048**2


def rows(name, **wanted):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if all(row[key] == value for key, value in wanted.items())]


def line_for(material, use, *, width_mm, height_mm):
    """The one material line of a recipe at a place of this size, on the roof of a coach of 24 by 4 m."""
    shop = ShopFactory()
    RatesFactory(shop=shop)
    coach = CoachFactory(shop=shop, length_mm=24_000.0, width_mm=4_000.0)
    finding = FindingFactory(
        job=JobFactory(shop=shop, coach=coach), left_mm=0.0, top_mm=0.0, width_mm=width_mm, height_mm=height_mm
    )
    remedy = RemedyFactory(finding=finding)
    stored = shop.materials.create(name="Stuff", sold_unit="pack", pack_cost_usd=Decimal(10), **material)
    RecipeMaterial.objects.create(standard_remedy=remedy.standard, material=stored, **use)
    (line,) = work_out(remedy, Rates.objects.get(shop=shop)).lines
    return line


BEADS = [row for row in rows("sealant_yield_published.csv", status="published") if row["bead_shape"] == "rectangular"]


@pytest.mark.parametrize("row", BEADS, ids=lambda row: f"{row['width_in']}x{row['depth_in']}")
def test_a_gallon_of_sealant_goes_as_far_as_published_within_a_foot(row):
    """An edge a foot shorter than the published yield takes one gallon, one a foot longer takes two."""
    gallon = {"takeoff": "sealant", "pack_quantity": float(row["package_in3"]) * ML_PER_CUBIC_INCH}
    bead = {"basis": "edge_ft", "bead_width_in": float(row["width_in"]), "bead_depth_in": float(row["depth_in"])}
    published_ft = float(row["published_linear_ft"])

    packs = []
    for edge_ft in (published_ft - 1, published_ft + 1):
        height_mm = edge_ft * FT / 8
        line = line_for(gallon, bead, width_mm=edge_ft * FT / 2 - height_mm, height_mm=height_mm)
        packs.append(line.quantity)
        assert f"{edge_ft:g} ft of edge × 1 bead" in line.how

    assert packs == [1, 2]


def test_boards_of_a_floor_are_counted_with_waste_as_in_the_published_example():
    """106 in of floor in boards 5.5 in wide with 15 % waste: 22.67, so 23 boards."""
    (row,) = rows("waste_allowances.csv", status="published")
    floor_in, board_in, kept = (float(part) for part in row["worked_example"].replace(" in", "").split(" / "))

    line = line_for(
        {"takeoff": "count", "pack_quantity": board_in},
        {"basis": "length_ft", "per_unit": 12.0, "waste": 1 - kept},
        width_mm=floor_in * IN,
        height_mm=500.0,
    )

    assert line.quantity == int(row["result"].split("-> ")[1].split()[0]) == 23
    assert line.how == "8.8 ft along the longer side × 12 = 106 ft, with 15% waste, 5.5 ft in one = 23 packs"


@pytest.mark.parametrize(("rate", "basis"), [(60.0, "finished area"), (120.0, "coated face")])
def test_six_hundred_square_feet_take_ten_gallons_by_either_way_of_stating_the_published_rate(rate, basis):
    """60 ft2/gal of finished area, both faces coated, "about 120 ft2/gal of single coated face"."""
    published = rows("adhesive_coverage.csv", published_rate="60")[0]
    assert published["note"].endswith("about 120 ft2/gal of single coated face")
    glue = {"takeoff": "adhesive", "pack_quantity": 1.0, "coverage_rate": rate}
    glue |= {"coverage_unit": "ft2/gal", "coverage_basis": basis}
    height_mm = 3000.0

    line = line_for(
        glue, {"basis": "area_ft2", "faces": 2}, width_mm=600 * M2_PER_FT2 * 1e6 / height_mm, height_mm=height_mm
    )

    assert line.quantity == 10
    assert f"600 ft² bonded, both faces coated, at {rate:.0f} ft² a gallon of {basis} = 10.00 gal" in line.how


@pytest.mark.parametrize(("long_ft", "high_ft", "sheets"), [(8, 4, 1), (24, 8, 6), (20, 8, 5), (32, 12, 12)])
def test_whole_layouts_take_the_published_area_by_thirty_two(long_ft, high_ft, sheets):
    """Sheets (round up) = area / 32, which a layout of whole and half sheets reaches."""
    facts = {row["topic"]: row["value"] for row in rows("panel_and_membrane_facts.csv", status="published")}
    assert facts["sheets for area"] == "area / 32"
    wide_ft, full_ft = (float(part) for part in facts["wood structural panel sheet"].split(" x "))
    sheet = {"takeoff": "sheet", "pack_quantity": 1.0, "width_mm": wide_ft * FT, "length_mm": full_ft * FT}

    line = line_for(sheet, {"basis": "area_ft2", "laid": "across"}, width_mm=long_ft * FT, height_mm=high_ft * FT)

    assert line.quantity == sheets == math.ceil(long_ft * high_ft / 32)
    assert line.how == f"{long_ft} ft × {high_ft} ft, laid across the members = {sheets} pack{'s' * (sheets > 1)}"


def test_a_sheet_is_nailed_at_the_published_spacings():
    """IRC Table R602.3(1): 6 in on the edges, 12 in on the members between. Two edges of 8 ft and two of 4 ft hold 17
    and 9 each; of the members 16 in apart under a sheet laid from the first, five lie inside and hold 5 each: 77.
    """
    spacing_in = {
        topic.rsplit(", ", 1)[1]: float(row["value"])
        for row in rows("panel_and_membrane_facts.csv", status="published")
        if (topic := row["topic"]).startswith("roof/wall/subfloor")
    }

    line = line_for(
        {"takeoff": "fastener", "pack_quantity": 1.0},
        {
            "basis": "area_ft2",
            "spacing_mm": spacing_in["panel edges"] * IN,
            "member_spacing_mm": spacing_in["intermediate supports"] * IN,
        },
        width_mm=8 * FT,
        height_mm=4 * FT,
    )

    assert line.quantity == 2 * 17 + 2 * 9 + 5 * 5
    assert "2 edges of 8 ft at 6 in, 2 edges of 4 ft at 6 in, 5 members of 4 ft at 12 in" in line.how


def test_membrane_laps_by_the_published_four_inches():
    """Two field sheets of 8 ft with a lap of 4 in cover 15 ft 8 in, and no inch more."""
    (row,) = rows("panel_and_membrane_facts.csv", topic="single-ply TPO sheet lap (field sheets)")
    lap_mm = float(row["value"]) * IN
    roll = {"takeoff": "roll", "pack_quantity": 1.0, "width_mm": 8 * FT, "length_mm": 50 * FT}
    # The place begins at the roof's own edge; at its other end it meets what stays, and laps onto that as well.
    use = {"basis": "area_ft2", "lap_mm": lap_mm, "laid": "along"}

    held = [
        line_for(roll, use, width_mm=width_mm, height_mm=4000.0).how
        for width_mm in (15 * FT + 8 * IN - lap_mm, 15 * FT + 9 * IN - lap_mm)
    ]

    assert "2 strips of" in held[0]
    assert "3 strips of" in held[1]
