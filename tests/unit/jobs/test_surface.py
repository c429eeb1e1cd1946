"""Moisture between stations: honest about what no station vouches for."""

import math

import numpy as np
import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from jobs.calc.moisture.surface import (
    HATCH_CLASSES,
    StationValue,
    class_edges_pct,
    class_words,
    hatch_class,
    moisture_at,
    moisture_field,
)

WIDTH, HEIGHT, REACH = 4000.0, 2000.0, 600.0
STATIONS = st.builds(
    StationValue,
    left_mm=st.floats(min_value=0, max_value=WIDTH),
    top_mm=st.floats(min_value=0, max_value=HEIGHT),
    mc_pct=st.floats(min_value=0, max_value=200),
)
SOME_STATIONS = st.lists(STATIONS, min_size=1, max_size=8)
LIMITS = st.floats(min_value=1, max_value=26)


def value_at(stations, left, top, reach=REACH):
    return float(moisture_at(stations, np.array([left]), np.array([top]), reach_mm=reach)[0])


def distances(stations, left, top):
    return [math.hypot(each.left_mm - left, each.top_mm - top) for each in stations]


@given(SOME_STATIONS, st.floats(min_value=0, max_value=WIDTH), st.floats(min_value=0, max_value=HEIGHT))
def test_a_value_never_leaves_the_range_of_the_stations_in_reach(stations, left, top):
    near = [s.mc_pct for s, d in zip(stations, distances(stations, left, top), strict=True) if d < REACH]
    assume(near)
    # At a hair's breadth inside the reach a weight may round to zero.
    assume(all(abs(d - REACH) > 1e-6 for d in distances(stations, left, top)))

    value = value_at(stations, left, top)

    assert min(near) <= value <= max(near)


@given(SOME_STATIONS)
def test_at_a_station_the_field_has_its_value(stations):
    places = {(each.left_mm, each.top_mm) for each in stations}
    assume(len(places) == len(stations))
    assume(all(min([9.0, *(d for d in distances(stations, *p) if d > 0)]) > 1e-3 for p in places))

    values = [value_at(stations, each.left_mm, each.top_mm) for each in stations]

    assert values == [pytest.approx(each.mc_pct) for each in stations]


@given(SOME_STATIONS, st.floats(min_value=0, max_value=WIDTH), st.floats(min_value=0, max_value=HEIGHT))
def test_a_place_is_drawn_exactly_when_a_station_is_in_reach(stations, left, top):
    nearest = min(distances(stations, left, top))
    assume(abs(nearest - REACH) > 1e-6)

    value = value_at(stations, left, top)

    assert math.isnan(value) == (nearest > REACH)


@given(SOME_STATIONS)
def test_mirrored_stations_give_the_mirrored_field(stations):
    mirrored = [StationValue(WIDTH - each.left_mm, each.top_mm, each.mc_pct) for each in stations]
    places = [(left, top) for left in (133.0, 1711.0, 3003.0) for top in (88.0, 1201.0)]
    assume(all(abs(d - REACH) > 1e-3 and d > 1e-3 for p in places for d in distances(stations, *p)))

    straight = [value_at(stations, left, top) for left, top in places]
    across = [value_at(mirrored, WIDTH - left, top) for left, top in places]

    assert across == pytest.approx(straight, nan_ok=True, rel=1e-6)


@given(SOME_STATIONS)
def test_the_order_of_the_stations_does_not_matter(stations):
    field = moisture_field(stations, WIDTH, HEIGHT, cell_mm=500)

    other = moisture_field(stations[::-1], WIDTH, HEIGHT, cell_mm=500)

    np.testing.assert_allclose(field.mc_pct, other.mc_pct, rtol=1e-9)


def test_halfway_between_two_stations_lies_their_mean():
    stations = [StationValue(1000, 500, 20.0), StationValue(1400, 500, 30.0)]

    value = value_at(stations, 1200, 500)

    assert value == pytest.approx(25.0)


def test_a_station_comes_into_reach_without_a_jump():
    stations = [StationValue(0, 0, 10.0), StationValue(1000, 0, 90.0)]

    before, after = value_at(stations, 399.0, 0), value_at(stations, 401.0, 0)

    assert before == 10.0
    assert 10.0 < after < 10.01


def test_stations_that_share_a_spot_are_averaged_there():
    stations = [StationValue(500, 500, 20.0), StationValue(500, 500, 30.0), StationValue(900, 500, 90.0)]

    value = value_at(stations, 500, 500)

    assert value == 25.0


