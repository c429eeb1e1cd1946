"""Faces of a coach, places on them, and the body plan."""

import math
from itertools import combinations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.faces import (
    FACE_NAMES,
    Face,
    FaceSize,
    Place,
    check_place,
    describe_place,
    faces_of,
    plan_extent,
    unfold,
)
from jobs.calc.lengths import parse_length_mm, print_length

COACH = {"length_mm": 9000.0, "width_mm": 2500.0, "height_mm": 2200.0}
SIZES = {size.face: size for size in faces_of(**COACH)}
# What the stored coach may measure.
COACHES = st.fixed_dictionaries(
    {
        "length_mm": st.floats(min_value=1000, max_value=25_000),
        "width_mm": st.floats(min_value=1000, max_value=4000),
        "height_mm": st.floats(min_value=500, max_value=5000),
    }
)


def place_on(face, left=0.1, top=0.1, width=0.1, height=0.1):
    """A place given in shares of its face."""
    size = SIZES[face]
    return Place(face, left * size.width_mm, top * size.height_mm, width * size.width_mm, height * size.height_mm)


def test_the_faces_of_a_box_have_its_dimensions():
    assert faces_of(**COACH) == (
        FaceSize(Face.ROOF, 9000, 2500),
        FaceSize(Face.FRONT, 2500, 2200),
        FaceSize(Face.REAR, 2500, 2200),
        FaceSize(Face.ROAD_SIDE, 9000, 2200),
        FaceSize(Face.CURB_SIDE, 9000, 2200),
        FaceSize(Face.FLOOR, 9000, 2500),
    )


@given(COACHES)
def test_the_faces_add_up_to_the_surface_of_the_box(coach):
    length, width, height = coach.values()

    area = sum(size.width_mm * size.height_mm for size in faces_of(**coach))

    assert area == pytest.approx(2 * (length * width + width * height + height * length))


@pytest.mark.parametrize("name", list(COACH))
@pytest.mark.parametrize("value", [0.0, -1.0, math.nan, math.inf])
def test_a_coach_without_real_dimensions_is_refused_by_name(name, value):
    with pytest.raises(ValueError, match=name):
        faces_of(**COACH | {name: value})


def test_every_face_has_a_plain_name():
    assert set(FACE_NAMES) == set(Face)
    assert all(name.replace(" ", "").isalpha() for name in FACE_NAMES.values())


def test_a_place_knows_its_area_its_edges_and_its_long_edge():
    place = Place(Face.ROOF, 100, 100, 2000, 500)

    assert place.area_m2 == pytest.approx(1.0)
    assert place.perimeter_m == pytest.approx(5.0)
    assert place.long_edge_m == pytest.approx(2.0)


@pytest.mark.parametrize("face", list(Face))
def test_a_place_may_cover_its_whole_face(face):
    assert check_place(place_on(face, 0, 0, 1, 1), tuple(SIZES.values())) is None


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"width_mm": 0}, "above zero"),
        ({"height_mm": -5}, "above zero"),
        ({"width_mm": math.nan}, "above zero"),
        ({"left_mm": -1}, "begins before the edge of the curb side wall"),
        ({"top_mm": math.nan}, "begins before the edge of the curb side wall"),
        ({"left_mm": 8999}, "reaches past the edge of the curb side wall"),
        ({"height_mm": 2200}, "reaches past the edge of the curb side wall"),
        ({"width_mm": math.inf}, "reaches past the edge of the curb side wall"),
    ],
)
def test_a_place_off_its_face_is_refused_in_words(changes, words):
    place = Place(**{"face": Face.CURB_SIDE, "left_mm": 10, "top_mm": 10, "width_mm": 500, "height_mm": 500} | changes)

    with pytest.raises(ValueError, match=words):
        check_place(place, tuple(SIZES.values()))


@given(COACHES, st.floats(min_value=0, max_value=0.9))
def test_a_place_typed_from_the_printed_measures_of_its_face_fits(coach, share):
    sizes = faces_of(**coach)
    length_mm = coach["length_mm"]
    left, width = (
        parse_length_mm(print_length(mm, units="us"), units="us") for mm in (length_mm * share, length_mm * (1 - share))
    )

    assert check_place(Place(Face.ROOF, left, 0, width, 100), sizes) is None


