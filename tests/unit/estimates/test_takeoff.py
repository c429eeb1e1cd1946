"""Take-off: what a place takes, in what is sold."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.takeoff import bead_length_ft, board_feet, labour_hours, packs_needed, quantity_for

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
        lambda: packs_needed(1, pack_quantity=1, waste=0.6),
        lambda: bead_length_ft(300, 0, 0.25),
        lambda: board_feet(0, 4, 8),
        lambda: labour_hours(-1, 0, 0),
    ],
)
def test_impossible_sizes_are_refused_by_name(call):
    with pytest.raises(ValueError, match="must be"):
        call()
