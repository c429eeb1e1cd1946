"""Blowers and dehumidifiers against the quoted rules and worked examples."""

import csv
import re
from pathlib import Path

import pytest

from jobs.calc.moisture.sizing import (
    CUBIC_FT_PER_PINT,
    DEHUMIDIFIER_NOTES,
    M2_PER_SQ_FT,
    M3_PER_CUBIC_FT,
    NoAdvice,
    blowers_needed,
    dehumidifier_pints_per_day,
    water_class,
)

DATA = Path(__file__).parent / "data"


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


QUOTED = {
    (row["topic"], row["case"]): row for row in rows("equipment_sizing.csv") if row["status"] == "published-quoted"
}
EXAMPLES = rows("equipment_worked_examples.csv")
BLOWERS = [row for row in EXAMPLES if row["topic"] == "air movers"]
# "low-grain" examples rest on a factor from memory, which the product does not use.
PINTS = [row for row in EXAMPLES if row["inputs"].startswith("conventional")]


def stated(pattern, text):
    """The number of a pattern's group, 0 if the text does not have it."""
    found = re.search(pattern, text)
    return float(found[1]) if found else 0.0


def share_class(percent):
    return water_class(percent, 100.0, is_deep=False)


def test_the_quoted_spans_of_area_are_what_one_blower_more_or_less_stands_for():
    floor_few, floor_many = map(
        float, QUOTED["air movers", "wet floor (covers lower wall to about 2 ft)"]["value"].split("-")
    )
    upper_few, upper_many = map(float, QUOTED["air movers", "wet ceiling and wall above 2 ft"]["value"].split("-"))
    base = float(QUOTED["air movers", "base"]["value"])
    inset = float(QUOTED["air movers", "wall inset or offset deeper than 18 in"]["value"])

    floor = blowers_needed(wet_floor_m2=floor_few * floor_many * M2_PER_SQ_FT)
    upper = blowers_needed(wet_floor_m2=0, wet_upper_m2=upper_few * upper_many * M2_PER_SQ_FT)
    others = blowers_needed(wet_floor_m2=0, insets=3, rooms=2)

    assert (floor.low, floor.high) == (base + floor_few, base + floor_many)
    assert (upper.low, upper.high) == (base + upper_few, base + upper_many)
    assert (others.low, others.high) == (2 * base + 3 * inset, 2 * base + 3 * inset)


@pytest.mark.parametrize("row", BLOWERS, ids=lambda row: row["inputs"])
def test_blowers_agree_with_the_worked_examples(row):
    """Worked out apart from the same quoted rule. The second tells rounding the sum from rounding each term."""
    advice = blowers_needed(
        wet_floor_m2=stated(r"wet floor (\d+) sq ft", row["inputs"]) * M2_PER_SQ_FT,
        wet_upper_m2=stated(r"wet ceiling (\d+) sq ft", row["inputs"]) * M2_PER_SQ_FT,
        insets=int(stated(r"(\d+) inset", row["inputs"])),
    )

    answers = {int(answer) for answer in re.findall(r"-> (\d+)", row["value"])}
    assert answers == {4}
    assert {advice.low, advice.high} == answers
    assert advice.text == "4 blowers"


def test_the_class_of_water_agrees_with_the_published_share():
    (row,) = (row for row in EXAMPLES if row["topic"] == "class of water")
    wet_sq_ft, total_sq_ft = map(float, re.search(r"= (\d+) of (\d+) sq ft", row["inputs"]).groups())

    found = water_class(wet_sq_ft * M2_PER_SQ_FT, total_sq_ft * M2_PER_SQ_FT, is_deep=False)

    assert 100 * wet_sq_ft / total_sq_ft == pytest.approx(stated(r"([\d.]+) % wet", row["value"]), abs=0.05)
    assert found == stated(r"class (\d)", row["value"])


def test_the_classes_change_at_the_quoted_shares():
    first, last = map(float, QUOTED["class of water", "class 2"]["value"].split("-"))

    classes = [share_class(percent) for percent in (0, first - 0.01, first, last, last + 0.01, 100)]

    assert QUOTED["class of water", "class 1"]["value"] == f"<{first:g}"
    assert QUOTED["class of water", "class 3"]["value"] == f">{last:g}"
    assert classes == [1, 1, 2, 2, 3, 3]
    assert water_class(1, 100, is_deep=True) == 4


@pytest.mark.parametrize("water", CUBIC_FT_PER_PINT)
def test_the_divisors_are_the_quoted_ones(water):
    quoted = float(QUOTED["dehumidifier", f"conventional refrigerant, class {water}"]["value"])

    advice = dehumidifier_pints_per_day(quoted * M3_PER_CUBIC_FT, water)

    assert advice.low == advice.high == pytest.approx(1)


@pytest.mark.parametrize("row", PINTS, ids=lambda row: row["inputs"])
def test_pints_a_day_agree_with_the_worked_examples(row):
    volume_m3 = stated(r"(\d+) cu ft", row["inputs"]) * M3_PER_CUBIC_FT

    advice = dehumidifier_pints_per_day(volume_m3, int(stated(r"class (\d)", row["inputs"])))

    expected = stated(r"= ([\d.]+) AHAM", row["value"])
    assert advice.low == pytest.approx(expected, abs=0.05)
    assert advice.text == f"{expected:.0f} pints of water a day"


def test_both_conventional_examples_are_read():
    assert len(PINTS) == 2
    assert len(BLOWERS) == 2


def test_class_four_is_refused_in_words_and_never_divided():
    assert QUOTED["dehumidifier", "conventional refrigerant, class 4"]["value"] == "N/A"

    refused = dehumidifier_pints_per_day(50, 4)

    assert isinstance(refused, NoAdvice)
    assert "none is worked out" in refused.words


def test_the_working_range_on_the_page_is_the_quoted_one():
    low_f, high_f = QUOTED["dehumidifier", "refrigerant working range"]["value"].split("-")

    assert any(f"{low_f} to {high_f} F" in note for note in DEHUMIDIFIER_NOTES)
