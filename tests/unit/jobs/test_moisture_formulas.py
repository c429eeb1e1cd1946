"""Meter, air, sizing and section: bounds, order and refusals. Published values: tests/reference."""

import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

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
    vapour_pressure_deficit_pa,
    vapour_pressure_pa,
    volume_m3_per_kg,
    wet_bulb_c,
)
from jobs.calc.moisture.meter import COMMON_MATERIALS, MATERIALS, corrected_mc, resistance_megohm
from jobs.calc.moisture.section import remaining_in_words, remaining_section
from jobs.calc.moisture.sizing import (
    Advice,
    blowers_needed,
    dehumidifier_pints_per_day,
    water_class,
)

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


def test_a_low_reading_in_warm_wood_means_no_less_than_no_water():
    assert corrected_mc(1, "mahogany_philippine", 60).mc_pct == 0


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


# Air

AIR_TEMPS_C = st.floats(-40, 80)
HUMIDITIES_PCT = st.floats(1, 100)


@given(AIR_TEMPS_C, AIR_TEMPS_C)
def test_warmer_air_holds_more_vapour(one_c, other_c):
    colder_c, warmer_c = sorted((one_c, other_c))

    assert saturation_pressure_pa(colder_c) <= saturation_pressure_pa(warmer_c)


def test_saturation_over_ice_and_over_water_meet_at_the_triple_point():
    below, above = saturation_pressure_pa(0.01 - 1e-9), saturation_pressure_pa(0.01)

    assert above == pytest.approx(below, rel=1e-5)
    assert above >= below


@given(AIR_TEMPS_C, HUMIDITIES_PCT)
def test_air_cooled_to_its_dew_point_is_saturated(temp_c, rh_pct):
    dew_c = dew_point_c(temp_c, rh_pct)

    assert dew_c <= temp_c + 1e-9
    # The two equations are 1e-5 apart where ice turns to water, and a dew point may fall in the gap.
    assert saturation_pressure_pa(dew_c) == pytest.approx(vapour_pressure_pa(temp_c, rh_pct), rel=2e-5)


@given(AIR_TEMPS_C, HUMIDITIES_PCT)
def test_relative_humidity_comes_back_from_the_vapour_pressure(temp_c, rh_pct):
    assert relative_humidity_pct(temp_c, vapour_pressure_pa(temp_c, rh_pct)) == pytest.approx(rh_pct, rel=1e-12)


@given(AIR_TEMPS_C, HUMIDITIES_PCT)
def test_vapour_held_and_vapour_lacking_make_up_saturation(temp_c, rh_pct):
    held_pa, lacking_pa = vapour_pressure_pa(temp_c, rh_pct), vapour_pressure_deficit_pa(temp_c, rh_pct)

    assert lacking_pa >= 0
    assert held_pa + lacking_pa == pytest.approx(saturation_pressure_pa(temp_c))


def test_grains_are_seven_thousand_times_the_ratio_and_rise_at_altitude():
    at_sea, aloft = grains_per_lb(20, 50), grains_per_lb(20, 50, 84_000)

    assert at_sea == 7000 * humidity_ratio(20, 50)
    assert aloft > at_sea


# Warm enough that a wick in even bone-dry air stands above freezing.
WICK_TEMPS_C = st.floats(18, 60)
PRESSURES_PA = st.floats(60_000, 105_000)
ALTITUDES_M = st.floats(-500, 5500)


@given(ALTITUDES_M, ALTITUDES_M)
def test_the_higher_the_thinner_the_air(one_m, other_m):
    lower_m, higher_m = sorted((one_m, other_m))

    assert standard_pressure_pa(higher_m) <= standard_pressure_pa(lower_m)
    assert standard_pressure_pa(0) == 101_325


@given(WICK_TEMPS_C, st.floats(0, 100), PRESSURES_PA)
def test_relative_humidity_comes_back_from_the_wet_bulb(temp_c, rh_pct, pressure_pa):
    wick_c = wet_bulb_c(temp_c, rh_pct, pressure_pa)

    assert 0 <= wick_c <= temp_c
    # At 0 % a wick a billionth of a kelvin too cold would have no air to cool it.
    assert relative_humidity_by_wet_bulb_pct(temp_c, min(wick_c + 2e-9, temp_c), pressure_pa) == pytest.approx(
        rh_pct, abs=1e-6
    )


