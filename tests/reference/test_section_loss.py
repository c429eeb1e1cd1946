"""Remaining sections against a table worked out apart from the code, and the decay note against its sources."""

import csv
from pathlib import Path

import pytest

from jobs.calc.moisture.section import EARLY_DECAY_NOTE, remaining_section

DATA = Path(__file__).parent / "data"
MM_PER_INCH = 25.4


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


TABLE = rows("section_loss_mechanics.csv")
RECTANGLES = [row for row in TABLE if row["depth_in"]]
ROUND = [row for row in TABLE if not row["depth_in"]]
DECAY = {row["item"]: row for row in rows("decay_strength.csv") if row["status"] == "published"}


def test_every_rectangle_of_the_table_is_checked_and_the_one_round_row_is_left_out():
    assert len(RECTANGLES) == 30
    assert [row["member"] for row in ROUND] == ["round, outer 44 % of radius lost"]


@pytest.mark.parametrize("row", RECTANGLES, ids=lambda row: f"{row['member']}, {row['soft_depth_in']} soft")
def test_remaining_sections_agree_with_the_table(row):
    """Pure arithmetic, printed to four decimals: half a unit of the last one is allowed."""
    left = remaining_section(float(row["depth_in"]) * MM_PER_INCH, float(row["soft_depth_in"]) * MM_PER_INCH)

    assert left.area == pytest.approx(float(row["area_ratio"]), abs=0.5e-4 + 1e-9)
    assert left.section_modulus == pytest.approx(float(row["section_modulus_ratio"]), abs=0.5e-4 + 1e-9)
    assert left.moment_of_inertia == pytest.approx(float(row["moment_of_inertia_ratio"]), abs=0.5e-4 + 1e-9)


def test_the_note_on_early_decay_says_what_its_published_sources_say():
    toughness = DECAY["toughness and impact bending"]
    beams = DECAY["strength loss"]

    assert toughness["value"] == "almost wholly lost"
    assert "below 10 %" in toughness["condition"]
    assert "Toughness is almost wholly lost before a tenth of the weight" in EARLY_DECAY_NOTE
    assert DECAY["early decay"]["value"].startswith("looks unchanged")
    assert "early decay looks like sound wood" in EARLY_DECAY_NOTE
    assert beams["condition"].startswith("6 weeks at 25 and 35 C")
    assert beams["value"].replace("-", " to ") in EARLY_DECAY_NOTE
