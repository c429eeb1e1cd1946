"""Hours by the length of member worked on follow the size of the damage, and rest on the same length as the timber."""

import re

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from estimates.calc.geometry import Members, Rectangle, Run
from estimates.calc.needs import take_off
from estimates.calc.recipe import Stuff, Use, units_of
from estimates.calc.site import Site, cut_at
from estimates.calc.takeoff import labour_hours

FT, IN = 304.8, 25.4


@given(st.floats(1, 24), st.floats(1, 24), st.floats(0, 10), st.floats(0.01, 5), st.sampled_from(["place", "whole"]))
def test_hours_on_a_rail_grow_with_its_length_and_by_nothing_else(one_ft, other_ft, setup_hours, hours_a_foot, extent):
    """On a side as long as the rail, so that its whole length is the rail's own."""
    short_ft, long_ft = sorted([one_ft, other_ft])
    assume(long_ft - short_ft > 0.01)

    def hours(length_ft):
        rail = Rectangle(0, 0, length_ft * FT, 6 * IN)
        where = Site(rail, Rectangle(0, 0, length_ft * FT, 8 * FT), Members(16 * IN, 0, Run.ACROSS), False, "us")
        cut = cut_at(where, extent)
        assert cut.is_rail
        return labour_hours(setup_hours, hours_a_foot, units_of("member_ft", cut))

    assert hours(short_ft) < hours(long_ft)
    by_length = [hours(each) - setup_hours for each in (short_ft, long_ft)]
    assert by_length[1] / by_length[0] == pytest.approx(long_ft / short_ft)


def test_a_rail_of_28_ft_takes_three_and_a_half_times_the_hours_by_length_of_one_of_8_ft():
    side = Rectangle(0, 0, 30 * FT, 8 * FT)
    rails = [Rectangle(0, 0, feet * FT, 6 * IN) for feet in (8, 28)]
    cuts = [cut_at(Site(each, side, Members(16 * IN, 0, Run.ACROSS), False, "us"), "place") for each in rails]

    assert [units_of("member", cut) for cut in cuts] == [1, 1]
    short, long = (labour_hours(0, 0.3, units_of("member_ft", cut)) for cut in cuts)
    assert (short, long / short) == pytest.approx((2.4, 3.5))


@given(st.floats(0, 20), st.floats(0, 4), st.floats(0.5, 4), st.floats(1.1, 4), st.sampled_from(list(Run)))
def test_a_stick_for_each_member_is_as_long_as_what_is_worked_on(left, top, width, height, run):
    """The hours and the timber rest on the same length: all pieces together are the members worked on."""
    cut = cut_at(
        Site(
            Rectangle(left * FT, top * FT, width * FT, height * FT),
            Rectangle(0, 0, 24 * FT, 8 * FT),
            Members(16 * IN, 0, run, 1.5 * IN),
            False,
            "us",
        ),
        "place",
    )

    bought = take_off(Stuff("stick", "stick", 1, length_mm=24 * FT, stock=((24 * FT, 1.0),)), Use("member"), cut)

    (said,) = re.findall(r"([\d.]+) ft in all", bought[0].words)
    assert float(said) == pytest.approx(units_of("member_ft", cut), abs=0.051), "said to the tenth"
