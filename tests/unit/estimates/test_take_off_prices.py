"""The price of a remedy is made from the take-off at the finding's place."""

from decimal import Decimal

import pytest

from estimates.models import Rates
from estimates.pricing import work_out
from jobs.calc.framing import FaceGroup
from jobs.models import Remedy
from jobs.services.framing import GroupFraming, note_framing
from shopfloor.demo.catalogue import write_catalogue
from tests.factories import NOON, CoachFactory, FindingFactory, JobFactory, PersonFactory, ShopFactory

pytestmark = pytest.mark.django_db

FT, IN = 304.8, 25.4
# On the roof, from 3 ft behind the front edge and 2 ft in from the road side: 26 in by 4 ft.
PATCH = {"face": "roof", "left_mm": 3 * FT, "top_mm": 2 * FT, "width_mm": 26 * IN, "height_mm": 4 * FT}


def remedy_for(name, *, units="us", **place):
    shop = ShopFactory(units=units)
    write_catalogue(shop)
    job = JobFactory(shop=shop, coach=CoachFactory(shop=shop, length_mm=24 * FT, width_mm=8 * FT, height_mm=8 * FT))
    return Remedy.objects.create(
        finding=FindingFactory(job=job, **PATCH | place), standard=shop.standard_remedies.get(name=name)
    )


def price(remedy):
    remedy = Remedy.objects.get(pk=remedy.pk)
    return work_out(remedy, Rates.objects.get(shop=remedy.finding.job.shop))


def lines_of(remedy):
    return {line.words: line for line in price(remedy).lines}


def rail_of(length_ft, name="Cut out and splice framing", *, side_ft=30.0):
    rail = {"face": "road_side", "left_mm": FT, "top_mm": 0.0, "width_mm": length_ft * FT, "height_mm": 6 * IN}
    remedy = remedy_for(name, **rail)
    coach = remedy.finding.job.coach
    coach.length_mm = side_ft * FT
    coach.save()
    return remedy


def hours_of(worked_out):
    return {line.words: line.quantity for line in worked_out.lines if line.kind == "labour"}


def test_new_deck_is_cut_out_to_the_nearest_members_and_paid_for_by_that():
    lines = lines_of(remedy_for("Renew deck to the nearest members"))

    reach = "cut out to the nearest members: 2 ft 8 in × 4 ft (16 in apart, assumed): "
    assert {words: line.how for words, line in lines.items()} == {
        "Cut the deck out to the nearest members": f"{reach}10.7 ft²",
        "Fit sticks to carry the joint": f"{reach}13.3 ft round the edge",
        "Let in and fasten new board": f"{reach}10.7 ft²",
        "Plywood decking": f"{reach[:-2]}, laid across the members = 1 sheet of 4 × 8 ft",
        "Framing timber, planed": (
            f"{reach}4 edges that meet what stays: 4 pieces, 13.3 ft in all, 1/8 in saw cut = 2 sticks of 8 ft"
        ),
        "Structural adhesive": f"{reach}13.3 ft of edge × 1 bead, with 10% waste, 24.4 ft a cartridge = 1 cartridge",
        "Screws, coated": (
            f"{reach}2 edges of 2.7 ft at 6 in, 2 edges of 4 ft at 6 in, 1 member of 4 ft at 12 in = 35 fasteners, "
            "with 10% waste = 1 box of 100"
        ),
    }
    assert lines["Framing timber, planed"].quantity == 2
    # 1 h and 0.06 h for each of 10.7 ft²: a quarter hour is as fine as a shop plans.
    assert lines["Cut the deck out to the nearest members"].quantity == Decimal("1.75")


def test_hours_taken_on_the_place_cut_out_are_a_record_of_their_own():
    operations = price(remedy_for("Renew deck to the nearest members")).operations

    assert operations[0].recipe_key.endswith(" / area_ft2 / members")
    assert operations[0].units == pytest.approx(32 / 12 * 4)


def test_what_was_measured_of_the_framing_counts_from_then_on_and_is_no_assumption():
    remedy = remedy_for("Renew deck to the nearest members")
    before = price(remedy)
    by = PersonFactory(shop=remedy.finding.job.shop)

    note_framing(job_id=remedy.finding.job_id, known={FaceGroup.ROOF: GroupFraming(24 * IN)}, by=by, now=NOON)

    after = price(remedy)
    assert before.totals.total_usd < after.totals.total_usd
    assert after.lines[0].how == "cut out to the nearest members: 4 ft × 4 ft (24 in apart): 16 ft²"


def test_members_from_front_to_rear_are_landed_on_the_other_way():
    remedy = remedy_for("Replace decking")
    by = PersonFactory(shop=remedy.finding.job.shop)
    known = {FaceGroup.ROOF: GroupFraming(16 * IN, "along")}

    note_framing(job_id=remedy.finding.job_id, known=known, by=by, now=NOON)

    # From 2 ft to 6 ft across: members at 1 ft 4 in and 6 ft 8 in are the next ones out.
    assert price(remedy).lines[0].how.startswith("cut out to the nearest members: 2 ft 2 in × 5 ft 4 in (16 in apart)")


