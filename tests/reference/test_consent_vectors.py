"""Consent thresholds against worked rows, and the starting points against the table of laws they were read from.

Sources: consent_rules.csv (its own law and source columns); consent_threshold_vectors.csv is arithmetic on its rows.
"""

import csv
from datetime import date
from decimal import Decimal
from pathlib import Path

import pytest

from estimates.calc.consent import STRICTEST, Agreed, ConsentRule, needs_consent
from estimates.calc.consent_rules import CHECK, STARTING_POINTS, starting_point

DATA = Path(__file__).parent / "data"


def rows(name):
    with (DATA / name).open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


VECTORS = rows("consent_threshold_vectors.csv")
LAWS = {row["jurisdiction"]: row for row in rows("consent_rules.csv")}
PLACES = {
    "florida": "Florida",
    "california": "California",
    "washington": "Washington",
    "michigan": "Michigan",
    "illinois": "Illinois",
    "illinois_price_limit": "Illinois",
    "maryland": "Maryland",
    "ohio": "Ohio",
    "wisconsin": "Wisconsin",
    "north_carolina": "North Carolina",
    "alaska": "Alaska",
    "ontario": "Ontario (CA)",
}
# Massachusetts is known second hand, so it is no starting point; its vector is arithmetic all the same.
TEN_DOLLARS = ConsentRule(
    combine="dollar",
    dollar_usd=Decimal(10),
    is_later_date_counted=False,
    is_changed_method_counted=False,
    is_new_item_counted=False,
)
RULES = {
    "FL": starting_point("florida").rule,
    "WA": starting_point("washington").rule,
    "CA": starting_point("california").rule,
    "WI": starting_point("wisconsin").rule,
    "IL": starting_point("illinois").rule,
    "MA (secondary source)": TEN_DOLLARS,
    "strictest default (any cent over, any new item, any later date)": STRICTEST,
}
# A tax that would carry every row over its threshold, so that a rule before tax is seen to leave it out.
TAX = Decimal("400.00")


def scope(usd, *, taxed_usd=None):
    return Agreed(taxed_usd or usd, usd, frozenset({"Roof seam"}), {"Roof seam": "seal"}, date(2026, 3, 12))


def test_every_row_of_the_vectors_is_checked():
    assert len(VECTORS) == 11
    assert {row["jurisdiction"] for row in VECTORS} == set(RULES)


@pytest.mark.parametrize("row", VECTORS, ids=lambda row: f"{row['jurisdiction'][:9]} {row['proposed_total_usd']}")
def test_a_rise_needs_consent_as_the_row_says(row):
    agreed = scope(Decimal(row["estimate_usd"]))
    proposed = scope(Decimal(row["proposed_total_usd"]))

    answer = needs_consent(agreed, proposed, RULES[row["jurisdiction"]])

    assert answer.is_needed == (row["needs_new_consent"] == "yes")
    assert bool(answer.reasons) == answer.is_needed


@pytest.mark.parametrize("row", [row for row in VECTORS if row["pretax"]], ids=lambda row: row["jurisdiction"])
def test_a_rule_before_tax_does_not_see_the_tax(row):
    before, after = Decimal(row["estimate_usd"]), Decimal(row["proposed_total_usd"])

    answer = needs_consent(scope(before), scope(after, taxed_usd=after + TAX), RULES[row["jurisdiction"]])

    assert answer.is_needed == (row["needs_new_consent"] == "yes")


@pytest.mark.parametrize("key", PLACES)
def test_a_starting_point_says_what_its_row_says(key):
    point, row = starting_point(key), LAWS[PLACES[key]]

    assert row["status"] == point.status == "published"
    assert point.law == row["law"]
    assert all(part.split()[0] in row["source"] for part in point.source.split("; "))
    if key != "illinois_price_limit":
        assert (point.rule.pct, point.rule.dollar_usd) == (Decimal(row["pct"]), Decimal(row["dollar"]))
    assert (point.rule.base == "pretax") == row["tax_in_base"].startswith("excluded")
    assert (point.rule.cap_usd == Decimal(50)) == ("capped at $50" in row["combine"])
    words = {"greater": "max(", "lesser": "min(", "percent": "10%", "any_excess": "any excess"}
    assert words[point.rule.combine] in row["combine"]


def test_every_published_threshold_is_a_starting_point_and_no_other():
    published = {name for name, row in LAWS.items() if row["status"] == "published" and row["pct"]}

    assert set(PLACES.values()) == published
    assert {point.key for point in STARTING_POINTS} == {"strictest", *PLACES}


@pytest.mark.parametrize("point", STARTING_POINTS, ids=lambda point: point.key)
def test_each_starting_point_tells_the_shop_to_check_and_claims_nothing(point):
    label = point.label

    assert CHECK in label
    assert "heck local law" in label
    assert not {"compliant", "complies", "legal advice", "guarantee"} & set(label.lower().split())
    assert point.source
    assert point.words


def test_an_unknown_starting_point_is_refused():
    with pytest.raises(ValueError, match="key must be one of strictest, florida"):
        starting_point("atlantis")
