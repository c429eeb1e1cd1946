"""Formulas of moisture: bounds, order and refusals. Published values: tests/reference."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.meter import COMMON_MATERIALS, MATERIALS, corrected_mc, resistance_megohm

ANY_MATERIAL = st.sampled_from(sorted(MATERIALS))
READINGS_PCT = st.floats(0, 200)
WOOD_TEMPS_C = st.floats(-20, 60)


# Meter


@given(READINGS_PCT, READINGS_PCT, ANY_MATERIAL, WOOD_TEMPS_C)
def test_a_higher_reading_never_gives_drier_wood(one_pct, other_pct, material, wood_temp_c):
    lower_pct, higher_pct = sorted((one_pct, other_pct))

    lower = corrected_mc(lower_pct, material, wood_temp_c)
    higher = corrected_mc(higher_pct, material, wood_temp_c)

    assert lower.mc_pct <= higher.mc_pct + 1e-9


@given(READINGS_PCT, ANY_MATERIAL, WOOD_TEMPS_C, WOOD_TEMPS_C)
def test_the_same_reading_in_warmer_wood_never_means_wetter_wood(reading_pct, material, one_c, other_c):
    colder_c, warmer_c = sorted((one_c, other_c))

    colder = corrected_mc(reading_pct, material, colder_c)
    warmer = corrected_mc(reading_pct, material, warmer_c)

    assert warmer.mc_pct <= colder.mc_pct + 1e-9


@given(READINGS_PCT)
def test_douglas_fir_at_the_scale_temperature_stays_as_read(reading_pct):
    assert corrected_mc(reading_pct, "douglas_fir_coast", 20.0).mc_pct == pytest.approx(reading_pct, abs=1e-9)


@pytest.mark.parametrize("material", sorted(MATERIALS))
def test_no_small_step_of_the_reading_makes_the_result_jump(material):
    results = [corrected_mc(step / 10, material, 20.0).mc_pct for step in range(401)]

    steps = [after - before for before, after in pairwise(results)]

    assert min(steps) >= -1e-9
    assert max(steps) < 0.5


@pytest.mark.parametrize("material", ["plywood", "osb", "panel_other"])
@given(READINGS_PCT, WOOD_TEMPS_C)
def test_a_panel_stays_as_read_and_says_so(material, reading_pct, wood_temp_c):
    result = corrected_mc(reading_pct, material, wood_temp_c)

    assert result.mc_pct == reading_pct
    assert result.how.startswith(f"as read: no published correction for {MATERIALS[material].name}")


@pytest.mark.parametrize(
    ("material", "reading_pct", "wood_temp_c", "how"),
    [
        ("spruce_sitka", 14, 14.4, "corrected for Sitka spruce at 58 F"),
        (
            "spruce_sitka",
            60,
            20,
            "corrected for Sitka spruce at 68 F; beyond the correction table, its last correction kept",
        ),
        ("pine_white", 12, -5, "corrected for white pine at 23 F; temperature rule stretched, rough"),
        ("wood_unknown", 14, 10, "corrected for wood at 50 F only; kind of wood not known"),
        ("plywood", 14, 20, "as read: no published correction for plywood"),
        ("osb", 14, 5, "as read: no published correction for OSB; cold material reads low"),
        ("plywood", 14, 30, "as read: no published correction for plywood; warm material reads high"),
    ],
)
def test_a_reading_says_in_words_what_was_done_to_it(material, reading_pct, wood_temp_c, how):
    assert corrected_mc(reading_pct, material, wood_temp_c).how == how


def test_wood_of_unknown_kind_is_corrected_for_temperature_alone():
    assert corrected_mc(18, "wood_unknown", 0).mc_pct == pytest.approx(20)


def test_the_short_menu_leads_the_long_one_and_every_name_is_its_own():
    names = [material.label for material in MATERIALS.values()]

    assert tuple(MATERIALS)[: len(COMMON_MATERIALS)] == COMMON_MATERIALS
    assert COMMON_MATERIALS[-1] == "wood_unknown"
    assert len(set(names)) == len(names)
    assert MATERIALS["pine_jack"].label == "Jack pine"


@pytest.mark.parametrize("reading_pct", [-0.1, 200.1, math.nan])
def test_a_reading_no_meter_shows_is_refused(reading_pct):
    with pytest.raises(ValueError, match="reading_pct must be 0 to 200"):
        corrected_mc(reading_pct, "osb", 20)


@pytest.mark.parametrize("wood_temp_c", [-20.1, 60.1, math.nan])
def test_a_wood_temperature_no_shop_has_is_refused(wood_temp_c):
    with pytest.raises(ValueError, match="wood_temp_c must be -20 to 60"):
        corrected_mc(12, "spruce_sitka", wood_temp_c)


def test_an_unknown_material_is_refused_by_name():
    with pytest.raises(ValueError, match="material must be a key of MATERIALS, got 'balsa'"):
        corrected_mc(12, "balsa", 20)


def test_a_panel_has_no_resistance_in_the_table():
    with pytest.raises(ValueError, match="column in the resistance table, got 'osb'"):
        resistance_megohm("osb", 12)