def test_a_shop_in_metres_reads_metres():
    lines = lines_of(remedy_for("Renew deck to the nearest members", units="metric"))

    assert lines["Plywood decking"].how.startswith(
        "cut out to the nearest members: 0.81 m × 1.22 m (406 mm apart, assumed), laid across"
    )


def test_a_header_is_spliced_from_sticks_long_enough_and_each_length_costs_its_own_price():
    """A rail of 13 ft on two pieces, 16 in more each for the splices: two sticks of 16 ft at their own price."""
    rail = {"face": "road_side", "left_mm": FT, "top_mm": 0.0, "width_mm": 13 * FT, "height_mm": 6 * IN}
    line = lines_of(remedy_for("Cut out and splice framing", **rail))["Framing timber, planed"]

    assert line.how == (
        "1 rail of 13 ft × 2, 16 in more for splices: 2 pieces, 28.7 ft in all, 1/8 in saw cut = 2 sticks of 16 ft"
    )
    assert (line.quantity, line.unit) == (2, "stick of 16 ft")
    assert line.unit_price_usd == Decimal("21.32"), "16.40 and 30 % on it"


def test_studs_are_counted_where_they_are_crossed_and_their_splices_paid_by_the_stick():
    wall = {"face": "road_side", "left_mm": 10 * IN, "top_mm": 4 * FT, "width_mm": 4 * FT, "height_mm": 3 * FT}
    worked_out = price(remedy_for("Cut out and splice framing", **wall))
    lines = {line.words: line for line in worked_out.lines}

    units = {operation.words: operation.units for operation in worked_out.operations}
    assert units["Cut the splices at both ends"] == 3
    assert lines["Splice in new framing"].how == "9 ft of member in 3 members (16 in apart, assumed)"
    # By hand, to the quarter hour: 1 + 9 × 0.2 = 2.8; 0.25 + 3 × 0.75; 1.5 + 9 × 0.3 = 4.2, for two people.
    assert hours_of(worked_out) == {
        "Cut back to sound wood": Decimal("2.75"),
        "Cut the splices at both ends": Decimal("2.50"),
        "Splice in new framing": Decimal("8.50"),
    }
    assert lines["Framing timber, planed"].how.startswith(
        "3 members crossed, 3 ft each (16 in apart, assumed) × 2, 16 in more for splices: 6 pieces, 26 ft in all"
    )
    assert "joint" not in lines["Framing timber, planed"].how
    assert "Steel brackets and screws" not in lines, "no joint, so nothing to join"


def test_a_rail_is_paid_by_its_length_and_its_ends_by_the_piece():
    """By hand, to the quarter hour: 1 + 0.2 a foot; 0.25 + 0.75 a rail; 0.25 + 0.5 a joint; 1.5 + 0.3 a foot, twice.

    With 16 in for its splices a stick of 16 ft holds 14 ft 8 in of a piece: 28 ft are two lengths of 15 ft 4 in.
    """
    assert hours_of(price(rail_of(8))) == {
        "Cut back to sound wood": Decimal("2.50"),  # 2.6
        "Cut the splices at both ends": Decimal("1.00"),
        "Splice in new framing": Decimal("8.00"),  # 3.9 for two
    }
    long = price(rail_of(28))
    assert hours_of(long) == {
        "Cut back to sound wood": Decimal("6.50"),  # 6.6
        "Cut the splices at both ends": Decimal("1.00"),
        "Join sticks end to end": Decimal("1.25"),
        "Splice in new framing": Decimal("20.00"),  # 9.9 for two
    }
    assert {line.words: line.how for line in long.lines} == {
        "Cut back to sound wood": "28 ft of member in 1 rail",
        "Cut the splices at both ends": "1 rail of 28 ft",
        "Join sticks end to end": "2 joints between sticks",
        "Splice in new framing": "28 ft of member in 1 rail",
        "Framing timber, planed": (
            "1 rail of 28 ft × 2, 16 in more for splices, each in 2 lengths with 2 joints in all: 4 pieces, 61.3 ft in "
            "all, 1/8 in saw cut = 4 sticks of 16 ft; keep joints apart from each other; structural members: ask an "
            "engineer"
        ),
        "Fasteners and clips": "",
        "Screws, coated": "1 member of 28 ft at 8 in = 43 fasteners, with 10% waste = 1 box of 100",
        "Steel brackets and screws": "2 joints between sticks = 2 sets of 4",
    }


def test_a_whole_rail_that_one_stick_holds_has_no_joint_and_a_longer_one_has():
    """From end to end of the side: 16 ft is the longest stick, so 20 ft are two lengths of 10 ft on one joint."""
    short, long = (price(rail_of(4, "Replace the whole member", side_ft=side_ft)) for side_ft in (16, 20))

    # By hand: 1.5 + 0.125 a foot for two; 0.5 + 0.5; 0.25 + 0.5; 1.75 + 0.22 a foot for two; to the quarter hour.
    assert hours_of(short) == {
        "Take out the old member": Decimal("7.00"),
        "Cut the new member and shape its ends": Decimal("1.00"),
        "Fit the new member": Decimal("10.50"),  # 5.27
    }
    assert hours_of(long) == {
        "Take out the old member": Decimal("8.00"),
        "Cut the new member and shape its ends": Decimal("1.00"),
        "Join sticks end to end": Decimal("0.75"),
        "Fit the new member": Decimal("12.50"),  # 6.15
    }
    timber = next(line for line in long.lines if line.words == "Framing timber, planed")
    assert timber.how == (
        "the whole length of the rail: 20 ft × 6 in: 1 rail of 20 ft, in 2 lengths with 1 joint: 2 pieces, 20 ft in "
        "all, 1/8 in saw cut = 2 sticks of 12 ft; keep joints apart from each other; structural members: ask an "
        "engineer"
    )


