"""Totals beside their prices: the cent of tax that is rounded once on the whole bill."""

from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.adding_up import apart_words, rounding_words
from estimates.calc.money import BillLine, TaxRule, bill

pytestmark = pytest.mark.one_database


def usd(*amounts):
    return [Decimal(each) for each in amounts]


def total(lines, rate):
    return bill(lines, TaxRule({"parts": rate}, "invoice")).of("owner").total_usd


@pytest.mark.parametrize(
    ("sum_usd", "parts", "words"),
    [
        ("22.11", ["11.06", "11.06"], "1 cent less than"),
        ("22.13", ["11.06", "11.06"], "1 cent more than"),
        ("44.22", ["11.06", "11.06", "11.06", "11.06"], "2 cents less than"),
        ("20.00", ["11.06", "11.06"], "A discount or another payer counts in this"),
        ("22.12", ["11.06", "11.06"], ""),
    ],
)
def test_the_difference_is_said_in_words(sum_usd, parts, words):
    said = apart_words(Decimal(sum_usd), usd(*parts))

    assert words in said
    assert bool(said) == bool(words)


def test_what_is_too_far_apart_is_not_put_down_to_rounding():
    assert not rounding_words(Decimal("22.14"), usd("11.06", "11.06"))


@given(
    amounts=st.lists(st.integers(1, 500_000).map(lambda cents: Decimal(cents) / 100), min_size=2, max_size=5),
    rate=st.integers(1, 120_000).map(lambda each: Decimal(each) / 1_000_000),
)
def test_whatever_is_added_up_any_difference_is_within_what_rounding_explains(amounts, rate):
    lines = [BillLine(f"line{number}", "material", usd, "owner", "parts") for number, usd in enumerate(amounts)]

    prices = [total([line], rate) for line in lines]
    whole = total(lines, rate)

    assert bool(rounding_words(whole, prices)) == (whole != sum(prices))
