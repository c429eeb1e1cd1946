"""Take-off: what a place takes, in what is sold."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.takeoff import (
    Coverage,
    FastenerLine,
    adhesive,
    bead_length_ft,
    board_feet,
    count_words,
    fasteners,
    fasteners_in_line,
    labour_hours,
    length_words,
    package_ml,
    packs_needed,
    quantity_for,
    sealant,
    size_words,
    work_out_packs,
)

SIZE = {"area_m2": 0.9 * 2.1, "perimeter_m": 6.0, "long_edge_m": 2.1}


@pytest.mark.parametrize(
    ("basis", "quantity"),
    [
        ("each", 2.0),
        ("area_m2", 3.78),
        ("area_ft2", 40.687),
        ("edge_m", 12.0),
        ("edge_ft", 39.370),
        ("length_m", 4.2),
        ("length_ft", 13.780),
    ],
)
def test_a_quantity_follows_its_basis(basis, quantity):
    assert quantity_for(basis, per_unit=2.0, **SIZE) == pytest.approx(quantity, abs=0.001)


def test_an_unknown_basis_is_refused():
    with pytest.raises(ValueError, match="basis must be one of"):
        quantity_for("per_mood", per_unit=1.0, **SIZE)


@pytest.mark.parametrize(
    ("quantity", "pack", "waste", "packs"),
    [
        (32.0, 32.0, 0.0, 1),
        (32.0, 32.0, 0.1, 2),
        (0.0, 32.0, 0.1, 0),
        (0.1 + 0.2, 0.3, 0.0, 1),
        (90.0, 10.0, 0.1, 10),
        (32.01, 32.0, 0.0, 2),
    ],
)
def test_packs_are_rounded_up_to_what_is_sold(quantity, pack, waste, packs):
    assert packs_needed(quantity, pack_quantity=pack, waste=waste) == packs


@given(st.floats(0, 1e4), st.floats(0.01, 1e3), st.floats(0, 0.5))
def test_what_is_left_after_waste_is_enough_and_one_pack_less_is_not(quantity, pack, waste):
    packs = packs_needed(quantity, pack_quantity=pack, waste=waste)

    assert packs * pack * (1 - waste) >= quantity * (1 - 1e-8) - 1e-8 * pack
    assert packs == 0 or (packs - 1) * pack * (1 - waste) < quantity


@pytest.mark.parametrize(
    "call",
    [
        lambda: packs_needed(-1, pack_quantity=1, waste=0),
        lambda: packs_needed(1, pack_quantity=0, waste=0),
        lambda: packs_needed(math.inf, pack_quantity=1, waste=0),
        lambda: packs_needed(math.nan, pack_quantity=1, waste=0),
        lambda: packs_needed(1, pack_quantity=math.inf, waste=0),
        lambda: packs_needed(1, pack_quantity=1, waste=0.6),
        lambda: bead_length_ft(math.inf, 0.5, 0.25),
        lambda: board_feet(2, 4, math.inf),
        lambda: labour_hours(0, math.inf, 0),
        lambda: bead_length_ft(300, 0, 0.25),
        lambda: board_feet(0, 4, 8),
        lambda: labour_hours(-1, 0, 0),
    ],
)
def test_impossible_sizes_are_refused_by_name(call):
    with pytest.raises(ValueError, match="must be"):
        call()


BONDED = {"faces": 2, "pack_quantity": 1.0, "pack": "can", "waste": 0.0}
BEAD = {"bead_width_in": 0.375, "bead_depth_in": 0.25, "package_ml": 300.0, "package": "cartridge", "waste": 0.0}


def test_the_words_of_packs_say_what_is_needed_what_is_lost_and_what_is_sold():
    worked = work_out_packs(40.687, unit="ft²", pack_quantity=32, pack="sheet", waste=0.1)

    assert worked.words == "40.7 ft², with 10% waste, 32 ft² a sheet = 2 sheets"
    assert (worked.quantity, worked.unit, worked.packs) == (40.687, "ft²", 2)


def test_two_beads_along_an_edge_in_words_of_the_shop():
    """300 ml is 18.3 in3: 16.3 ft of bead 3/8 x 1/4 in."""
    us = sealant(12.6 * 304.8, beads=2, units="us", **BEAD)
    metric = sealant(12.6 * 304.8, beads=2, units="metric", **BEAD)

    assert us.words == "12.6 ft of edge × 2 beads = 25.2 ft, 16.3 ft a cartridge = 2 cartridges"
    assert metric.words == "3.84 m of edge × 2 beads = 7.68 m, 4.96 m a cartridge = 2 cartridges"
    assert us.quantity == pytest.approx(7.681, abs=0.001)


def test_one_bead_is_not_multiplied_out_and_waste_is_said():
    worked = sealant(12 * 304.8, beads=1, units="us", **BEAD | {"waste": 0.25})

    assert worked.words == "12 ft of edge × 1 bead, with 25% waste, 16.3 ft a cartridge = 1 cartridge"


def test_adhesive_by_finished_area_does_not_count_the_second_face_again():
    worked = adhesive(120 * 0.3048**2, Coverage(60, "ft2/gal", "finished area"), units="us", **BONDED)

    assert worked.quantity == pytest.approx(2.0)
    assert worked.words == (
        "120 ft² bonded, both faces coated, at 60 ft² a gallon of finished area = 2.00 gal = 2 cans"
    )


def test_adhesive_by_coated_face_takes_twice_as_much_on_both_faces_as_on_one():
    rate = Coverage(100, "ft2/gal", "coated face")
    both = adhesive(10.0, rate, units="us", **BONDED)
    one = adhesive(10.0, rate, units="us", **BONDED | {"faces": 1})

    assert both.quantity == pytest.approx(2 * one.quantity)
    assert "one face coated, at 100 ft² a gallon of coated face" in one.words


def test_adhesive_is_said_in_the_units_of_the_shop_whatever_the_label_s():
    metric = adhesive(10.0, Coverage(60, "ft2/gal", "finished area"), units="metric", **BONDED)
    by_weight = Coverage(150, "g/m2", "coated face")

    assert "10.00 m² bonded, both faces coated, at 1.5 m² a litre of finished area = 6.79 l" in metric.words
    assert "at 150 g a m² of coated face = 3.00 kg" in adhesive(10.0, by_weight, units="metric", **BONDED).words
    assert "at 3.1 lb a 100 ft² of coated face = 6.61 lb" in adhesive(10.0, by_weight, units="us", **BONDED).words


def test_waste_of_adhesive_is_said_after_the_volume_that_it_is_added_to():
    worked = adhesive(60 * 0.3048**2, Coverage(60, "ft2/gal", "finished area"), units="us", **BONDED | {"waste": 0.1})

    assert worked.words.endswith("of finished area = 1.00 gal, with 10% waste = 2 cans")
    assert worked.quantity == pytest.approx(1.0)


@given(st.floats(0, 1000), st.floats(1, 500), st.sampled_from(["finished area", "coated face"]))
def test_a_rate_is_the_same_in_gallons_and_in_litres(area, rate, basis):
    us = adhesive(area, Coverage(rate, "ft2/gal", basis), units="us", **BONDED)
    metric = adhesive(area, Coverage(rate * 0.3048**2 / 3.785411784, "m2/l", basis), units="us", **BONDED)

    assert metric.quantity == pytest.approx(us.quantity * 3.785411784)


@pytest.mark.parametrize(
    ("length", "spacing", "count"),
    [(0, 152.4, 1), (152.4, 152.4, 2), (2438.4, 152.4, 17), (2438.3, 152.4, 16), (100, 304.8, 1)],
)
def test_a_row_of_fasteners_has_one_at_its_start_and_one_each_spacing(length, spacing, count):
    assert fasteners_in_line(length, spacing) == count


@given(st.floats(0, 1e5), st.floats(5, 2000))
def test_a_row_never_leaves_a_whole_spacing_without_a_fastener(length, spacing):
    count = fasteners_in_line(length, spacing)

    assert (count - 1) * spacing <= length * (1 + 1e-6) + 1e-3
    assert count * spacing > length * (1 - 1e-6)


def test_fasteners_of_a_sheet_are_counted_by_edges_and_members():
    """A 4 x 8 ft sheet at 6 in round and 12 in on three members: 2 x 17 + 2 x 9 + 3 x 5."""
    rows = [
        FastenerLine("edge", 8 * 304.8, 152.4, 2),
        FastenerLine("end", 4 * 304.8, 152.4, 2),
        FastenerLine("member", 4 * 304.8, 304.8, 3),
    ]

    worked = fasteners(rows, pack_quantity=100, pack="box", waste=0.05, units="us")

    assert worked.quantity == 2 * 17 + 2 * 9 + 3 * 5
    assert worked.words == (
        "2 edges of 8 ft at 6 in, 2 ends of 4 ft at 6 in, 3 members of 4 ft at 12 in = 67 screws, with 5% waste = 1 box"
    )


def test_one_row_of_fasteners_is_said_in_the_singular():
    worked = fasteners([FastenerLine("member", 1000, 250)], pack_quantity=100, pack="box", waste=0, units="metric")

    assert worked.words == "1 member of 1.00 m at 250 mm = 5 screws = 1 box"


def test_no_rows_take_no_fasteners():
    worked = fasteners([], pack_quantity=100, pack="box", waste=0, units="metric")

    assert (worked.packs, worked.words) == (0, "no rows = 0 screws = 0 boxes")


def test_a_sausage_of_twenty_ounces_is_six_hundred_millilitres_and_a_can_is_not():
    assert package_ml(20, package="sausage") == 600
    assert package_ml(20, package="can") == pytest.approx(591.47, abs=0.01)


@pytest.mark.parametrize(
    ("mm", "units", "words"),
    [
        (88.9, "us", "3 1/2 in"),
        (12.7, "us", "1/2 in"),
        (0, "us", "0 in"),
        (304.8, "us", "12 in"),
        (88.9, "metric", "89 mm"),
    ],
)
def test_small_sizes_are_printed_as_shops_say_them(mm, units, words):
    assert size_words(mm, units=units) == words


@pytest.mark.parametrize(
    ("count", "name", "words"),
    [(1, "box", "1 box"), (2, "box", "2 boxes"), (3, "each", "3 each"), (2, "foot", "2 feet"), (0, "roll", "0 rolls")],
)
def test_things_are_counted_in_the_plural(count, name, words):
    assert count_words(count, name) == words


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: adhesive(-1, Coverage(60, "ft2/gal", "finished area"), units="us", **BONDED), "area_m2 must be 0 to"),
        (lambda: adhesive(1, Coverage(0, "ft2/gal", "finished area"), units="us", **BONDED), "rate must be above 0"),
        (lambda: adhesive(1, Coverage(60, "ft2", "finished area"), units="us", **BONDED), "unit must be"),
        (lambda: adhesive(1, Coverage(60, "m2/l", "area"), units="us", **BONDED), "basis must be"),
        (
            lambda: adhesive(1, Coverage(6, "m2/l", "coated face"), units="us", **BONDED | {"faces": 3}),
            "faces must be 1 or 2, got 3",
        ),
        (lambda: sealant(-1, beads=1, units="us", **BEAD), "edge_mm must be 0 to 100000, got -1"),
        (lambda: sealant(1, beads=11, units="us", **BEAD), "beads must be 0 to 10, got 11"),
        (lambda: fasteners_in_line(100, 0), "spacing_mm must be 5 to 2000, got 0"),
        (lambda: fasteners_in_line(math.nan, 100), "length_mm must be 0 to"),
        (
            lambda: fasteners([FastenerLine("edge", 1, 100, -1)], pack_quantity=1, pack="box", waste=0, units="us"),
            "count must be 0 to 1000, got -1",
        ),
        (lambda: package_ml(0, package="can"), "us_fl_oz must be above 0"),
        (lambda: length_words(1, units="yards"), "units must be 'us' or 'metric', got 'yards'"),
    ],
)
def test_absurd_take_off_is_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