@given(WICK_TEMPS_C, st.floats(0, 100), st.floats(0, 100), PRESSURES_PA)
def test_in_wetter_air_a_wick_stands_higher_but_not_below_the_dew_point(temp_c, one_pct, other_pct, pressure_pa):
    drier_pct, wetter_pct = sorted((one_pct, other_pct))

    drier, wetter = (wet_bulb_c(temp_c, each, pressure_pa) for each in (drier_pct, wetter_pct))

    assert drier <= wetter + 2e-9
    assert dew_point_c(temp_c, max(wetter_pct, 1)) <= wet_bulb_c(temp_c, max(wetter_pct, 1), pressure_pa) + 0.02


@given(WICK_TEMPS_C, st.floats(0, 100), st.floats(0.5, 20))
def test_warmer_or_wetter_air_holds_more_heat_and_takes_more_room(temp_c, rh_pct, more):
    ratio = humidity_ratio(temp_c, rh_pct)

    assert enthalpy_j_per_kg(temp_c + more, ratio) > enthalpy_j_per_kg(temp_c, ratio)
    assert enthalpy_j_per_kg(temp_c, ratio + more / 1000) > enthalpy_j_per_kg(temp_c, ratio)
    assert volume_m3_per_kg(temp_c + more, ratio) > volume_m3_per_kg(temp_c, ratio)
    assert volume_m3_per_kg(temp_c, ratio + more / 1000) > volume_m3_per_kg(temp_c, ratio)
    assert volume_m3_per_kg(temp_c, ratio, 84_000) > volume_m3_per_kg(temp_c, ratio)


def test_a_wick_as_warm_as_the_air_means_saturated_air():
    assert relative_humidity_by_wet_bulb_pct(24, 24) == pytest.approx(100)
    assert wet_bulb_c(24, 100) == 24


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: standard_pressure_pa(5501), "altitude_m must be -500 to 5500"),
        (lambda: humidity_ratio_by_wet_bulb(20, 20.1), "wet_bulb_c must not be above temp_c"),
        (lambda: humidity_ratio_by_wet_bulb(20, -0.1), "wet_bulb_c must be 0 to 60"),
        (lambda: relative_humidity_by_wet_bulb_pct(40, 5), "could cool it to"),
        (lambda: humidity_ratio_by_wet_bulb(math.nan, 5), "temp_c must be -100 to 200"),
        (lambda: wet_bulb_c(5, 20), "keep a wet wick at 0 C or above"),
        (lambda: wet_bulb_c(61, 20), "temp_c must be 0 to 60"),
        (lambda: enthalpy_j_per_kg(20, -0.01), "ratio must be 0 to 1"),
        (lambda: volume_m3_per_kg(20, 0.01, 40_000), "pressure_pa must be 50000"),
        (lambda: saturation_pressure_pa(-100.1), "temp_c must be -100 to 200"),
        (lambda: saturation_pressure_pa(math.nan), "temp_c must be -100 to 200"),
        (lambda: vapour_pressure_pa(20, 100.1), "rh_pct must be 0 to 100"),
        (lambda: vapour_pressure_deficit_pa(20, -1), "rh_pct must be 0 to 100"),
        (lambda: humidity_ratio(20, 50, 10_000), "pressure_pa must be 50000 to 120000"),
        (lambda: humidity_ratio(120, 100), "must give less vapour than pressure_pa"),
        (lambda: dew_point_c(20, 0), "rh_pct must be high enough for a dew point above -100 C"),
        (lambda: relative_humidity_pct(20, -1), "vapour_pa must be 0 to"),
    ],
)
def test_air_that_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


# Sizing

AREAS_M2 = st.floats(0, 500)


@given(AREAS_M2, AREAS_M2, st.integers(0, 20), st.integers(1, 20))
def test_blowers_are_whole_a_range_and_at_least_one_for_each_room(floor_m2, upper_m2, insets, rooms):
    advice = blowers_needed(wet_floor_m2=floor_m2, wet_upper_m2=upper_m2, insets=insets, rooms=rooms)

    assert rooms + insets <= advice.low <= advice.high
    assert isinstance(advice.low, int)
    assert isinstance(advice.high, int)


@given(AREAS_M2, AREAS_M2)
def test_more_wet_floor_never_takes_fewer_blowers(one_m2, other_m2):
    smaller_m2, larger_m2 = sorted((one_m2, other_m2))

    few, many = blowers_needed(wet_floor_m2=smaller_m2), blowers_needed(wet_floor_m2=larger_m2)

    assert few.low <= many.low
    assert few.high <= many.high


@pytest.mark.parametrize(
    ("low", "high", "unit", "text"),
    [(4, 5, "blowers", "4 to 5 blowers"), (1, 1, "blower", "1 blower"), (33.2, 33.2, "pints", "34 pints")],
)
def test_advice_reads_as_a_sentence_would_have_it(low, high, unit, text):
    assert Advice(low, high, unit, "", ()).text == text


