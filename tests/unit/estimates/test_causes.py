"""Days of an overrun add up."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.plan.causes import DateChange, Step, attribute

DAY = date(2026, 3, 2)


def on(days):
    return DAY + timedelta(days=days)


def test_each_cause_keeps_its_days_and_they_add_up():
    changes = [
        DateChange(on(1), on(4), "finding", "Finding 3"),
        DateChange(on(4), on(6), "answer", "Owner's answer"),
        DateChange(on(6), on(5), "finding", "Finding 3"),
    ]

    steps = attribute(on(0), on(1), changes)

    assert steps == (
        Step("promise", "Plan when the date was promised", 1),
        Step("finding", "Finding 3", 2),
        Step("answer", "Owner's answer", 2),
    )


@given(st.integers(-9, 9), st.lists(st.tuples(st.integers(-9, 9), st.sampled_from("abc")), max_size=12))
def test_days_always_add_up_to_expected_minus_promised(first, moves):
    at, changes = on(first), []
    for days, cause in moves:
        changes.append(DateChange(at, at + timedelta(days=days), cause, cause))
        at += timedelta(days=days)

    steps = attribute(DAY, on(first), changes)

    assert sum(step.days for step in steps) == (at - DAY).days
    assert all(step.days for step in steps)


def test_a_gap_in_the_chain_is_refused():
    with pytest.raises(ValueError, match="chain"):
        attribute(DAY, on(1), [DateChange(on(2), on(3), "a", "a")])
