"""Sheets, rolls, membrane and insulation for a rectangle."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.geometry import Edge, Measured, Run, Side
from estimates.calc.sheets import (
    RollPlan,
    insulation,
    lay_membrane,
    lay_roll,
    lay_sheets,
    r_value_us,
    roll_worked,
    sheets_for_area,
    sheets_worked,
)

FT = 304.8
sizes = st.floats(30, 9000)


def place(width_mm, height_mm, on_face_edge=()):
    lengths = {Side.LEFT: height_mm, Side.RIGHT: height_mm, Side.TOP: width_mm, Side.BOTTOM: width_mm}
    edges = tuple(Edge(side, length, side in on_face_edge) for side, length in lengths.items())
    return Measured(width_mm * height_mm / 1e6, edges)


def test_one_sheet_covers_what_is_its_own_size():
    plan = lay_sheets(8 * FT, 4 * FT, grain=Run.ALONG)

    assert (plan.count, plan.is_least) == (1, True)


def test_against_the_grain_the_same_place_takes_two_half_sheets_from_one_or_a_sheet_more():
    """Two sheets side by side, each cut to half its length: both halves come out of one only without a kerf."""
    with_kerf = lay_sheets(8 * FT, 4 * FT, grain=Run.ACROSS, gap_mm=0)
    without = lay_sheets(8 * FT, 4 * FT, grain=Run.ACROSS, gap_mm=0, kerf_mm=0)

    assert (with_kerf.count, with_kerf.is_least) == (2, False)
    assert without.count == 1
    assert lay_sheets(8 * FT, 4 * FT, grain=None).grain == Run.ALONG


def test_the_gap_trims_the_second_sheet_rather_than_asking_for_a_third():
    plan = lay_sheets(16 * FT, 4 * FT, grain=Run.ALONG)

    assert plan.count == 2
    assert [part.length_mm for part in plan.parts] == pytest.approx([8 * FT, 8 * FT - 3.175])


def test_the_ripped_row_and_its_corner_come_out_of_offcuts():
    """10 x 5 ft: one whole, a 2 ft end, a 1 ft rip and their corner, which the end's offcut holds: three sheets."""
    plan = lay_sheets(10 * FT, 5 * FT, grain=Run.ALONG, gap_mm=0)

    assert [(round(part.length_mm / FT, 6), round(part.width_mm / FT, 6), part.count) for part in plan.parts] == [
        (8, 4, 1),
        (2, 4, 1),
        (8, 1, 1),
        (2, 1, 1),
    ]
    assert plan.count == 3
    assert plan.count_by_area == 2


def test_the_words_of_a_layout_say_size_grain_and_waste():
    plan = lay_sheets(8 * FT, 7 * FT, grain=Run.ALONG)

    worked = sheets_worked(plan, 8 * FT, 7 * FT, waste=0.1, units="us")

    assert worked.words == "8 ft × 7 ft, the sheets' length along the first, with 10% waste = 3 sheets"
    assert (worked.quantity, worked.packs) == (2, 3)


@given(sizes, sizes, st.sampled_from([Run.ALONG, Run.ACROSS, None]))
def test_the_parts_of_a_layout_cover_the_rectangle_and_no_layout_beats_its_area(width, height, grain):
    plan = lay_sheets(width, height, grain=grain)

    covered = sum(part.length_mm * part.width_mm * part.count for part in plan.parts)
    gaps = width * height - covered
    joints = 3.175 * (width * (height / (4 * FT) + 1) + height * (width / (4 * FT) + 1))
    assert -1 <= gaps <= joints
    assert plan.count >= plan.count_by_area >= 1
    assert plan.count <= sum(part.count for part in plan.parts)
    assert all(part.length_mm <= 8 * FT + 1e-6 and part.width_mm <= 4 * FT + 1e-6 for part in plan.parts)


@given(sizes, sizes)
def test_free_grain_never_takes_more_sheets_and_turns_with_the_rectangle(width, height):
    free = lay_sheets(width, height, grain=None).count

    along, across = (lay_sheets(width, height, grain=run).count for run in Run)
    assert free == min(along, across)
    assert along == lay_sheets(height, width, grain=Run.ACROSS).count


