"""Limits of the verdict and size bands of mould against published rows."""

import csv
import re
from pathlib import Path

import pytest

from jobs.calc.moisture.cautions import cautions_for
from jobs.calc.moisture.limits import LIMITS, Limits
from jobs.calc.moisture.verdict import Evidence, Verdict, judge

DATA = Path(__file__).parent / "data"
# From the definition of the inch, not from the code under test.
MM_PER_INCH = 25.4
M2_PER_SQ_FT = 0.09290304
BY_KEY = {limit.key: limit for limit in LIMITS}
FIRM_STUD = {"kind": "other", "member": "wall_framing", "probe_depth_mm": 1, "tap_sound": "solid", "look": "clean"}


def rows(name, *statuses):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return [row for row in csv.DictReader(file) if row["status"] in statuses]


THRESHOLDS = {row["item"]: row for row in rows("moisture_thresholds.csv", "published")}
CLOSE_IN = [row for item, row in THRESHOLDS.items() if item.startswith("close-in limit, framing")]
SIZES = [
    row
    for row in rows("safety_cautions.csv", "published", "published-restated")
    if row["topic"] == "size class" and row["source"].startswith("EPA 402-K-01-001")
]
# What a technician has to have on, as the table's words name it and as the caution does.
GEAR = [
    "N-95",
    "gloves",
    "goggles",
    "half-face HEPA respirator",
    "overalls",
    "full-face HEPA respirator",
    "foot covers",
]


def cautions(**changes):
    plain = {"kind": "mould", "member": "inner_panel", "look": "mould", "verdict": "stained_sound", "area_m2": 0.5}
    plain |= {"is_near_mains": False, "is_near_gas": False, "face": "front"}
    return cautions_for(**plain | changes)


def first_for(area_sq_ft):
    return cautions(area_m2=area_sq_ft * M2_PER_SQ_FT)[0]


def test_there_are_published_rows():
    assert len(CLOSE_IN) == 2
    assert [row["class_or_item"] for row in SIZES] == ["small", "medium", "large"]


@pytest.mark.parametrize("row", CLOSE_IN, ids=lambda row: row["item"])
def test_framing_is_closed_in_at_the_published_limit_and_not_above(row):
    limit_pct = float(row["value"])

    at, above = (
        judge(Evidence(moisture_pct=moisture_pct, **FIRM_STUD), Limits(), units="us")
        for moisture_pct in (limit_pct, limit_pct + 0.1)
    )

    assert BY_KEY["close_in_pct"].default == limit_pct
    assert at.verdict == Verdict.SOUND
    assert above.verdict == Verdict.WAIT_FOR_DRY


def test_lumber_sold_as_dry_counts_as_dry():
    moisture_pct = float(THRESHOLDS["S-Dry lumber"]["value"])

    assert judge(Evidence(moisture_pct=moisture_pct, **FIRM_STUD), Limits(), units="us").verdict == Verdict.SOUND


def test_no_shop_can_close_in_near_fibre_saturation_where_serious_decay_begins():
    lowest_saturation_pct = float(THRESHOLDS["fibre saturation point, range"]["value"].split("-")[0])

    for limit in LIMITS:
        if "close_in" in limit.key:
            assert limit.highest < lowest_saturation_pct


def test_panels_as_made_are_drier_than_the_limit_for_panels():
    wettest_made_pct = float(THRESHOLDS["panels (OSB, plywood) at manufacture"]["value"].split("-")[1])

    assert wettest_made_pct < BY_KEY["panel_close_in_pct"].default


def test_a_limit_without_a_published_source_says_so():
    (panel,) = [row for row in rows("moisture_thresholds.csv", "anecdotal") if row["item"].startswith("panel limit")]

    assert panel["item"] not in THRESHOLDS
    assert BY_KEY["panel_close_in_pct"].origin.startswith("Anecdotal")
    assert BY_KEY["soft_from_mm"].origin.startswith("Common practice, no source")
    assert BY_KEY["replace_beyond_mm"].origin.startswith("Common practice, no source")


@pytest.mark.parametrize("key", ["soft_from_mm", "replace_beyond_mm"])
def test_a_depth_is_exactly_the_fraction_of_an_inch_that_it_says(key):
    top, bottom = re.search(r"(\d+)/(\d+) in", BY_KEY[key].origin).groups()

    assert BY_KEY[key].default == pytest.approx(int(top) / int(bottom) * MM_PER_INCH, abs=1e-9)


@pytest.mark.parametrize("row", SIZES, ids=lambda row: row["class_or_item"])
def test_mould_has_the_size_class_of_the_published_table(row):
    bounds_sq_ft = [float(number) for number in re.findall(r"\d+", row["limit"].split("sq ft")[0])]
    inside = {
        "small": [0.1, bounds_sq_ft[0] - 0.01],
        "medium": bounds_sq_ft,
        "large": [bounds_sq_ft[0] + 0.01, 500],
    }[row["class_or_item"]]

    assert {first_for(area_sq_ft).key for area_sq_ft in inside} == {f"mould_{row['class_or_item']}"}


@pytest.mark.parametrize(
    ("row", "area_sq_ft"), [*zip(SIZES, [5, 50, 150], strict=True)], ids=["small", "medium", "large"]
)
def test_a_size_class_asks_for_the_gear_of_the_published_table(row, area_sq_ft):
    caution = first_for(area_sq_ft)

    asked = {gear for gear in GEAR if gear in row["content"]}
    assert len(asked) >= 3
    assert {gear for gear in GEAR if gear in caution.words} == asked
    assert caution.source.startswith("EPA 402-K-01-001")


def test_the_bands_are_no_health_limits_and_the_caution_says_so():
    (basis,) = [row for row in rows("safety_cautions.csv", "published") if row["topic"] == "basis"]
    always = cautions()[1]

    assert "not based on health effects" in basis["content"]
    assert "not health limits" in always.source


def test_mould_work_begins_with_the_water_as_the_guide_says():
    (fix,) = [row for row in rows("safety_cautions.csv", "published") if row["topic"] == "always"]
    always = cautions()[1].words

    assert fix["content"].startswith("fix the water source first")
    assert always.startswith("Stop the water first")
    for danger in ("bare-handed", "eyes", "breathe"):
        assert danger in fix["content"]
        assert danger in always


def test_biocides_are_never_mixed_and_used_by_their_label():
    biocide = {row["class_or_item"]: row for row in rows("safety_cautions.csv", "published-quoted")}
    words = cautions()[2].words

    assert "never mix" in biocide["bleach + ammonia"]["content"]
    assert "Never mix bleach and ammonia" in words
    assert "killing is not enough" in biocide["routine use"]["content"]
    assert "Killing mould is not enough" in words
    assert "as its label says" in biocide["label"]["content"]
    assert "as its label says" in words
