"""What a recipe's line takes at a place: how far it reaches, how it is counted, and the words for it."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.geometry import Members, Rectangle, Run
from estimates.calc.needs import stick_joints, take_off
from estimates.calc.recipe import Stuff, Use, units_of, units_words
from estimates.calc.site import Extent, Site, cut_at
from estimates.calc.takeoff import Coverage

FT, IN = 304.8, 25.4
ROOF = Rectangle(0, 0, 24 * FT, 8 * FT)

DECK = Stuff("sheet", "sheet of 4 × 8 ft", 1, 4 * FT, 8 * FT)
TIMBER = Stuff("stick", "8 ft stick", 1, length_mm=8 * FT, stock=((8 * FT, 7.4), (12 * FT, 11.6)))
SHORT = Stuff("stick", "5 ft stick", 1, length_mm=5 * FT, stock=((5 * FT, 4.0),))
MEMBRANE = Stuff("roll", "roll of 25 ft", 1, 9 * FT, 25 * FT)
GLUE = Stuff("adhesive", "can", 1, coverage=Coverage(100, "ft2/gal", "finished area"))
SEALANT = Stuff("sealant", "cartridge", 300)
SCREWS = Stuff("fastener", "box of 100", 100)
TAPE = Stuff("count", "roll of 30 ft", 30)
SET = Stuff("count", "set", 1)


def site(left_ft, top_ft, width_ft, height_ft, *, spacing_in=16.0, run=Run.ACROSS, is_assumed=False, units="us"):
    place = Rectangle(left_ft * FT, top_ft * FT, width_ft * FT, height_ft * FT)
    return Site(place, ROOF, Members(spacing_in * IN, 0, run, 1.5 * IN), is_assumed, units)


def words_of(stuff, use, where, extent="place"):
    return [each.words for each in take_off(stuff, use, cut_at(where, extent))]


class TestHowFarItReaches:
    def test_as_found_it_is_the_place(self):
        cut = cut_at(site(1, 2, 3, 4), Extent.PLACE)

        assert cut.words == "3 ft × 4 ft"
        assert cut.measured.area_m2 == pytest.approx(12 * 0.3048**2)

    def test_cut_back_it_lands_on_the_nearest_members_and_says_so(self):
        """From 3 ft for 2 ft 2 in: members stand at 2 ft 8 in and 5 ft 4 in, so 2 ft 8 in are cut out."""
        cut = cut_at(site(3, 2, 26 / 12, 4), Extent.MEMBERS)

        assert cut.words == "cut out to the nearest members: 2 ft 8 in × 4 ft (16 in apart)"
        assert (cut.rectangle.left_mm, cut.rectangle.width_mm) == pytest.approx((32 * IN, 32 * IN))
        assert (len(cut.members), len(cut.inner_mm)) == (3, 1)

    def test_an_assumed_spacing_is_named_as_one(self):
        cut = cut_at(site(3, 2, 2, 4, is_assumed=True), Extent.MEMBERS)

        assert cut.words.endswith("(16 in apart, assumed)")

    def test_in_metric_the_same_is_said_in_metres(self):
        cut = cut_at(site(3, 2, 26 / 12, 4, units="metric"), Extent.MEMBERS)

        assert cut.words == "cut out to the nearest members: 0.81 m × 1.22 m (406 mm apart)"

    def test_the_whole_length_of_the_members_runs_across_the_face(self):
        cut = cut_at(site(3, 2, 3, 2), Extent.WHOLE)

        assert (cut.rectangle.top_mm, cut.rectangle.height_mm) == (0, 8 * FT)
        assert cut.words == "the whole length of the members: 3 ft × 8 ft"

    def test_a_strip_across_the_members_is_one_rail(self):
        """A header 6 in high and 7 ft long under upright members."""
        where = site(1, 0, 7, 0.5)

        cut, whole = cut_at(where, Extent.PLACE), cut_at(where, Extent.WHOLE)

        assert cut.is_rail
        assert [each.length_mm for each in cut.members] == pytest.approx([7 * FT])
        assert units_words("member", cut) == "1 rail of 7 ft"
        assert whole.words == "the whole length of the rail: 24 ft × 6 in"

    def test_between_two_members_the_one_that_was_found_is_counted(self):
        cut = cut_at(site(0.5, 2, 0.5, 4), Extent.PLACE)

        assert units_of("member", cut) == 1

    @pytest.mark.parametrize(
        ("place", "extent", "feet", "said"),
        [
            ((10 / 12, 2, 4, 3), "place", 9, "9 ft of member in 3 members"),
            ((10 / 12, 2, 4, 3), "members", 15, "15 ft of member in 5 members"),
            ((10 / 12, 2, 4, 3), "whole", 24, "24 ft of member in 3 members"),
            ((1, 0, 7, 0.5), "place", 7, "7 ft of member in 1 rail"),
            ((1, 0, 7, 0.5), "members", 8, "8 ft of member in 1 rail"),
            ((1, 0, 7, 0.5), "whole", 24, "24 ft of member in 1 rail"),
            ((0.5, 2, 0.5, 4), "place", 4, "4 ft of member in 1 member"),
        ],
    )
    def test_the_length_of_member_worked_on_follows_how_far_the_work_reaches(self, place, extent, feet, said):
        """From 10 in to 4 ft 10 in members stand at 16, 32 and 48 in; cut back it is 0 to 64 in, with those at both."""
        cut = cut_at(site(*place), extent)

        assert units_of("member_ft", cut) == pytest.approx(feet)
        assert units_of("member_m", cut) == pytest.approx(feet * 0.3048)
        assert units_words("member_ft", cut) == units_words("member_m", cut) == said

    def test_the_length_of_member_in_a_shop_in_metres_and_with_framing_nobody_has_measured(self):
        cut = cut_at(site(10 / 12, 2, 4, 3, is_assumed=True, units="metric"), "place")

        assert units_words("member_ft", cut) == "2.74 m of member in 3 members (406 mm apart, assumed)"
        assert units_words("member", cut) == "3 members crossed, 0.91 m each (406 mm apart, assumed)"

    @pytest.mark.parametrize(
        ("place", "said"),
        [
            ((-1, 0, 2, 2), "left_mm of the place must be 0"),
            ((23, 0, 2, 2), "left_mm of the place must be 0"),
            ((0, 0, 0, 2), "width_mm of the place must be above 0"),
            ((0, 0, 2, -2), "height_mm of the place must be above 0"),
            ((0, 0, 200, 2), "width_mm of the place must be above 0, to"),
            ((0, 0, float("nan"), 2), "width_mm of the place must be"),
        ],
    )
    @pytest.mark.parametrize("extent", list(Extent))
    def test_a_place_that_does_not_lie_on_the_face_is_refused(self, place, said, extent):
        with pytest.raises(ValueError, match=said):
            cut_at(site(*place), extent)

    def test_an_extent_nobody_knows_is_refused(self):
        with pytest.raises(ValueError, match="everything"):
            cut_at(site(0, 0, 1, 1), "everything")

    @given(st.floats(0, 20), st.floats(0, 6), st.floats(0.05, 4), st.floats(0.05, 2), st.sampled_from(list(Run)))
    def test_it_never_shrinks_and_never_leaves_the_face(self, left, top, width, height, run):
        where = site(left, top, width, height, run=run)
        found = cut_at(where, Extent.PLACE).rectangle

        for extent in (Extent.MEMBERS, Extent.WHOLE):
            grown = cut_at(where, extent).rectangle
            assert grown.left_mm <= found.left_mm
            assert grown.top_mm <= found.top_mm
            assert grown.width_mm >= found.width_mm - 1e-6
            assert grown.height_mm >= found.height_mm - 1e-6
            assert grown.left_mm + grown.width_mm <= ROOF.width_mm + 1e-6
            assert grown.top_mm + grown.height_mm <= ROOF.height_mm + 1e-6


class TestWords:
    @pytest.mark.parametrize(
        ("stuff", "use", "said"),
        [
            (DECK, Use("area_ft2", laid="across"), "4 ft × 3 ft, laid across the members = 1 sheet of 4 × 8 ft"),
            (
                DECK,
                Use("area_ft2", 2, waste=0.1),
                "4 ft × 3 ft, 2 layers, 2 sheets, with 10% waste = 3 sheets of 4 × 8 ft",
            ),
            (GLUE, Use("area_ft2", 0.5, 0.1, faces=1), "12 ft² × 0.5 = 6 ft² bonded, one face coated, "),
            (SEALANT, Use("edge_ft", 2, bead_width_in=0.25, bead_depth_in=0.25), "14 ft of edge × 2 beads = 28 ft, "),
            (SEALANT, Use("length_ft", bead_width_in=0.25, bead_depth_in=0.25), "4 ft of edge × 1 bead, 24.4 ft a "),
            (TAPE, Use("edge_ft", waste=0.1), "14 ft round the edge, with 10% waste, 30 ft in one = 1 roll of 30 ft"),
            (TAPE, Use("length_ft", 3), "4 ft along the longer side × 3 = 12 ft, 30 ft in one = 1 roll of 30 ft"),
            (SET, Use("member", 2), "4 members crossed, 3 ft each × 2 = 8 = 8 sets"),
            (SET, Use("each", 2), ""),
            (TAPE, Use("member_ft", 2), "12 ft of member in 4 members × 2 = 24 ft, 30 ft in one = 1 roll of 30 ft"),
            (
                SCREWS,
                Use("area_ft2", waste=0.1, spacing_mm=6 * IN, member_spacing_mm=12 * IN),
                (
                    "2 edges of 4 ft at 6 in, 2 edges of 3 ft at 6 in, 2 members of 3 ft at 12 in = 40 fasteners, "
                    "with 10% waste = 1 box of 100"
                ),
            ),
            (SCREWS, Use("length_ft", spacing_mm=6 * IN), "1 row of 4 ft at 6 in = 9 fasteners = 1 box of 100"),
            (SCREWS, Use("member", spacing_mm=12 * IN), "4 members of 3 ft at 12 in = 16 fasteners = 1 box of 100"),
            (
                MEMBRANE,
                Use("area_ft2", wrap_mm=3 * IN, lap_mm=4 * IN),
                (
                    "4 ft × 3 ft, 3 in over the edge, 4 in laps: 1 strip of 3.6 ft off a roll 9 ft wide, "
                    "10 ft to weld = 1 roll of 25 ft"
                ),
            ),
            (
                TIMBER,
                Use("member", lap_mm=12 * IN),
                (
                    "4 members crossed, 3 ft each, 12 in more for splices: 4 pieces, 16 ft in all, 1/8 in saw cut = "
                    "2 sticks of 12 ft"
                ),
            ),
            (
                TIMBER,
                Use("edge_ft"),
                "3 edges that meet what stays: 3 pieces, 10 ft in all, 1/8 in saw cut = 1 stick of 12 ft",
            ),
        ],
    )
    def test_each_way_of_counting_says_how_it_came_about(self, stuff, use, said):
        """4 by 3 ft at the roof's edge, between members: four of them, two inside, three edges that meet what stays."""
        (bought,) = words_of(stuff, use, site(16 / 12, 0, 4, 3))

        assert bought.startswith(said) if said.endswith((" ", "a ")) else bought == said

    @pytest.mark.parametrize(
        ("use", "said"),
        [
            (Use("edge_m", waste=0.1), "4.27 m round the edge, with 10% waste, 30 m in one = 1 roll of 30 ft"),
            (Use("edge_ft"), "4.27 m round the edge = 14 ft, 30 ft in one = 1 roll of 30 ft"),
            (Use("member_ft"), "3.66 m of member in 4 members = 12 ft, 30 ft in one = 1 roll of 30 ft"),
            (Use("area_ft2", 2), "1.11 m² = 12 ft² × 2 = 24 ft², 30 ft² in one = 1 roll of 30 ft"),
        ],
    )
    def test_a_shop_in_metres_reads_metres_and_the_feet_that_its_packs_are_sold_by(self, use, said):
        assert words_of(TAPE, use, site(0, 0, 4, 3, units="metric")) == [said]

    def test_each_length_of_stick_bought_is_a_line_of_its_own(self):
        """Seven pieces of 3 ft: a stick of 12 ft holds three, less its saw cuts, and one of 8 ft two."""
        long, short = take_off(TIMBER, Use("member"), cut_at(site(0, 0, 9, 3), "place"))

        assert (long.length_mm, short.length_mm) == (12 * FT, 8 * FT)
        assert long.words.endswith("= 1 stick of 12 ft and 2 of 8 ft")
        assert (long.packs, short.packs) == (1, 2)
        assert short.words == "from the same cutting"

    def test_what_no_stick_holds_is_made_up_of_equal_parts(self):
        """A rail of 20 ft with 16 in more to each part for the splice: two of 11 ft 4 in."""
        (bought,) = take_off(TIMBER, Use("length_ft", lap_mm=16 * IN), cut_at(site(0, 0, 20, 0.5), "place"))

        assert (bought.packs, bought.length_mm) == (2, 12 * FT)
        assert "2 pieces, 22.7 ft in all" in bought.words

    @pytest.mark.parametrize(
        ("stuff", "use", "place", "joints", "said"),
        [
            (TIMBER, Use("member"), (0, 0, 12, 0.5), 0, "1 rail of 12 ft: 1 piece"),
            (TIMBER, Use("member"), (0, 0, 12.1, 0.5), 1, "1 rail of 12 ft 1 3/16 in, in 2 lengths with 1 joint: 2 p"),
            (TIMBER, Use("member"), (0, 0, 24, 0.5), 1, "1 rail of 24 ft, in 2 lengths with 1 joint: 2 pieces"),
            (TIMBER, Use("member", 2), (0, 0, 24, 0.5), 2, "1 rail of 24 ft × 2, each in 2 lengths with 2 joints in"),
            # 16 in of each stick of 12 ft go into splices: 10 ft 8 in are left, and 24 ft are three of 8 ft.
            (
                TIMBER,
                Use("member", lap_mm=16 * IN),
                (0, 0, 24, 0.5),
                2,
                "1 rail of 24 ft, 16 in more for splices, in 3",
            ),
            (SHORT, Use("member"), (0, 0, 3, 8), 3, "3 members crossed, 8 ft each, each in 2 lengths with 3 joints in"),
            (TIMBER, Use("length_ft"), (0, 0, 20, 3), 1, "20 ft along the longer side, in 2 lengths with 1 joint: 2"),
            (TIMBER, Use("edge_ft"), (1, 1, 20, 3), 2, "4 edges that meet what stays, with 2 joints in all: 6 pieces"),
            (TAPE, Use("edge_ft"), (1, 1, 20, 3), 0, "46 ft round the edge"),
        ],
    )
    def test_joints_are_counted_where_a_piece_is_longer_than_the_longest_stick(self, stuff, use, place, joints, said):
        cut = cut_at(site(*place), "place")

        assert stick_joints(stuff, use, cut) == joints
        bought, *_ = take_off(stuff, use, cut)
        assert bought.words.startswith(said)
        # Framing carries; an edge strip or a piece of trim does not.
        assert bought.words.endswith("structural members: ask an engineer") == (use.basis == "member" and joints > 0)

    def test_what_is_counted_by_the_joint_is_bought_where_there_are_joints(self):
        where = site(0, 0, 24, 0.5)

        assert take_off(SET, Use("joint"), cut_at(where, "place")) == ()
        (bought,) = take_off(SET, Use("joint", 2), cut_at(replace(where, joints=3), "place"))
        assert (bought.packs, bought.words) == (6, "3 joints between sticks × 2 = 6 = 6 sets")

    def test_a_strip_longer_than_a_roll_is_made_up_of_parts(self):
        (bought,) = take_off(
            Stuff("roll", "roll", 1, 9 * FT, 10 * FT),
            Use("area_ft2", lap_mm=4 * IN, laid="across"),
            cut_at(site(2, 1, 20, 4), "place"),
        )

        assert bought.packs == 3
        assert "3 strips" in bought.words

    def test_where_no_edge_meets_what_stays_nothing_is_bought(self):
        assert take_off(TIMBER, Use("edge_ft"), cut_at(site(0, 0, 24, 8), "place")) == ()

    def test_adhesive_by_the_coated_face_takes_twice_what_the_same_rate_takes_by_finished_area(self):
        cut = cut_at(site(0, 0, 20, 5), "place")
        by_face = Stuff("adhesive", "can", 0.1, coverage=Coverage(100, "ft2/gal", "coated face"))
        by_area = Stuff("adhesive", "can", 0.1, coverage=Coverage(100, "ft2/gal", "finished area"))

        (faces,), (area,) = (take_off(stuff, Use("area_ft2", faces=2), cut) for stuff in (by_face, by_area))

        assert (faces.packs, area.packs) == (20, 10)

    @pytest.mark.parametrize(
        ("stuff", "use", "said"),
        [
            (Stuff("sheet", "sheet", 1), Use("area_ft2"), "the width of this material is not given"),
            (DECK, Use("area_ft2", 1.5), "per_unit must be a whole number"),
            (SEALANT, Use("edge_ft"), "the width and the depth of its bead"),
            (GLUE, Use("area_ft2"), "the faces that are coated"),
            (SCREWS, Use("area_ft2"), "the spacing of this material is not given"),
            (TIMBER, Use("member", lap_mm=13 * FT), "lap_mm must be below the longest stick"),
            (Stuff("powder", "bag", 1), Use("each"), "powder"),
            (TAPE, Use("volume"), "basis must be one of"),
            (TAPE, Use("edge_ft", waste=1.0), "waste must be 0 to 0.5"),
            (TAPE, Use("edge_ft", -1.0), "quantity must be at least 0"),
            (Stuff("count", "can", 1e-300), Use("area_ft2"), "more than 10000000 packs"),
            (SEALANT, Use("edge_ft", bead_width_in=1e-200, bead_depth_in=1e-200), "is no bead"),
            (TIMBER, Use("member", 4000), "10000 in all, got 1 and 12000 in all"),
        ],
    )
    def test_what_cannot_be_counted_is_refused_in_words(self, stuff, use, said):
        with pytest.raises(ValueError, match=said):
            take_off(stuff, use, cut_at(site(2, 2, 4, 3), "place"))


