"""Tax rounding against published and worked rows."""

import csv
from decimal import Decimal
from pathlib import Path

import pytest

from estimates.calc.money import PriceLine, TaxRule, bill, bill_line, tax_usd

with (Path(__file__).parent / "data" / "tax_rounding_vectors.csv").open(encoding="utf-8", newline="") as file:
    ROWS = list(csv.DictReader(file))


def lines_of(row):
    return [
        PriceLine(str(number), "line", "material", Decimal(1), "each", Decimal(text), Decimal(text), "owner", True)
        for number, text in enumerate(row["lines"].split("|"))
    ]


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
def test_tax_is_rounded_as_each_row_says(row):
    rate = Decimal(row["rate"])

    assert tax_usd(lines_of(row), rate=rate, basis="item") == Decimal(row["tax_item_basis_half_up"])
    assert tax_usd(lines_of(row), rate=rate, basis="invoice") == Decimal(row["tax_invoice_basis_half_up"])
    if row["published_invoice_basis"]:
        assert tax_usd(lines_of(row), rate=rate, basis="invoice") == Decimal(row["published_invoice_basis"])


@pytest.mark.parametrize("row", ROWS, ids=lambda row: row["id"])
@pytest.mark.parametrize(
    ("basis", "column"), [("item", "tax_item_basis_half_up"), ("invoice", "tax_invoice_basis_half_up")]
)
def test_a_bill_is_taxed_as_each_row_says(row, basis, column):
    rule = TaxRule({"parts": Decimal(row["rate"])}, basis)

    whole = bill([bill_line(line) for line in lines_of(row)], rule)

    assert whole.tax_usd == whole.of("owner").tax_usd == Decimal(row[column])