def test_a_sill_is_one_rail_however_high_the_place_is_marked():
    low = {"face": "road_side", "left_mm": FT, "top_mm": 5 * FT, "width_mm": 9 * FT, "height_mm": 2 * FT}
    remedy = remedy_for("Cut out and splice framing", **low)
    before = price(remedy)
    remedy.finding.member = "sill"
    remedy.finding.save()

    worked_out = price(remedy)

    # Upright members at 16 in to 9 ft 4 in, seven of 2 ft each: nearly twice the wood of one rail of 9 ft.
    assert [each.units for each in before.operations[:2]] == pytest.approx([14, 7])
    assert [each.units for each in worked_out.operations[:2]] == pytest.approx([9, 1])
    assert [line.how for line in worked_out.lines[:2]] == ["9 ft of member in 1 rail", "1 rail of 9 ft"]


def test_membrane_goes_over_the_edge_of_the_roof_and_laps_onto_what_stays():
    lines = lines_of(remedy_for("Renew the roof membrane", top_mm=0.0))

    assert lines["Roof membrane"].how == (
        "2 ft 2 in × 4 ft, 3 in over the edge, 4 in laps: 1 strip of 2.8 ft off a roll 9 ft wide, 10.2 ft to weld "
        "= 1 roll of 25 ft"
    )
    assert "at 60 ft² a gallon of finished area" in lines["Membrane adhesive"].how


def test_lines_name_what_they_cost_the_shop_by_the_length_bought():
    remedy = remedy_for("Renew the sill", face="floor", left_mm=0.0, top_mm=0.0, width_mm=10 * FT, height_mm=4 * IN)

    line = lines_of(remedy)["Framing timber, planed"]

    assert (line.quantity, line.unit, line.cost_usd) == (1, "stick of 12 ft", Decimal("11.60"))


@pytest.mark.parametrize(
    ("place", "words"),
    [
        ({"left_mm": 23 * FT}, "The place reaches past the edge of the roof"),
        ({"height_mm": 0.0}, "The place needs a width and a height above zero."),
    ],
)
def test_a_place_that_does_not_lie_on_the_coach_is_refused_in_words(place, words):
    remedy = remedy_for("Replace decking")
    for name, value in place.items():
        setattr(remedy.finding, name, value)

    with pytest.raises(ValueError, match=words):
        work_out(remedy, Rates.objects.get(shop=remedy.finding.job.shop))


def test_a_line_that_does_not_go_with_its_material_is_named():
    remedy = remedy_for("Replace decking")
    remedy.standard.recipe_materials.filter(material__name="Plywood decking").update(per_unit=1.5)

    with pytest.raises(ValueError, match=r"Plywood decking, for “Replace decking”: per_unit must be a whole number"):
        price(remedy)


def test_a_sum_that_no_bill_can_hold_is_refused_in_words():
    remedy = remedy_for("Replace decking")
    remedy.finding.job.shop.materials.filter(name="Plywood decking").update(pack_cost_usd=Decimal("99999999.99"))

    with pytest.raises(ValueError, match=r"“Replace decking” would come to \d+\.\d\d USD"):
        price(remedy)


@pytest.mark.parametrize("units", ["us", "metric"])
def test_every_remedy_of_the_starting_catalogue_is_priced_and_says_how(units):
    remedies = [remedy_for("Replace decking", units=units)]
    shop = remedies[0].finding.job.shop
    remedies += [
        Remedy.objects.create(
            finding=FindingFactory(job=remedies[0].finding.job, **PATCH), standard=standard, position=1
        )
        for standard in shop.standard_remedies.all()
    ]

    worked_out = {remedy.name: price(remedy) for remedy in remedies}

    assert len(worked_out) == 26
    assert all(each.lines and each.totals.total_usd > 0 for each in worked_out.values())
    once = set(shop.standard_remedies.filter(recipe_materials__basis="each").values_list("name", flat=True))
    for name, each in worked_out.items():
        silent = [line.words for line in each.lines if line.kind == "material" and not line.how]
        assert name in once or not silent


def test_it_takes_as_many_queries_for_a_recipe_of_many_lines(django_assert_max_num_queries):
    remedy = remedy_for("Renew deck to the nearest members")
    rates = Rates.objects.get(shop=remedy.finding.job.shop)
    fresh = Remedy.objects.select_related("standard", "finding__job__shop", "finding__job__coach").get(pk=remedy.pk)

    with django_assert_max_num_queries(3):
        work_out(fresh, rates)
