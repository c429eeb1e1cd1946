"""Days of an overrun add up."""

from datetime import date, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from estimates.calc.plan.causes import DateChange, Step, attribute, split

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


def test_each_change_keeps_what_it_moved_and_time_what_is_left():
    assert split(on(0), [("time", on(2)), ("finding", on(6)), ("start", on(6)), ("finish", on(5))]) == (
        ("time", on(0), on(2)),
        ("finding", on(2), on(6)),
        ("finish", on(6), on(5)),
    )


def test_changes_that_cancel_out_are_told_all_the_same():
    assert split(on(0), [("time", on(3)), ("finding", on(0))]) == (("time", on(0), on(3)), ("finding", on(3), on(0)))


@given(st.integers(-9, 9), st.lists(st.tuples(st.integers(), st.integers(-40, 40)), max_size=12))
def test_the_parts_form_a_chain_and_add_up_to_the_move(before, stages):
    dated = [(change, on(days)) for change, days in stages]

    parts = split(on(before), dated)

    last = dated[-1][1] if dated else on(before)
    assert sum((to_on - from_on).days for _, from_on, to_on in parts) == (last - on(before)).days
    ends = [on(before), *(to_on for _, _, to_on in parts)]
    assert [from_on for _, from_on, _ in parts] == ends[:-1]
    assert all(from_on != to_on for _, from_on, to_on in parts)
