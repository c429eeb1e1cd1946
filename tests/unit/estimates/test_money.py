"""Money: rounded once, nothing lost."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.money import PriceLine, decimal_quantity, line_amount, round_cents, tax_usd, totals

cents = st.integers(0, 10_000_00).map(lambda number: Decimal(number) / 100)
lines = st.lists(
    st.builds(
        lambda amount, kind, payer, taxed: PriceLine("k", "w", kind, Decimal(1), "each", amount, amount, payer, taxed),
        cents,
        st.sampled_from(["labour", "material"]),
        st.sampled_from(["owner", "shop"]),
        st.booleans(),
    ),
    max_size=12,
)


@pytest.mark.parametrize(
    ("amount", "rounded"),
    [("0.525", "0.53"), ("0.524999", "0.52"), ("1.005", "1.01"), ("2.675", "2.68"), ("0", "0.00")],
)
def test_cents_are_rounded_half_up(amount, rounded):
    assert round_cents(Decimal(amount)) == Decimal(rounded)


@given(lines, st.integers(0, 2500), st.sampled_from(["item", "invoice"]))
def test_parts_sum_to_the_whole_and_the_shops_lines_cost_the_owner_nothing(all_lines, rate, basis):
    summed = totals(all_lines, tax_rate=Decimal(rate) / 10000, tax_basis=basis)

    own = [line for line in all_lines if line.payer == "owner"]
    assert (
        summed.labour_usd + summed.material_usd
        == summed.subtotal_usd
        == sum((line.amount_usd for line in own), Decimal(0))
    )
    assert summed.subtotal_usd + summed.tax_usd == summed.total_usd
    assert summed == totals(own, tax_rate=Decimal(rate) / 10000, tax_basis=basis)


@given(st.floats(0, 1e6, allow_nan=False))
def test_a_quantity_is_made_exact_within_half_a_unit_of_its_last_place(value):
    assert abs(decimal_quantity(value, 2) - Decimal(value)) <= Decimal("0.0050001")


@pytest.mark.parametrize("value", [-1.0, float("nan"), float("inf")])
def test_a_quantity_that_is_none_is_refused(value):
    with pytest.raises(ValueError, match="value must be a number"):
        decimal_quantity(value, 2)


def test_an_unknown_tax_rule_is_refused():
    with pytest.raises(ValueError, match="basis must be"):
        tax_usd([], rate=Decimal("0.05"), basis="guess")
    with pytest.raises(ValueError, match="rate must be"):
        tax_usd([], rate=Decimal(5), basis="item")


def test_a_line_is_rounded_once():
    assert line_amount(Decimal("2.35"), Decimal("118.00")) == Decimal("277.30")
    assert line_amount(Decimal("0.333"), Decimal("0.05")) == Decimal("0.02")