FEET = st.integers(0, 96).map(lambda quarters: quarters / 4)
WAYS = [
    (DECK, Use("area_ft2", laid="across")),
    (DECK, Use("area_ft2", laid="along")),
    (DECK, Use("area_ft2", waste=0.1)),
    (GLUE, Use("area_ft2", faces=2, waste=0.1)),
    (SEALANT, Use("edge_ft", 2, bead_width_in=0.375, bead_depth_in=0.375, waste=0.1)),
    (SCREWS, Use("area_ft2", spacing_mm=6 * IN, member_spacing_mm=12 * IN)),
    (TAPE, Use("edge_ft")),
    (TAPE, Use("area_ft2", 3.0)),
]


@pytest.mark.parametrize(("stuff", "use"), WAYS)
@given(data=st.data())
def test_a_bigger_place_never_takes_less(stuff, use, data):
    """A place within another one, both on the roof, both cut back to the members or both as found."""
    lefts = sorted(data.draw(st.lists(FEET, min_size=4, max_size=4, unique=True)))
    tops = sorted(data.draw(st.lists(FEET.filter(lambda feet: feet <= 8), min_size=4, max_size=4, unique=True)))
    extent = data.draw(st.sampled_from([Extent.PLACE, Extent.MEMBERS]))
    run = data.draw(st.sampled_from(list(Run)))
    small = site(lefts[1], tops[1], lefts[2] - lefts[1], tops[2] - tops[1], run=run)
    big = site(lefts[0], tops[0], lefts[3] - lefts[0], tops[3] - tops[0], run=run)

    few, many = (sum(each.packs for each in take_off(stuff, use, cut_at(each, extent))) for each in (small, big))

    assert few <= many


