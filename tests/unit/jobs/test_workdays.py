"""Working time across nights, closures and clock changes."""

from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.workdays import ShopCalendar

CHICAGO = ZoneInfo("America/Chicago")
WEEKDAYS = tuple((weekday, time(8), time(16, 30)) for weekday in range(5))
SHOP = ShopCalendar("America/Chicago", WEEKDAYS)
ZERO = timedelta(0)

ZONES = st.sampled_from(
    [
        "America/Chicago",
        "Europe/Berlin",
        "Australia/Lord_Howe",
        "America/Phoenix",
        "Asia/Kolkata",
        "America/Havana",
        "America/Nuuk",
    ]
)
TIMES = st.times().map(lambda moment: moment.replace(second=0, microsecond=0))
SPANS = st.tuples(TIMES, TIMES).filter(lambda span: span[0] < span[1])
HOURS = st.lists(st.tuples(st.integers(0, 6), SPANS).map(lambda day: (day[0], *day[1])), min_size=1, max_size=8)
DAYS = st.dates(date(2026, 1, 1), date(2027, 12, 31))
CLOSURES = st.lists(st.tuples(DAYS, st.integers(0, 20)).map(lambda c: (c[0], c[0] + timedelta(days=c[1]))), max_size=3)
CALENDARS = st.builds(ShopCalendar, time_zone=ZONES, weekly=HOURS.map(tuple), closures=CLOSURES.map(tuple))
MOMENTS = st.datetimes(datetime(2026, 1, 1), datetime(2027, 12, 31), timezones=st.just(UTC))  # noqa: DTZ001
AMOUNTS = st.integers(0, 60 * 200).map(lambda minutes: timedelta(minutes=minutes))


def local(*parts, zone=CHICAGO, fold=0):
    return datetime(*parts, tzinfo=zone, fold=fold)


def hours(number):
    return timedelta(hours=number)


def test_work_stops_at_night_and_goes_on_in_the_morning():
    monday_noon = local(2026, 6, 1, 12)

    assert SHOP.add_working(monday_noon, hours(6)) == local(2026, 6, 2, 9, 30)
    assert SHOP.working_between(monday_noon, local(2026, 6, 2, 9, 30)) == hours(6)


@pytest.mark.parametrize(
    ("at", "closing"),
    [
        (local(2026, 6, 1, 6), local(2026, 6, 1, 16, 30)),
        (local(2026, 6, 1, 12), local(2026, 6, 1, 16, 30)),
        (local(2026, 6, 1, 18), local(2026, 6, 1, 18)),
        (local(2026, 6, 6, 10), local(2026, 6, 6, 10)),  # a Saturday
        (local(2026, 11, 1, 23, 30), local(2026, 11, 1, 23, 30)),  # Monday by UTC, Sunday at the shop
    ],
)
def test_closing_time_is_that_of_the_shops_own_day(at, closing):
    assert SHOP.closing_of(at) == closing


def test_closing_time_is_the_end_of_the_last_shift_of_the_day():
    split = ShopCalendar("America/Chicago", ((0, time(13), time(17)), (0, time(8), time(12))))

    assert split.closing_of(local(2026, 6, 1, 9)) == local(2026, 6, 1, 17)


def test_work_asked_for_on_saturday_starts_on_monday():
    saturday = local(2026, 6, 6, 10)

    assert SHOP.next_open(saturday) == local(2026, 6, 8, 8)
    assert SHOP.add_working(saturday, hours(1)) == local(2026, 6, 8, 9)


def test_work_that_just_fills_the_day_is_over_when_the_shop_closes():
    assert SHOP.add_working(local(2026, 6, 1, 8), hours(8.5)) == local(2026, 6, 1, 16, 30)


def test_no_work_at_all_is_over_at_the_next_open_moment():
    assert SHOP.add_working(local(2026, 6, 1, 20), ZERO) == local(2026, 6, 2, 8)
    assert SHOP.next_open(local(2026, 6, 1, 12)) == local(2026, 6, 1, 12)
    assert SHOP.next_open(local(2026, 6, 1, 16, 30)) == local(2026, 6, 2, 8)


def test_a_closure_counts_with_its_first_and_its_last_day():
    shop = ShopCalendar("America/Chicago", WEEKDAYS, ((date(2026, 7, 2), date(2026, 7, 3)),))

    assert shop.add_working(local(2026, 7, 1, 16), hours(1)) == local(2026, 7, 6, 8, 30)
    assert shop.workdays_between(date(2026, 6, 29), date(2026, 7, 6)) == 3