@given(COACHES, st.floats(min_value=0, max_value=500))
def test_no_two_faces_of_the_body_plan_overlap(coach, gap_mm):
    for one, other in combinations(unfold(**coach, gap_mm=gap_mm), 2):
        beside = one.x_mm + one.width_mm <= other.x_mm + 1e-6 or other.x_mm + other.width_mm <= one.x_mm + 1e-6
        above = one.y_mm + one.height_mm <= other.y_mm + 1e-6 or other.y_mm + other.height_mm <= one.y_mm + 1e-6
        assert beside or above, (one, other)


@given(COACHES)
def test_the_body_plan_draws_every_face_once_in_its_real_size_within_the_extent(coach):
    faces = unfold(**coach)
    width_mm, height_mm = plan_extent(faces)

    assert [FaceSize(face.face, face.width_mm, face.height_mm) for face in faces] == list(faces_of(**coach))
    assert min(face.x_mm for face in faces) == min(face.y_mm for face in faces) == 0
    assert all(face.x_mm + face.width_mm <= width_mm and face.y_mm + face.height_mm <= height_mm for face in faces)


def test_the_body_plan_has_the_roof_between_the_sides_and_the_ends_at_their_ends():
    faces = {face.face: face for face in unfold(**COACH)}

    assert faces[Face.ROAD_SIDE].y_mm < faces[Face.ROOF].y_mm < faces[Face.CURB_SIDE].y_mm < faces[Face.FLOOR].y_mm
    assert faces[Face.FRONT].x_mm == faces[Face.ROOF].x_mm
    assert faces[Face.REAR].x_mm + faces[Face.REAR].width_mm == faces[Face.ROOF].x_mm + faces[Face.ROOF].width_mm


@pytest.mark.parametrize("length_mm", [5000.0, 7000.0, 9000.0, 12_000.0])
def test_the_body_plan_of_a_usual_coach_is_no_wider_than_the_coach_is_long(length_mm):
    width_mm, height_mm = plan_extent(unfold(length_mm=length_mm, width_mm=2500.0, height_mm=2200.0))

    assert width_mm == max(length_mm, 2 * 2500 + 250)
    assert height_mm == pytest.approx(2200 * 3 + 2500 * 2 + 4 * 250)


def test_a_gap_below_zero_is_refused():
    with pytest.raises(ValueError, match="gap_mm"):
        unfold(**COACH, gap_mm=-1)


@pytest.mark.parametrize(
    ("place", "words"),
    [
        (place_on(Face.ROOF, 0.05, 0.05), "the roof, near the front on the road side"),
        (place_on(Face.ROOF, 0.85, 0.85), "the roof, near the rear on the curb side"),
        (place_on(Face.ROOF, 0.45, 0.45), "the roof, in the middle"),
        (place_on(Face.ROOF, 0.45, 0.05), "the roof, midway along on the road side"),
        (place_on(Face.ROOF, 0, 0, 1, 0.1), "the roof, along most of the length on the road side"),
        (place_on(Face.ROOF, 0, 0, 0.1, 1), "the roof, near the front across most of the width"),
        (place_on(Face.ROOF, 0, 0, 1, 1), "the whole roof"),
        (place_on(Face.FLOOR, 0, 0, 0.8, 0.8), "most of the floor"),
        (place_on(Face.FLOOR, 0.85, 0.45), "the floor, near the rear in the middle"),
        (place_on(Face.CURB_SIDE, 0.85, 0.85), "the curb side wall, low down, toward the rear"),
        (place_on(Face.ROAD_SIDE, 0.45, 0.05), "the road side wall, high up, in the middle"),
        (place_on(Face.ROAD_SIDE, 0, 0.9, 1, 0.1), "the road side wall, low down, along most of the length"),
        (place_on(Face.FRONT, 0.05, 0.45), "the front wall, halfway up, toward the road side"),
        (place_on(Face.REAR, 0.85, 0.05, 0.1, 0.9), "the rear wall, over most of the height, toward the curb side"),
    ],
)
def test_a_place_is_described_in_plain_words(place, words):
    assert describe_place(place, SIZES[place.face]) == words


SHARES = st.floats(min_value=0.01, max_value=0.5)


@given(st.sampled_from(list(Face)), SHARES, SHARES, SHARES, SHARES)
def test_every_place_has_a_description_that_names_its_face(face, left, top, width, height):
    words = describe_place(place_on(face, left, top, width, height), SIZES[face])

    assert FACE_NAMES[face] in words
    assert words.startswith("the ")