@pytest.mark.parametrize("more", range(1, 60))
def test_the_noise_of_unit_conversion_takes_no_blower_more(more):
    advice = blowers_needed(wet_floor_m2=more * 50 * 0.3048**2)

    assert advice.high == 1 + more


def test_one_dry_room_takes_the_one_blower_of_the_room():
    assert blowers_needed(wet_floor_m2=0).text == "1 blower"


@given(st.floats(0.1, 1000), st.sampled_from([1, 2]))
def test_wetter_classes_ask_for_more_pints(volume_m3, water):
    milder, wetter = dehumidifier_pints_per_day(volume_m3, water), dehumidifier_pints_per_day(volume_m3, water + 1)

    assert 0 < milder.low < wetter.low


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: blowers_needed(wet_floor_m2=-1), "wet_floor_m2 must be 0 to 10000"),
        (lambda: blowers_needed(wet_floor_m2=1, wet_upper_m2=math.nan), "wet_upper_m2 must be 0 to 10000"),
        (lambda: blowers_needed(wet_floor_m2=1, insets=-1), "insets must be 0 to 1000"),
        (lambda: blowers_needed(wet_floor_m2=1, rooms=0), "rooms must be 1 to 1000"),
        (lambda: water_class(11, 10, is_deep=False), "wet_area_m2 must be 0 to 10"),
        (lambda: water_class(0, 0, is_deep=False), "total_area_m2 must be 0.01 to 10000"),
        (lambda: dehumidifier_pints_per_day(0, 2), "volume_m3 must be 0.1 to 10000"),
        (lambda: dehumidifier_pints_per_day(50, 5), "water must be 1, 2, 3 or 4, got 5"),
    ],
)
def test_sizes_that_cannot_be_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()


# Section

DEPTHS_MM = st.floats(1, 1000)
SHARES = st.floats(0, 1)


@given(DEPTHS_MM, SHARES, st.sampled_from([1, 2]))
def test_stiffness_goes_before_strength_and_strength_before_area(depth_mm, share, soft_faces):
    left = remaining_section(depth_mm, share * depth_mm, soft_faces=soft_faces)

    assert 0 <= left.moment_of_inertia <= left.section_modulus <= left.area <= 1


@given(DEPTHS_MM, SHARES, SHARES)
def test_more_soft_wood_never_leaves_more_section(depth_mm, one, other):
    less, more = sorted((one, other))

    assert remaining_section(depth_mm, more * depth_mm).area <= remaining_section(depth_mm, less * depth_mm).area


@given(DEPTHS_MM, st.floats(0, 0.5))
def test_a_layer_on_each_of_two_faces_counts_as_one_twice_as_deep(depth_mm, share):
    both = remaining_section(depth_mm, share * depth_mm, soft_faces=2)
    one = remaining_section(depth_mm, 2 * share * depth_mm)

    assert both.section_modulus == pytest.approx(one.section_modulus, abs=1e-12)


def test_sound_wood_is_all_there():
    left = remaining_section(38.1, 0)

    assert (left.area, left.section_modulus, left.moment_of_inertia) == (1, 1, 1)


def test_what_is_left_is_said_in_the_units_of_the_shop():
    us = remaining_in_words(19.05, 6.35, units="us")
    metric = remaining_in_words(19.05, 6.35, units="metric", is_panel=True)

    assert us == (
        'At most about 44 % of its bending strength and 30 % of its stiffness are left (3/4" member, 1/4" soft), '
        "counting soft wood as nothing. Structural members: ask an engineer."
    )
    assert "(19 mm member, 6 mm soft)" in metric
    assert "For plywood this is rough" in metric


def test_a_member_soft_all_through_has_nothing_left():
    words = remaining_in_words(38.1, 19.05, units="us", soft_faces=2)

    assert words.startswith('Nothing sound is left (1 1/2" member, 3/4" soft on each of two faces).')


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: remaining_section(0, 0), "depth_mm must be 1 to 1000"),
        (lambda: remaining_section(20, 21), "soft_mm must be 0 to 20"),
        (lambda: remaining_section(20, math.nan), "soft_mm must be 0 to 20"),
        (lambda: remaining_section(20, 1, soft_faces=3), "soft_faces must be 1 or 2"),
        (lambda: remaining_in_words(20, 1, units="feet"), "units must be"),
    ],
)
def test_sections_that_cannot_be_are_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