def test_skin_off_a_roll_butts_in_strips_along_its_grain():
    plan = lay_roll(6000, 2500, roll_width_mm=1200, run=Run.ALONG, lap_mm=0)

    assert (plan.strips, plan.seams, plan.roll_mm, plan.seam_mm) == (3, 2, 18_000, 12_000)


def test_a_lap_at_each_seam_narrows_the_strips():
    butted = lay_roll(6000, 2400, roll_width_mm=1200, run=Run.ALONG, lap_mm=0)
    lapped = lay_roll(6000, 2400, roll_width_mm=1200, run=Run.ALONG, lap_mm=25)

    assert (butted.strips, lapped.strips) == (2, 3)


@given(sizes, sizes, st.floats(400, 3000), st.floats(0, 300))
def test_strips_cover_and_one_less_would_not(width, height, roll_width, lap):
    plan = lay_roll(width, height, roll_width_mm=roll_width, run=Run.ALONG, lap_mm=lap)

    covered = plan.strips * roll_width - plan.seams * lap
    assert covered >= height - 1e-3
    assert plan.strips == 1 or covered - (roll_width - lap) < height
    assert lay_roll(width, height, roll_width_mm=roll_width, run=None, lap_mm=lap).roll_mm <= plan.roll_mm + 1e-3


def test_membrane_wraps_over_the_face_s_edge_and_laps_onto_what_stays():
    """900 x 2100 mm in a corner: 100 mm over two edges, 101.6 mm onto the old membrane at the other two."""
    plan = lay_membrane(place(900, 2100, {Side.LEFT, Side.TOP}), roll_width_mm=2590, wrap_mm=100, run=Run.ACROSS)

    assert (plan.strips, plan.seams) == (1, 0)
    assert plan.roll_mm == pytest.approx(2100 + 100 + 101.6)
    assert plan.weld_mm == pytest.approx(900 + 2100)


def test_each_way_the_membrane_grows_by_its_own_two_edges():
    """Ends of the roof left and right, 150 mm over each; old membrane above and below, lapped 101.6 mm."""
    between = place(900, 700, {Side.LEFT, Side.RIGHT})

    along = lay_membrane(between, roll_width_mm=2590, wrap_mm=150, run=Run.ALONG)
    across = lay_membrane(between, roll_width_mm=2590, wrap_mm=150, run=Run.ACROSS)

    assert along.strip_mm == pytest.approx(900 + 2 * 150)
    assert across.strip_mm == pytest.approx(700 + 2 * 101.6)
    assert along.weld_mm == across.weld_mm == 2 * 900


def test_a_whole_roof_of_two_strips_is_welded_only_along_its_seam():
    plan = lay_membrane(place(6000, 2400, set(Side)), roll_width_mm=1524, wrap_mm=76.2, run=Run.ALONG)

    assert (plan.strips, plan.edge_weld_mm) == (2, 0)
    assert plan.weld_mm == plan.strip_mm == pytest.approx(6000 + 2 * 76.2)


def test_a_lap_narrower_than_three_inches_is_refused():
    with pytest.raises(ValueError, match=r"lap_mm must be 76.2 to 300, got 50"):
        lay_membrane(place(900, 900), roll_width_mm=2590, wrap_mm=100, lap_mm=50)


def test_membrane_is_bought_by_the_foot_or_by_the_roll():
    plan = RollPlan(Run.ALONG, 2, 6152.4, 1524, 1, 3000.0)

    feet = roll_worked(plan, sold_mm=FT, is_cut_to_length=True, pack="foot", waste=0, units="us")
    rolls = roll_worked(plan, sold_mm=12_000, is_cut_to_length=False, pack="roll", waste=0, units="metric")

    assert feet.words == "2 strips of 20.2 ft off a roll 5 ft wide, 30 ft to weld = 41 feet"
    assert rolls.words == "2 strips of 6.15 m off a roll 1.52 m wide, 9.15 m to weld = 2 rolls"
    assert feet.quantity == pytest.approx(12.3048)


