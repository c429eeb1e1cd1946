"""What the bay has to fetch: the agreed quantities, and the cuts that they came from."""

import re
from datetime import timedelta

import pytest

from estimates.material_list import NOT_KNOWN, read_material
from estimates.models import Material, RecipeMaterial
from jobs.calc.lengths import parse_length_mm
from jobs.models import Decision, Operation
from tests.factories import NOON
from tests.paper_scenes import answer, finish_work, told_job

pytestmark = pytest.mark.django_db

KERF_MM = 25.4 / 8


@pytest.fixture(scope="module")
def kept_job(keeper):
    return keeper(told_job, NOON)


@pytest.fixture
def scene(kept_job):
    return kept_job()


def of(scene, label):
    return next(each for each in read_material(scene.job) if each.label == label)


def agreed_lines(scene, number):
    groups = scene.job.revisions.order_by("number").last().content["groups"]
    (group,) = [each for each in groups if each["finding_number"] == number]
    return [line for line in group["lines"] if line["kind"] == "material"]


def timber(scene):
    return next(row for row in of(scene, "finding 3").rows if row.name == "Framing timber, planed")


def test_each_finding_lists_what_was_agreed_as_it_is_sold(scene):
    listed = of(scene, "finding 3")

    assert [(row.quantity, row.name) for row in listed.rows] == [
        (f"{line['quantity']} × {line['unit']}", line["words"]) for line in agreed_lines(scene, 3)
    ]
    assert listed.words == "rotten framing: Cut out and splice framing"
    # What was declined or still waits for the owner is nothing to fetch.
    assert {each.label for each in read_material(scene.job)} <= {"booked work 1", "booked work 2", "finding 3"}


def test_the_cuts_fill_their_sticks_to_the_saw_cut(scene):
    bought = int(timber(scene).quantity.split(" × ")[0])

    sticks = [
        re.fullmatch(r"(\d+) sticks? of (.*?)(?:, each)?: (.*?)(?:; left over (.*))?", cut)
        for cut in timber(scene).cuts
    ]

    assert sum(int(stick[1]) for stick in sticks) == bought
    for stick in sticks:
        pieces = [each.split(" at ") for each in stick[3].split(", ")]
        count = sum(int(number) for number, _ in pieces)
        pieces_mm = sum(int(number) * parse_length_mm(size, units="us") for number, size in pieces)
        left_mm = parse_length_mm(stick[4], units="us") if stick[4] else 0.0
        saw_cuts = count if left_mm else count - 1
        stock_mm = parse_length_mm(stick[2], units="us")
        # Every measure is printed to the sixteenth of an inch.
        assert pieces_mm + left_mm + saw_cuts * KERF_MM == pytest.approx(stock_mm, abs=(count + 1) * 25.4 / 32)


def test_sheets_say_every_piece(scene):
    answer(scene, NOON + timedelta(hours=28), channel=Decision.Channel.PHONE)

    row = of(scene, "finding 5").rows[0]

    assert row.name == "Plywood decking"
    areas = [re.fullmatch(r"(\d+)(?: at (.*) × (.*)| whole sheets?)", cut) for cut in row.cuts]
    sheet_mm2 = 2438.4 * 1219.2
    laid_mm2 = sum(
        int(each[1])
        * (parse_length_mm(each[2], units="us") * parse_length_mm(each[3], units="us") if each[2] else sheet_mm2)
        for each in areas
    )
    # The place is covered but for the gaps between sheets; a recipe may reach past it, never less.
    assert laid_mm2 >= 1200 * 700 * 0.98


def test_cuts_that_the_catalogue_no_longer_gives_are_not_guessed(scene):
    Material.objects.filter(name="Framing timber, planed").update(kerf_mm=12.0)

    assert timber(scene).cuts == (NOT_KNOWN,)


def test_cuts_of_a_recipe_line_that_is_gone_are_not_guessed(scene):
    RecipeMaterial.objects.filter(material__name="Framing timber, planed").delete()

    assert timber(scene).cuts == (NOT_KNOWN,)


def test_finished_work_needs_nothing_fetched(scene):
    answer(scene, NOON + timedelta(hours=28), channel=Decision.Channel.PHONE, is_approved=False)
    finish_work(scene, NOON + timedelta(hours=30))

    assert not Operation.objects.unfinished().filter(job=scene.job).exists()
    assert read_material(scene.job) == []


def test_no_line_of_it_knows_a_price(scene):
    for each in read_material(scene.job):
        for row in each.rows:
            assert "$" not in " ".join([row.quantity, row.name, *row.cuts])
