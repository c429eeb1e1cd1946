"""What people type into the fields for money and quantities."""

from decimal import Decimal

import pytest
from django.core.exceptions import ValidationError

from jobs.fields import COMMA_WORDS, HundredthsField, MoneyField

pytestmark = pytest.mark.one_database


@pytest.mark.parametrize(
    ("typed", "usd"),
    [
        ("1,000.00", "1000.00"),
        ("$1,000.00", "1000.00"),
        (" $ 12,345,678.9 ", "12345678.9"),
        ("999,999", "999999"),
        ("1000.00", "1000.00"),
        ("12.5", "12.5"),
        ("0.05", "0.05"),
        ("-1,000.00", "-1000.00"),
    ],
)
def test_money_is_read_as_it_is_printed(typed, usd):
    assert MoneyField(max_digits=10).clean(typed) == Decimal(usd)


@pytest.mark.parametrize(
    "typed", ["1,00", "12,5", "131,50", "1,0000", "1000,000", "1,000,00", "0,500", "1.000,00", ",500", "1,", "1,000,"]
)
def test_a_comma_that_does_not_part_thousands_is_refused_in_words(typed):
    with pytest.raises(ValidationError) as refusal:
        MoneyField(max_digits=10).clean(typed)

    assert refusal.value.messages == [COMMA_WORDS]


@pytest.mark.parametrize("typed", ["five", "nan", "1,000 or so", "1;000"])
def test_what_is_no_number_is_told_so(typed):
    with pytest.raises(ValidationError) as refusal:
        MoneyField(max_digits=10).clean(typed)

    assert refusal.value.messages == ["Write a number, such as 12.5."]


def test_a_sum_too_long_for_its_column_is_refused_with_its_commas_too():
    with pytest.raises(ValidationError) as refusal:
        MoneyField(max_digits=10).clean("123,456,789.00")

    assert refusal.value.messages == ["At most 8 digits before the point, please."]


@pytest.mark.parametrize(("typed", "quantity"), [("2,5", "2.5"), ("2.5", "2.5")])
def test_a_quantity_takes_a_comma_for_the_point(typed, quantity):
    assert HundredthsField(max_digits=8).clean(typed) == Decimal(quantity)