def test_skin_in_one_strip_speaks_of_no_seam_and_in_three_of_two():
    one, three = (RollPlan(Run.ALONG, count, 3048, 1219.2, count - 1) for count in (1, 3))

    words = [
        roll_worked(plan, sold_mm=FT, is_cut_to_length=True, pack="foot", waste=0.1, units="us").words
        for plan in (one, three)
    ]

    assert words == [
        "1 strip of 10 ft off a roll 4 ft wide, with 10% waste = 12 feet",
        "3 strips of 10 ft off a roll 4 ft wide, 2 seams of 10 ft, with 10% waste = 34 feet",
    ]


def test_a_strip_longer_than_a_whole_roll_is_refused():
    with pytest.raises(ValueError, match="sold_mm must be at least one strip, 6000, got 5000"):
        roll_worked(
            RollPlan(Run.ALONG, 1, 6000, 1524, 0),
            sold_mm=5000,
            is_cut_to_length=False,
            pack="roll",
            waste=0,
            units="us",
        )


def test_insulation_fills_the_cavity_in_layers_and_says_its_r_value():
    board = {"board_mm": 19.05, "board_m2": 32 * 0.3048**2, "material": "insulation board", "waste": 0.0}

    us = insulation(20 * 0.3048**2, cavity_mm=38.1, units="us", **board)
    metric = insulation(20 * 0.3048**2, cavity_mm=38.1, units="metric", **board)

    assert us.words == "20 ft² × 2 layers of 3/4 in, R 7.2 by handbook = 2 boards"
    assert metric.words == "1.86 m² × 2 layers of 19 mm, R 1.27 m²K/W by handbook = 2 boards"
    assert us.quantity == pytest.approx(40 * 0.3048**2)


def test_a_board_that_does_not_go_twice_into_the_cavity_is_laid_once():
    worked = insulation(
        1.0, cavity_mm=38.0, board_mm=19.05, board_m2=1.0, material="batt insulation", waste=0.1, units="metric"
    )

    assert worked.words == "1.00 m² × 1 layer of 19 mm, R 0.38 m²K/W by handbook, with 10% waste = 2 boards"


GOOD_BOARD = {
    "cavity_mm": 38.1,
    "board_mm": 19.05,
    "board_m2": 3.0,
    "material": "insulation board",
    "waste": 0.0,
    "units": "us",
}


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: sheets_for_area(-1), "area_m2 must be 0 to 1000, got -1"),
        (lambda: sheets_for_area(math.inf), "area_m2"),
        (lambda: sheets_for_area(1, sheet_mm=0), "sheet_mm must be above 0"),
        (lambda: lay_sheets(0, 100, grain=None), "width_mm must be above 0, to 100000, got 0"),
        (lambda: lay_sheets(100, math.nan, grain=None), "height_mm"),
        (lambda: lay_sheets(100, 100, grain=None, gap_mm=-1), "gap_mm must be 0 to 25.4, got -1"),
        (lambda: lay_sheets(100, 100, grain=None, kerf_mm=30), "kerf_mm"),
        (lambda: lay_roll(100, 100, roll_width_mm=0, run=None, lap_mm=0), "roll_width_mm must be above 0"),
        (lambda: lay_roll(100, 100, roll_width_mm=100, run=None, lap_mm=100), "lap_mm must be 0 to below 100"),
        (lambda: lay_membrane(place(10, 10), roll_width_mm=2000, wrap_mm=-1), "wrap_mm must be 0 to 1000, got -1"),
        (lambda: r_value_us("felt", 10), "material must be one of insulation board, .* got 'felt'"),
        (lambda: r_value_us("wood", -1), "thickness_mm must be 0 to 1000, got -1"),
        (lambda: insulation(-1, **GOOD_BOARD), "area_m2"),
        (lambda: insulation(1, **GOOD_BOARD | {"cavity_mm": 0}), "cavity_mm must be above 0"),
        (lambda: insulation(1, **GOOD_BOARD | {"board_mm": 50}), "board_mm must be above 0, to 38.1 as the cavity"),
        (lambda: insulation(1, **GOOD_BOARD | {"board_m2": 0}), "board_m2 must be above 0"),
        (lambda: insulation(1, **GOOD_BOARD | {"waste": 0.6}), "waste must be 0 to 0.5"),
        (lambda: insulation(1, **GOOD_BOARD | {"units": "imperial"}), "units must be 'us' or 'metric'"),
    ],
)
def test_absurd_sizes_are_refused_by_name(call, words):
    with pytest.raises(ValueError, match=words):
        call()
