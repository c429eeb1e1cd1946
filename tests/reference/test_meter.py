"""Pin meter corrections against James 1988 and published temperature rules."""

import csv
from pathlib import Path

import pytest

from jobs.calc.moisture.meter import (
    MATERIALS,
    TEMPERATURE_RULES_DIFFER_POINTS,
    corrected_mc,
    resistance_megohm,
)
from jobs.calc.moisture.resistance import RESISTANCE_MEGOHM

DATA = Path(__file__).parent / "data"
PLAIN_KEYS = {"Douglas-fir (coast region)": "douglas_fir_coast"} | {
    "Philippine mahogany": "mahogany_philippine",
    "Mahogany (Swietenia)": "mahogany_swietenia",
}
RULE = "published rule, value computed"


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def key_of(species):
    return PLAIN_KEYS.get(species) or species.lower().replace(", ", "_").replace(" ", "_").replace("-", "_")


TABLE = [row for row in rows("meter_resistance_james1988.csv") if row["resistance_megohm"]]
BLANKS = [row for row in rows("meter_resistance_james1988.csv") if not row["resistance_megohm"]]
SPECIES = sorted({row["species"] for row in TABLE})
DERIVED = rows("meter_species_correction_derived.csv")
TEMPERATURES = rows("meter_temperature_correction.csv")
RULE_ROWS = [row for row in TEMPERATURES if row["status"] == RULE]
PUBLISHED = [row for row in TEMPERATURES if row["status"] == "published"]


def test_the_whole_table_is_there():
    assert len(SPECIES) == 36
    assert len(TABLE) == 682
    assert {key_of(species) for species in SPECIES} == set(RESISTANCE_MEGOHM)


@pytest.mark.parametrize("species", SPECIES)
def test_the_resistance_table_is_met_at_its_own_points(species):
    printed = {
        float(row["moisture_content_pct"]): float(row["resistance_megohm"])
        for row in TABLE
        if row["species"] == species
    }

    computed = {mc_pct: resistance_megohm(key_of(species), mc_pct) for mc_pct in printed}

    assert computed == pytest.approx(printed, rel=1e-12)


@pytest.mark.parametrize("row", BLANKS, ids=lambda row: row["species"])
def test_a_blank_cell_of_the_table_is_refused(row):
    with pytest.raises(ValueError, match="mc_pct must be 8 to 25"):
        resistance_megohm(key_of(row["species"]), float(row["moisture_content_pct"]))


def test_species_corrections_agree_with_arithmetic_done_apart_from_the_same_table():
    """The rows are printed to 0.01 point and hold no published correction, only the same arithmetic.

    Rows without a value are those where the wood's column ends first.
    """
    kept = [row for row in DERIVED if row["species_mc_pct"]]

    worst = 0.0
    for row in kept:
        computed = corrected_mc(float(row["meter_reading_douglas_fir_scale_pct"]), key_of(row["species"]), 20.0)
        assert "beyond" not in computed.how
        worst = max(worst, abs(computed.mc_pct - float(row["species_mc_pct"])))

    print(f"species corrections: {len(kept)} rows, worst {worst:.4f} point")
    assert len(kept) > 130
    assert worst <= 0.005 + 1e-9


@pytest.mark.parametrize(
    "row",
    [row for row in DERIVED if not row["species_mc_pct"]],
    ids=lambda row: f"{row['species']} {row['meter_reading_douglas_fir_scale_pct']}",
)
def test_where_a_column_ends_the_words_say_so(row):
    computed = corrected_mc(float(row["meter_reading_douglas_fir_scale_pct"]), key_of(row["species"]), 20.0)

    assert "beyond the correction table" in computed.how


@pytest.mark.parametrize("row", RULE_ROWS, ids=lambda row: f"{row['meter_reading_pct']} at {row['wood_temp_c']} C")
def test_the_published_temperature_rule_is_met(row):
    computed = corrected_mc(float(row["meter_reading_pct"]), "douglas_fir_coast", float(row["wood_temp_c"]))

    assert computed.mc_pct == pytest.approx(float(row["corrected_pct"]), abs=1e-9)


def test_other_published_temperature_examples_differ_by_at_most_the_stated_point():
    """One example (1 point per 20 F) and one maker's chart, both in whole numbers.

    The chart is stronger than the rule by a whole point at 10, 40 and 50 C. That is the known disagreement
    of published rules, not rounding; it is stated with the product's constant, not hidden in a tolerance.
    """
    differences = {}
    for row in PUBLISHED:
        computed = corrected_mc(float(row["meter_reading_pct"]), "douglas_fir_coast", float(row["wood_temp_c"]))
        label = f"{row['method'][:14]}: {row['meter_reading_pct']} at {row['wood_temp_c']} C"
        differences[label] = computed.mc_pct - float(row["corrected_pct"])

    for label, difference in differences.items():
        print(f"{label:32} {difference:+.2f} point")
    assert len(differences) == 5
    assert max(abs(value) for value in differences.values()) <= TEMPERATURE_RULES_DIFFER_POINTS + 1e-9
    assert differences["worked example: 7 at -1.1 C"] == pytest.approx(0, abs=0.5)


def test_every_wood_with_a_column_counts_as_corrected_and_nothing_else_does():
    assert {key for key, material in MATERIALS.items() if material.is_corrected} == set(RESISTANCE_MEGOHM)
