"""What a place measures, and the framing it crosses and is cut back to."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.geometry import Members, Rectangle, Run, Side, extend_to_members, measure, members_crossed
from jobs.calc.faces import Face, FaceSize, Place

ROOF = FaceSize(Face.ROOF, 6000.0, 2400.0)
RAFTERS = Members(406.4, 0.0, Run.ACROSS)
STRINGERS = Members(600.0, 300.0, Run.ALONG)


def place(left_mm, top_mm, width_mm, height_mm):
    return Place(Face.ROOF, left_mm, top_mm, width_mm, height_mm)


def on_face_edges(measured):
    return {edge.side for edge in measured.edges if edge.is_on_face_edge}


@st.composite
def places(draw):
    left, right = sorted(draw(st.lists(st.integers(0, 6000), min_size=2, max_size=2, unique=True)))
    top, bottom = sorted(draw(st.lists(st.integers(0, 2400), min_size=2, max_size=2, unique=True)))
    return place(left, top, right - left, bottom - top)


members = st.builds(Members, st.floats(100, 3000), st.floats(0, 2400), st.sampled_from(Run), st.floats(0, 90))


def test_a_place_in_a_corner_has_two_edges_on_the_edge_of_its_face():
    measured = measure(place(0, 0, 900, 2100), ROOF)

    assert measured.area_m2 == pytest.approx(1.89)
    assert on_face_edges(measured) == {Side.LEFT, Side.TOP}
    assert (measured.face_edge_mm, measured.inner_edge_mm, measured.perimeter_mm) == (3000, 3000, 6000)


def test_a_place_over_a_whole_face_meets_nothing_that_stays():
    measured = measure(place(0, 0, 6000, 2400), ROOF)

    assert on_face_edges(measured) == set(Side)
    assert measured.inner_edge_mm == 0


def test_an_edge_within_two_millimetres_of_the_face_s_edge_lies_on_it():
    assert on_face_edges(measure(place(1.6, 3.0, 900, 2395.5), ROOF)) == {Side.LEFT, Side.BOTTOM}


def test_rafters_crossed_are_counted_along_the_roof_with_their_length_in_the_place():
    crossed = members_crossed(place(400, 500, 900, 700), ROOF, RAFTERS)

    assert [member.at_mm for member in crossed] == pytest.approx([406.4, 812.8, 1219.2])
    assert {member.length_mm for member in crossed} == {700}


def test_members_along_the_face_are_counted_down_it():
    crossed = members_crossed(place(400, 850, 1200, 700), ROOF, STRINGERS)

    assert [(member.at_mm, member.length_mm) for member in crossed] == [(900, 1200), (1500, 1200)]


def test_a_wide_member_is_crossed_before_its_centre_line():
    wide = Members(406.4, 0.0, Run.ACROSS, member_mm=38.1)
    beside = place(430.0, 0, 350, 700)

    assert members_crossed(beside, ROOF, wide) == ()
    assert len(members_crossed(place(420.0, 0, 360, 700), ROOF, wide)) == 1
    assert members_crossed(place(420.0, 0, 360, 700), ROOF, RAFTERS) == ()


def test_rot_is_cut_back_to_the_nearest_rafters():
    extended = extend_to_members(place(500, 300, 600, 700), ROOF, RAFTERS)

    assert extended.cut.left_mm == pytest.approx(406.4)
    assert extended.cut.width_mm == pytest.approx(2 * 406.4)
    assert (extended.cut.top_mm, extended.cut.height_mm) == (300, 700)
    assert (extended.before_mm, extended.after_mm) == pytest.approx((93.6, 119.2))


def test_a_cut_back_past_the_last_rafter_ends_at_the_edge_of_the_face():
    extended = extend_to_members(place(5800, 300, 150, 700), ROOF, RAFTERS)

    assert extended.cut.left_mm == pytest.approx(14 * 406.4)
    assert extended.cut.left_mm + extended.cut.width_mm == pytest.approx(6000)


def test_an_edge_that_has_landed_to_typing_precision_stays():
    extended = extend_to_members(place(407.5, 300, 405.0, 700), ROOF, RAFTERS)
    early = extend_to_members(place(405.0, 300, 408.0, 700), ROOF, RAFTERS)

    assert extended.cut == Rectangle(406.4, 300, pytest.approx(406.4), 700)
    assert early.cut == Rectangle(405.0, 300, 408.0, 700)


@given(places(), members)
def test_a_cut_back_covers_the_place_stays_on_the_face_and_lands(where, framing):
    cut = extend_to_members(where, ROOF, framing).cut

    extent = 2400 if framing.run == Run.ALONG else 6000
    assert -1e-6 <= cut.left_mm <= where.left_mm
    assert -1e-6 <= cut.top_mm <= where.top_mm
    assert where.left_mm + where.width_mm - 1e-6 <= cut.left_mm + cut.width_mm <= 6000 + 1e-6
    assert where.top_mm + where.height_mm - 1e-6 <= cut.top_mm + cut.height_mm <= 2400 + 1e-6
    start, size = (cut.top_mm, cut.height_mm) if framing.run == Run.ALONG else (cut.left_mm, cut.width_mm)
    for edge in (start, start + size):
        steps = (edge - framing.first_member_mm) / framing.spacing_mm
        off_mm = min(abs(steps - round(steps)) * framing.spacing_mm if steps > -0.5 else math.inf, edge, extent - edge)
        assert off_mm <= 2.0 + 1e-6


@given(places(), members)
def test_cutting_back_once_is_enough(where, framing):
    cut = extend_to_members(where, ROOF, framing).cut

    again = extend_to_members(cut, ROOF, framing)

    assert again.before_mm == pytest.approx(0, abs=1e-6)
    assert again.after_mm == pytest.approx(0, abs=1e-6)


@given(places(), members)
def test_a_larger_member_or_place_never_crosses_fewer(where, framing):
    thin = Members(framing.spacing_mm, framing.first_member_mm, framing.run)

    assert len(members_crossed(where, ROOF, thin)) <= len(members_crossed(where, ROOF, framing))
    assert len(members_crossed(where, ROOF, thin)) <= len(members_crossed(place(0, 0, 6000, 2400), ROOF, thin))


@pytest.mark.parametrize(
    ("where", "framing", "words"),
    [
        (place(0, 0, 0, 10), RAFTERS, "width_mm of the place must be above 0, to 6000 as the face, got 0"),
        (place(0, 0, 10, math.nan), RAFTERS, "height_mm of the place"),
        (place(5995, 0, 10, 10), RAFTERS, "left_mm of the place must be 0 to 5990, got 5995"),
        (place(0, -10, 10, 10), RAFTERS, "top_mm of the place must be 0 to 2390, got -10"),
        (place(0, 0, 10, 10), Members(0, 0, Run.ACROSS), "spacing_mm must be 25 to 30000, got 0"),
        (place(0, 0, 10, 10), Members(400, 7000, Run.ACROSS), "first_member_mm must be 0 to 6000, got 7000"),
        (place(0, 0, 10, 10), Members(400, 0, Run.ACROSS, 500), "member_mm must be 0 to 400, got 500"),
    ],
)
def test_absurd_sizes_are_refused_by_name(where, framing, words):
    with pytest.raises(ValueError, match=words):
        members_crossed(where, ROOF, framing)


def test_a_face_of_no_size_is_refused_by_name():
    with pytest.raises(ValueError, match="width_mm of the face must be above 0"):
        measure(place(0, 0, 10, 10), FaceSize(Face.ROOF, 0, 2400))
