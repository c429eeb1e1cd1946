"""The template filters: what a person reads."""

from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
import time_machine
from django.template import Context, Template

from jobs.models import Shop
from shopfloor.templatetags.shop import (
    age,
    hours,
    length,
    money,
    near_date,
    near_day,
    shop_date,
    shop_time,
    signed_days,
)

CHICAGO = Shop(time_zone="America/Chicago", units="us")
BERLIN = Shop(time_zone="Europe/Berlin", units="metric")


@pytest.mark.parametrize(
    ("usd", "printed"),
    [
        (Decimal("1234.5"), "$1,234.50"),
        (Decimal(0), "$0.00"),
        (7, "$7.00"),
        (Decimal("-12"), "-$12.00"),
        (Decimal("0.005"), "$0.01"),
        (Decimal("-0.001"), "$0.00"),
        (Decimal("1000000"), "$1,000,000.00"),
    ],
)
def test_money_is_printed_to_the_cent(usd, printed):
    assert money(usd) == printed


def test_money_refuses_a_float():
    with pytest.raises(TypeError, match="Decimal"):
        money(12.5)


@pytest.mark.parametrize(
    ("number", "printed"),
    [(2.5, "2.5 h"), (2, "2 h"), (0.25, "0.25 h"), (10.0, "10 h"), (100, "100 h"), (1 / 3, "0.33 h"), (-0.001, "0 h")],
)
def test_hours_keep_only_the_decimals_they_need(number, printed):
    assert hours(number) == printed


def test_a_length_is_printed_in_the_units_of_the_shop():
    assert length(1917.7, CHICAGO) == "6' 3 1/2\""
    assert length(1920, BERLIN) == "1.92 m"


@pytest.fixture(autouse=True)
def in_november():
    with time_machine.travel(datetime(2026, 11, 25, 18, tzinfo=UTC), tick=False):
        yield


def test_a_time_of_another_year_says_so():
    assert shop_time(datetime(2027, 11, 25, 13, 0, tzinfo=UTC), CHICAGO) == "Thu, Nov 25, 2027, 7:00 AM"
    assert shop_time(datetime(2025, 12, 31, 20, 0, tzinfo=UTC), CHICAGO) == "Wed, Dec 31, 2025, 2:00 PM"


def test_a_day_in_full_names_another_year_too():
    assert near_day(date(2026, 11, 30)) == "Monday, November 30"
    assert near_day(date(2027, 11, 30)) == "Tuesday, November 30, 2027"


def test_a_time_is_printed_on_the_clock_of_the_shop():
    at = datetime(2026, 11, 25, 21, 10, tzinfo=UTC)

    assert shop_time(at, CHICAGO) == "Wed, Nov 25, 3:10 PM"
    assert shop_time(at, BERLIN) == "Wed, Nov 25, 10:10 PM"


@pytest.mark.parametrize(
    ("utc_hour", "printed"), [(6, "Sun, Nov 1, 1:30 AM"), (7, "Sun, Nov 1, 1:30 AM"), (8, "Sun, Nov 1, 2:30 AM")]
)
def test_the_hour_that_comes_twice_in_autumn_is_printed_as_the_wall_clock_shows_it(utc_hour, printed):
    assert shop_time(datetime(2026, 11, 1, utc_hour, 30, tzinfo=UTC), CHICAGO) == printed


def test_the_hour_that_is_skipped_in_spring_is_never_printed():
    assert shop_time(datetime(2026, 3, 8, 7, 59, tzinfo=UTC), CHICAGO) == "Sun, Mar 8, 1:59 AM"
    assert shop_time(datetime(2026, 3, 8, 8, 0, tzinfo=UTC), CHICAGO) == "Sun, Mar 8, 3:00 AM"


def test_a_time_without_its_zone_is_refused():
    with pytest.raises(ValueError, match="time zone"):
        shop_time(datetime(2026, 11, 25, 21, 10), CHICAGO)  # noqa: DTZ001


def test_a_day_is_printed_with_its_year():
    assert shop_date(date(2026, 11, 25)) == "Wed, Nov 25, 2026"


def test_the_day_of_a_moment_is_the_day_at_the_shop():
    at = datetime(2026, 11, 26, 3, 0, tzinfo=UTC)

    assert shop_date(at, CHICAGO) == "Wed, Nov 25, 2026"
    assert shop_date(at, BERLIN) == "Thu, Nov 26, 2026"


def test_the_day_of_a_moment_cannot_be_told_without_the_shop():
    with pytest.raises(TypeError, match="needs the shop"):
        shop_date(datetime(2026, 11, 26, 3, 0, tzinfo=UTC))


@pytest.mark.parametrize(
    ("span", "printed"),
    [
        (timedelta(seconds=59), "under a minute"),
        (timedelta(minutes=1), "1 minute"),
        (timedelta(minutes=59, seconds=59), "59 minutes"),
        (timedelta(hours=3, minutes=50), "3 hours"),
        (timedelta(days=1), "1 day"),
        (timedelta(days=2, hours=23), "2 days"),
        (timedelta(minutes=-5), "under a minute"),
    ],
)
def test_an_age_is_printed_in_its_largest_whole_unit(span, printed):
    assert age(span) == printed


@pytest.mark.parametrize(
    ("days", "printed"), [(3, "+3 days"), (1, "+1 day"), (-1, "-1 day"), (-4, "-4 days"), (0, "0 days")]
)
def test_days_carry_their_sign(days, printed):
    assert signed_days(days) == printed


@pytest.mark.parametrize("empty", [None, ""])
def test_nothing_is_printed_where_there_is_nothing(empty):
    assert [money(empty), hours(empty), age(empty), signed_days(empty), shop_date(empty)] == [""] * 5
    assert [length(empty, CHICAGO), shop_time(empty, CHICAGO)] == [""] * 2


@pytest.mark.parametrize("filter_function", [age, signed_days, shop_date])
def test_a_value_of_the_wrong_kind_is_a_defect_and_is_refused(filter_function):
    with pytest.raises(TypeError, match="cannot print"):
        filter_function("tomorrow")


def test_every_template_has_the_filters_without_loading_them():
    template = Template("{{ usd|money }} {{ mm|length:shop }} {{ missing|money }}")

    # Quotation marks of feet and inches are escaped like any other text.
    assert template.render(Context({"usd": Decimal(5), "mm": 304.8, "shop": CHICAGO})) == "$5.00 1&#x27; 0&quot; "


def test_without_a_shop_length_counts_as_djangos_own_filter_does():
    assert Template("{{ many|length }} {{ missing|length }}").render(Context({"many": [1, 2, 3]})) == "3 0"


@pytest.mark.parametrize(
    ("day", "printed"),
    [
        (date(2026, 12, 31), "Thu, Dec 31"),
        (date(2027, 1, 4), "Mon, Jan 4, 2027"),
        (date(2025, 12, 31), "Wed, Dec 31, 2025"),
        (date(2026, 1, 12), "Mon, Jan 12, 2026"),
        (date(2026, 3, 4), "Wed, Mar 4"),
        (None, ""),
        ("", ""),
    ],
)
def test_a_near_day_names_its_year_only_where_that_is_another_or_it_is_far_away(day, printed):
    with time_machine.travel(datetime(2026, 11, 26, 18, tzinfo=UTC), tick=False):
        assert near_date(day) == printed


def test_a_near_day_refuses_what_is_no_day():
    with pytest.raises(TypeError, match="cannot print"):
        near_date("2026-11-26")