def test_the_grid_takes_in_all_four_edges_and_a_station_in_the_corner():
    field = moisture_field([StationValue(WIDTH, HEIGHT, 33.0)], WIDTH, HEIGHT)

    assert (field.left_mm[0], field.left_mm[-1], field.top_mm[0], field.top_mm[-1]) == (0, WIDTH, 0, HEIGHT)
    assert field.mc_pct.shape == (41, 81)
    assert field.mc_pct[-1, -1] == 33.0
    assert math.isnan(field.mc_pct[0, 0])


def test_the_measured_share_is_about_the_circle_around_a_lone_station():
    field = moisture_field([StationValue(2000, 1000, 25.0)], WIDTH, HEIGHT, cell_mm=10)

    assert field.measured_share == pytest.approx(math.pi * REACH**2 / (WIDTH * HEIGHT), rel=0.02)


def test_a_face_without_stations_is_all_gap():
    field = moisture_field([], WIDTH, HEIGHT)

    assert field.measured_share == 0


@pytest.mark.parametrize(
    ("station", "sizes", "options", "message"),
    [
        (StationValue(0, 0, 20), (0, 100), {}, "width_mm must be above 0"),
        (StationValue(0, 0, 20), (100, math.nan), {}, "height_mm must be above 0"),
        (StationValue(0, 0, 20), (100, 100), {"cell_mm": 0}, "cell_mm must be above 0"),
        (StationValue(0, 0, 20), (100, 100), {"cell_mm": 0.01}, "cell_mm must be at least"),
        (StationValue(0, 0, 20), (100, 100), {"reach_mm": -1}, "reach_mm must be above 0"),
        (StationValue(101, 0, 20), (100, 100), {}, "left_mm of a station must be 0 to 100"),
        (StationValue(0, -1, 20), (100, 100), {}, "top_mm of a station must be 0 to 100"),
        (StationValue(0, 0, -1), (100, 100), {}, "mc_pct of a station must be 0 or more"),
        (StationValue(0, 0, math.nan), (100, 100), {}, "mc_pct of a station must be 0 or more"),
    ],
)
def test_what_cannot_be_is_refused(station, sizes, options, message):
    with pytest.raises(ValueError, match=message):
        moisture_field([station], *sizes, **options)


@pytest.mark.parametrize(
    ("mc_pct", "number"),
    [(0, 0), (19, 0), (19.1, 1), (23, 1), (23.1, 2), (30, 2), (30.1, 3), (40, 3), (40.1, 4), (180, 4)],
)
def test_the_hatch_classes_for_a_limit_of_nineteen(mc_pct, number):
    assert hatch_class(mc_pct, 19) == number


@given(LIMITS, st.floats(min_value=0, max_value=200), st.floats(min_value=0, max_value=200))
def test_wetter_wood_is_never_in_a_lower_class(limit, one, other):
    assert hatch_class(min(one, other), limit) <= hatch_class(max(one, other), limit)


@given(LIMITS)
def test_class_nought_ends_at_the_limit(limit):
    assert hatch_class(limit, limit) == 0
    assert hatch_class(math.nextafter(limit, 99), limit) == 1
    assert list(class_edges_pct(limit)) == sorted(class_edges_pct(limit))


def test_every_class_has_words_of_its_own_with_its_numbers():
    words = [class_words(number, 19) for number in HATCH_CLASSES]

    assert len(set(words)) == 5
    assert [end in text for end, text in zip(("19 %", "23 %", "30 %", "40 %", "40 %"), words, strict=True)] == [
        True
    ] * 5


@pytest.mark.parametrize("limit", [0, -1, 26.5, math.nan])
def test_a_limit_out_of_range_is_refused(limit):
    with pytest.raises(ValueError, match="limit_pct must be above 0 and at most 26"):
        hatch_class(20, limit)


@pytest.mark.parametrize("number", [-1, 5])
def test_a_class_that_does_not_exist_is_refused(number):
    with pytest.raises(ValueError, match="number must be 0 to 4"):
        class_words(number, 19)


@pytest.mark.parametrize("mc_pct", [-1, math.nan, math.inf])
def test_a_moisture_that_cannot_be_is_refused(mc_pct):
    with pytest.raises(ValueError, match="mc_pct must be 0 or more"):
        hatch_class(mc_pct, 19)