@given(st.floats(1, 23), st.floats(1, 7), st.floats(0, 0.5))
def test_waste_is_a_share_of_what_is_bought(width, height, waste):
    """What is bought, less the share that is lost, still covers the area, and one pack less would not."""
    stuff, cut = Stuff("count", "pack", 7.0), cut_at(site(0, 0, width, height), "place")

    (bought,) = take_off(stuff, Use("area_ft2", waste=waste), cut)

    area_ft2 = cut.measured.area_m2 / 0.3048**2
    assert bought.packs * 7.0 * (1 - waste) >= area_ft2 * (1 - 1e-9)
    assert (bought.packs - 1) * 7.0 * (1 - waste) < area_ft2 * (1 + 1e-9)


@given(
    FEET.filter(lambda feet: 1 <= feet <= 20), FEET.filter(lambda feet: 1.5 <= feet <= 8), st.sampled_from([0.0, 200.0])
)
def test_sticks_hold_every_piece_and_never_cost_more_than_one_for_each(width, height, lap_mm):
    cut = cut_at(site(0, 0, width, height), "place")

    bought = take_off(TIMBER, Use("member", lap_mm=lap_mm), cut)

    sold_mm = sum(each.packs * each.length_mm for each in bought)
    needed_mm = sum(each.length_mm + lap_mm for each in cut.members)
    assert needed_mm <= sold_mm + 1e-6
    assert sum(each.packs for each in bought) <= len(cut.members)
