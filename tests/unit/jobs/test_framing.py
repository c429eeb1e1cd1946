"""How the framing behind a face stands, and what is assumed of it."""

import pytest
from django.db import IntegrityError, transaction

from jobs.calc.faces import Face
from jobs.calc.framing import ASSUMED_SPACING_MM, FaceGroup, MemberRun, framing, group_of, spacing_words
from jobs.calc.lengths import parse_length_mm
from tests.factories import CoachFactory


def test_a_spacing_nobody_measured_is_sixteen_inches_and_says_that_it_is_assumed():
    known = framing(None, "across")

    assert (known.spacing_mm, known.is_assumed) == (16 * 25.4, True)
    assert ASSUMED_SPACING_MM == 406.4


def test_a_measured_spacing_is_taken_as_it_is():
    assert framing(610.0, "along") == framing(610.0, MemberRun.ALONG)
    assert not framing(610.0, "along").is_assumed


@pytest.mark.parametrize(("spacing_mm", "run"), [(0, "across"), (-400.0, "across"), (16.0, "across"), (5e3, "across")])
def test_a_slip_of_the_unit_is_refused(spacing_mm, run):
    with pytest.raises(ValueError, match=r"spacing_mm must be 76.2 to 1524"):
        framing(spacing_mm, run)


def test_members_run_one_way_or_the_other():
    with pytest.raises(ValueError, match="diagonal"):
        framing(None, "diagonal")


def test_all_walls_share_one_framing():
    walls = [Face.FRONT, Face.REAR, Face.ROAD_SIDE, Face.CURB_SIDE]

    assert {group_of(face) for face in walls} == {FaceGroup.WALL}
    assert (group_of("roof"), group_of("floor")) == (FaceGroup.ROOF, FaceGroup.FLOOR)
    with pytest.raises(ValueError, match="ceiling"):
        group_of("ceiling")


@pytest.mark.parametrize(
    ("spacing_mm", "us", "metric"),
    [(406.4, "16 in", "406 mm"), (600.0, "23 5/8 in", "600 mm"), (76.2, "3 in", "76 mm")],
)
def test_a_spacing_is_said_as_on_the_bench_and_reads_back(spacing_mm, us, metric):
    assert (spacing_words(spacing_mm, units="us"), spacing_words(spacing_mm, units="metric")) == (us, metric)
    assert parse_length_mm(us, units="us") == pytest.approx(spacing_mm, abs=25.4 / 32)
    assert parse_length_mm(metric, units="metric") == pytest.approx(spacing_mm, abs=0.5)
    with pytest.raises(ValueError, match="furlongs"):
        spacing_words(spacing_mm, units="furlongs")


@pytest.mark.django_db
def test_a_coach_tells_the_framing_behind_each_face():
    coach = CoachFactory(wall_spacing_mm=610.0, wall_run="along")

    assert coach.framing_behind("rear") == framing(610.0, "along")
    assert coach.framing_behind("roof").is_assumed


@pytest.mark.django_db
@pytest.mark.parametrize("fields", [{"roof_spacing_mm": 5.0}, {"wall_spacing_mm": 9000.0}, {"floor_run": "up"}])
def test_the_database_keeps_slips_out(fields):
    with pytest.raises(IntegrityError), transaction.atomic():
        CoachFactory(**fields)
