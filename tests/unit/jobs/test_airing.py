"""Air drawn through a cavity: the balance of water and heat, and how it is put."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.air import humidity_ratio, relative_humidity_pct, vapour_pressure_pa, wet_bulb_c
from jobs.calc.moisture.airing import FLOWS_M3_PER_H, airing, airing_words

TEMPS_C = st.floats(18, 45)
HUMIDITIES_PCT = st.floats(5, 95)
FLOWS = st.floats(1, 10_000)
PRESSURES_PA = st.floats(60_000, 105_000)


@given(TEMPS_C, HUMIDITIES_PCT, PRESSURES_PA)
def test_air_that_cools_to_its_own_wet_bulb_takes_no_heat_from_elsewhere(temp_c, rh_pct, pressure_pa):
    """What evaporates takes its heat from the air itself: the two published equations hold each other."""
    cavity_air = (wet_bulb_c(temp_c, rh_pct, pressure_pa), 100.0)

    found = airing((temp_c, rh_pct), cavity_air, flow_m3_per_h=100, pressure_pa=pressure_pa)

    assert found.water_kg_per_h > 0
    assert abs(found.heat_w) < 0.1  # of some hundred watts that evaporating takes


@given(TEMPS_C, HUMIDITIES_PCT, TEMPS_C, HUMIDITIES_PCT, FLOWS, PRESSURES_PA)
def test_water_goes_from_the_wetter_air_to_the_drier_in_proportion_to_the_flow(
    shop_c, shop_pct, cavity_c, cavity_pct, flow, pressure_pa
):
    shop_air, cavity_air = (shop_c, shop_pct), (cavity_c, cavity_pct)

    one, two = (airing(shop_air, cavity_air, flow_m3_per_h=each, pressure_pa=pressure_pa) for each in (flow, 2 * flow))

    gained = humidity_ratio(*cavity_air, pressure_pa) - humidity_ratio(*shop_air, pressure_pa)
    assert one.water_kg_per_h == pytest.approx(gained * one.dry_air_kg_per_h)
    assert two.water_kg_per_h == pytest.approx(2 * one.water_kg_per_h)
    assert two.heat_w == pytest.approx(2 * one.heat_w)


@given(TEMPS_C, HUMIDITIES_PCT, st.floats(0.5, 20))
def test_warming_the_air_on_its_way_takes_heat(temp_c, rh_pct, warmer_k):
    same_water_pct = relative_humidity_pct(temp_c + warmer_k, vapour_pressure_pa(temp_c, rh_pct))

    found = airing((temp_c, rh_pct), (temp_c + warmer_k, same_water_pct), flow_m3_per_h=100)

    # As much as so much air and its vapour take up for each kelvin.
    wanted_w = found.dry_air_kg_per_h * (1006 + 1860 * humidity_ratio(temp_c, rh_pct)) * warmer_k / 3600
    assert found.heat_w == pytest.approx(wanted_w, rel=1e-6)


# The figures were worked out apart from the code, by the same published equations on a sheet of their own.
DRIES = (
    "100 cfm of the shop's air drawn through the cavity carries out about 2.2 lb of water an hour and "
    "takes up about 1,900 Btu of heat an hour, if it leaves the cavity as the air there was measured."
)
BRINGS_HEAT = (
    "100 m³/h of the shop's air drawn through the cavity carries out about 0.35 kg of water an hour and "
    "brings in about 88 W of heat, if it leaves the cavity as the air there was measured."
)
WETS = (
    "The shop's air holds more water than the cavity's: 100 cfm of it drawn through would leave about 3.5 lb "
    "of water in there an hour, if it leaves the cavity as the air there was measured. "
    "Airing would wet it: dry the shop's air first."
)
NEITHER = (
    "The shop's air holds as much water as the cavity's, as far as a hygrometer can tell: drawing it through "
    "would neither dry nor wet much, if it leaves the cavity as the air there was measured."
)


@pytest.mark.parametrize(
    ("shop_air", "cavity_air", "units", "words"),
    [
        ((24.0, 40.0), (22.0, 75.0), "us", DRIES),
        ((30.0, 30.0), (20.0, 75.0), "metric", BRINGS_HEAT),
        ((27.0, 75.0), (20.0, 60.0), "us", WETS),
        ((21.0, 50.0), (20.0, 54.0), "us", NEITHER),
    ],
)
def test_it_is_put_in_words(shop_air, cavity_air, units, words):
    assert airing_words(shop_air, cavity_air, units=units) == words


def test_three_points_of_humidity_are_what_a_hygrometer_may_be_off():
    unsure, sure = (airing((20.0, 50.0), (20.0, each), flow_m3_per_h=100) for each in (52.9, 53.2))

    assert (unsure.is_sure, sure.is_sure) == (False, True)


def test_saturated_air_is_no_trouble():
    assert airing((20.0, 100.0), (20.0, 100.0), flow_m3_per_h=100).water_kg_per_h == 0


def test_a_hundred_cubic_feet_a_minute_in_metres():
    assert FLOWS_M3_PER_H["us"] == pytest.approx(169.9, abs=0.01)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: airing((20, 50), (20, 50), flow_m3_per_h=-1), "flow_m3_per_h must be 0 to 100000"),
        (lambda: airing((20, 101), (20, 50), flow_m3_per_h=1), "rh_pct must be 0 to 100"),
        (lambda: airing((20, 50), (math.nan, 50), flow_m3_per_h=1), "temp_c must be -100 to 200"),
        (lambda: airing_words((20, 50), (20, 50), units="feet"), "units must be 'us' or 'metric'"),
    ],
)
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