def test_a_lunch_break_is_not_worked():
    shop = ShopCalendar("America/Chicago", ((0, time(8), time(12)), (0, time(12, 45), time(17))))

    assert shop.working_between(local(2026, 6, 1), local(2026, 6, 2)) == hours(8.25)
    assert shop.add_working(local(2026, 6, 1, 11, 30), hours(1)) == local(2026, 6, 1, 13, 15)


def test_hours_that_overlap_are_worked_once():
    shop = ShopCalendar("America/Chicago", ((0, time(12), time(17)), (0, time(8), time(13)), (0, time(9), time(10))))

    assert shop.shifts(local(2026, 6, 1), local(2026, 6, 2)) == [(local(2026, 6, 1, 8), local(2026, 6, 1, 17))]


def test_shifts_are_in_utc_and_clipped_to_the_moments_asked_for():
    shifts = SHOP.shifts(local(2026, 6, 1, 10), local(2026, 6, 2, 9))

    assert shifts == [
        (datetime(2026, 6, 1, 15, tzinfo=UTC), datetime(2026, 6, 1, 21, 30, tzinfo=UTC)),
        (datetime(2026, 6, 2, 13, tzinfo=UTC), datetime(2026, 6, 2, 14, tzinfo=UTC)),
    ]
    assert {moment.tzinfo for shift in shifts for moment in shift} == {UTC}


def test_nothing_lies_between_a_moment_and_an_earlier_one():
    assert SHOP.shifts(local(2026, 6, 2, 12), local(2026, 6, 1, 12)) == []
    assert SHOP.working_between(local(2026, 6, 2, 12), local(2026, 6, 1, 12)) == ZERO


def test_the_day_is_the_shops_day():
    assert SHOP.local_date(datetime(2026, 6, 2, 4, 59, tzinfo=UTC)) == date(2026, 6, 1)
    assert SHOP.local_date(datetime(2026, 6, 2, 5, 0, tzinfo=UTC)) == date(2026, 6, 2)


def test_the_same_opening_time_is_an_hour_earlier_in_utc_after_the_clocks_go_forward():
    friday, monday = local(2026, 3, 6, 16), local(2026, 3, 9, 8, 30)

    assert SHOP.add_working(friday, hours(1)) == monday
    assert monday.astimezone(UTC).hour == 13
    assert friday.astimezone(UTC).hour == 22


@pytest.mark.parametrize(
    ("zone", "change_on", "elapsed"),
    [
        # The date rules are public law; that the installed zone data hold them is checked in tests/reference.
        ("America/Chicago", date(2026, 3, 8), hours(7)),
        ("America/Chicago", date(2026, 11, 1), hours(9)),
        ("Europe/Berlin", date(2026, 3, 29), hours(7)),
        ("Europe/Berlin", date(2026, 10, 25), hours(9)),
        ("Australia/Lord_Howe", date(2026, 10, 4), hours(7.5)),
        ("Australia/Lord_Howe", date(2026, 4, 5), hours(8.5)),
        ("America/Phoenix", date(2026, 3, 8), hours(8)),
    ],
)
def test_a_night_shift_over_the_clock_change_has_its_real_length(zone, change_on, elapsed):
    shop = ShopCalendar(zone, tuple((weekday, time(0), time(8)) for weekday in range(7)))
    midnight = datetime.combine(change_on, time(0), tzinfo=ZoneInfo(zone))

    assert shop.working_between(midnight, midnight + timedelta(days=1)) == elapsed
    assert shop.add_working(midnight, elapsed) == datetime.combine(change_on, time(8), tzinfo=ZoneInfo(zone))


def test_the_hour_that_comes_twice_is_worked_twice():
    shop = ShopCalendar("America/Chicago", ((6, time(0), time(8)),))
    first, second = local(2026, 11, 1, 1, 45), local(2026, 11, 1, 1, 15, fold=1)

    assert shop.working_between(first, second) == hours(0.5)
    assert shop.add_working(first, hours(0.5)) == second.astimezone(UTC)


def test_a_shift_that_lies_in_the_skipped_hour_neither_breaks_nor_counts_below_zero():
    shop = ShopCalendar("America/Chicago", ((6, time(2, 30), time(3, 15)), (0, time(8), time(9))))
    sunday = local(2026, 3, 8)

    assert shop.working_between(sunday, local(2026, 3, 9)) == ZERO
    assert shop.next_open(sunday) == local(2026, 3, 9, 8)


