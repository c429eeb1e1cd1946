"""The back-test: what counts as said at a moment, which coaches count, and what the shares say."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.backtest import Course, Said, Share, back_test, pinball_loss, pinball_loss_days, share_range

BOOKED = date(2026, 3, 2)
TODAY = date(2026, 6, 1)


def day(number):
    return BOOKED + timedelta(days=number)


def said(on, even, safe, *, planned=None, promised=None):
    dates = [each if each is None else day(each) for each in (even, safe, promised)]
    return Said(day(on), day(even if planned is None else planned), *dates)


def course(*told, ready=20, arrived=7, opened=9):
    ended = [each if each is None else day(each) for each in (arrived, opened, ready)]
    return Course(BOOKED, *ended, tuple(told))


def rows(*courses, today=TODAY):
    return {row.moment: row for row in back_test(courses, today=today)}


def test_each_moment_takes_what_was_first_said_after_it():
    told = [said(number, 10 + number, 20 + number) for number in range(20)]

    found = rows(course(*told))

    assert list(found) == ["booking", "arrival", "opening", "week 1"]
    # Ready on day 20; said on days 0, 8, 10 and 14.
    assert [found[each].even.ready for each in found] == [0, 0, 1, 1]
    assert [found[each].safe.ready for each in found] == [1, 1, 1, 1]


def test_what_was_first_said_days_later_was_not_said_then():
    assert list(rows(course(said(4, 15, 20), said(12, 15, 20)))) == ["opening"]


def test_what_is_said_of_a_coach_that_is_ready_is_no_forecast():
    assert rows(course(said(10, 9, 9), ready=9)) == {}
    assert list(rows(course(said(10, 10, 11), ready=10))) == ["arrival", "opening"], "at the day’s beginning it is"


def test_a_coach_that_has_not_come_so_far_is_left_out():
    assert list(rows(course(said(0, 15, 20), arrived=None, opened=None, ready=None))) == ["booking"]


def test_a_date_counts_once_its_day_is_over_whether_the_coach_is_ready_or_not():
    early, late = course(said(0, 12, 25), ready=11), course(said(0, 12, 25), ready=None)

    while_open = rows(early, late, today=day(20))["booking"]
    over = rows(early, late, today=day(26))["booking"]

    assert (while_open.even.ready, while_open.even.of) == (1, 2)
    assert (while_open.safe.ready, while_open.safe.of, while_open.still_here) == (0, 0, 0)
    assert (over.safe.ready, over.safe.of, over.still_here) == (1, 2, 1)


def test_a_coach_without_odds_is_named_and_counted_nowhere():
    row = rows(course(said(0, None, None, planned=10, promised=12)))["booking"]

    assert (row.coaches, row.undated, row.even.of, row.scores) == (1, 1, 0, None)


def test_all_kinds_of_date_are_scored_over_the_same_coaches():
    first = course(said(0, 18, 22, planned=16, promised=24), ready=20)
    second = course(said(0, 18, 22, planned=16, promised=24), ready=26)
    unpromised = course(said(0, 18, 22), ready=90)
    still_here = course(said(0, 18, 22, promised=24), ready=None)

    scores = rows(first, second, unpromised, still_here)["booking"].scores

    assert scores.of == 2
    assert scores.even.even_cost_days == pytest.approx((2 + 8) / 2 / 2)
    assert scores.safe.safe_cost_days == pytest.approx((2 * 0.2 + 4 * 0.8) / 2)
    assert scores.plan.even_cost_days == pytest.approx((4 + 10) / 2 / 2)
    assert scores.promise.safe_cost_days == pytest.approx((4 * 0.2 + 2 * 0.8) / 2)
    assert (scores.plan.mean_late_days, scores.promise.mean_late_days) == (7, -1)
    assert scores.even.safe_cost_days is None, "an even date is not meant for four in five"


@pytest.mark.parametrize(
    ("share", "verdict"),
    [
        (Share(0, 0, 0.8), "few"),
        (Share(7, 9, 0.8), "few"),
        (Share(12, 15, 0.8), "fits"),
        (Share(2, 9, 0.8), "early"),
        (Share(60, 60, 0.8), "late"),
        (Share(5, 10, 0.5), "few"),
        (Share(6, 12, 0.5), "fits"),
        (Share(1, 12, 0.5), "early"),
        (Share(29, 30, 0.5), "late"),
    ],
)
def test_few_coaches_tell_nothing_unless_the_dates_are_far_off(share, verdict):
    assert share.verdict == verdict


@given(st.lists(st.integers(-30, 30), min_size=1, max_size=40), st.sampled_from([0.5, 0.8]))
def test_no_date_costs_less_than_the_one_that_held_for_its_share(late, share):
    """What makes the loss fair: whoever says the true quantile cannot be beaten."""
    ordered = sorted(late)
    held = ordered[-(-len(ordered) * round(share * 10) // 10) - 1]

    best = pinball_loss([(each, held) for each in late], share)

    assert all(best <= pinball_loss([(each, other) for each in late], share) + 1e-9 for other in range(-31, 32))


@pytest.mark.parametrize(
    "ask",
    [
        lambda: pinball_loss_days([], 0.5),
        lambda: pinball_loss([(1, 1)], 1.0),
        lambda: share_range(3, 2),
    ],
)
def test_what_cannot_be_scored_is_refused(ask):
    with pytest.raises(ValueError, match=r"\w"):
        ask()