def test_a_shop_without_hours_never_opens():
    for shop in (
        ShopCalendar("America/Chicago", ()),
        ShopCalendar("America/Chicago", WEEKDAYS, ((date(2026, 1, 1), date(2030, 1, 1)),)),
    ):
        with pytest.raises(ValueError, match="no opening hours within two years"):
            shop.next_open(local(2026, 6, 1))
        with pytest.raises(ValueError, match="no opening hours within two years"):
            shop.add_working(local(2026, 6, 1), hours(1))
        assert shop.shifts(local(2026, 6, 1), local(2027, 6, 1)) == []


def test_work_may_take_more_than_two_years_while_the_shop_opens():
    one_hour_a_week = ShopCalendar("America/Chicago", ((0, time(8), time(9)),))

    assert one_hour_a_week.add_working(local(2026, 6, 1), hours(157)) == local(2029, 5, 28, 9)


def test_a_closure_of_just_under_two_years_is_waited_out():
    shop = ShopCalendar("America/Chicago", WEEKDAYS, ((date(2026, 6, 1), date(2028, 5, 26)),))

    assert shop.next_open(local(2026, 6, 1)) == local(2028, 5, 29, 8)


@pytest.mark.parametrize(
    ("weekly", "closures", "words"),
    [
        (((7, time(8), time(9)),), (), "weekday"),
        (((0, time(9), time(8)),), (), "close after it opens"),
        ((), ((date(2026, 1, 2), date(2026, 1, 1)),), "closures"),
    ],
)
def test_a_calendar_that_cannot_be_is_refused(weekly, closures, words):
    with pytest.raises(ValueError, match=words):
        ShopCalendar("America/Chicago", weekly, closures)


def test_moments_without_a_zone_and_amounts_below_zero_are_refused():
    naive = datetime(2026, 6, 1, 12)  # noqa: DTZ001

    with pytest.raises(ValueError, match="time zone"):
        SHOP.next_open(naive)
    with pytest.raises(ValueError, match="amount"):
        SHOP.add_working(local(2026, 6, 1), -hours(1))


@given(CALENDARS, MOMENTS, AMOUNTS)
def test_what_is_added_is_what_is_measured(calendar, start_at, amount):
    end_at = calendar.add_working(start_at, amount)

    assert calendar.working_between(start_at, end_at) == amount


@given(CALENDARS, MOMENTS, AMOUNTS, AMOUNTS)
def test_more_work_is_never_over_sooner(calendar, start_at, one, other):
    less, more = sorted([one, other])

    assert calendar.add_working(start_at, less) <= calendar.add_working(start_at, more)


@given(CALENDARS, MOMENTS, AMOUNTS, AMOUNTS)
def test_a_later_start_never_ends_sooner(calendar, start_at, later, amount):
    assert calendar.add_working(start_at, amount) <= calendar.add_working(start_at + later, amount)


@given(CALENDARS, MOMENTS, AMOUNTS, AMOUNTS)
def test_two_stretches_measured_apart_add_up_to_the_whole(calendar, start_at, one, other):
    middle_at, end_at = start_at + one, start_at + one + other

    apart = calendar.working_between(start_at, middle_at) + calendar.working_between(middle_at, end_at)

    assert calendar.working_between(start_at, end_at) == apart
    assert ZERO <= apart <= end_at - start_at


@given(CALENDARS, MOMENTS, AMOUNTS)
def test_shifts_are_in_order_apart_and_within_the_moments_asked_for(calendar, from_at, span):
    edges = [moment for shift in calendar.shifts(from_at, from_at + span) for moment in shift]

    assert all(one < other for one, other in zip(edges[::2], edges[1::2], strict=True))
    assert all(one <= other for one, other in pairwise(edges))
    assert all(from_at <= edge <= from_at + span for edge in edges)


@given(CALENDARS, DAYS, DAYS, DAYS)
def test_days_counted_forth_and_back_cancel_and_stretches_add_up(calendar, first, second, third):
    assert calendar.workdays_between(first, second) == -calendar.workdays_between(second, first)
    whole = calendar.workdays_between(first, second) + calendar.workdays_between(second, third)
    assert calendar.workdays_between(first, third) == whole
