"""Improbable jumps between two readings: what is asked about, and what is not."""

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from jobs.calc.moisture.drying import PLANNING_PRIORS
from jobs.calc.moisture.jumps import FALL_PCT, RISE_PCT, jump_between

FRAMING, SKIN = PLANNING_PRIORS["framing"], PLANNING_PRIORS["skin"]
READINGS_PCT = st.floats(0, 60)
HOURS = st.floats(0.1, 1000)
LAYERS = st.sampled_from(list(PLANNING_PRIORS.values()))


@pytest.mark.parametrize(
    ("before_pct", "after_pct", "hours", "prior"),
    [(18, 34, 24, FRAMING), (12, 40, 500, FRAMING), (31, 13, 24, FRAMING), (28, 2.8, 48, SKIN), (40, 12, 24, FRAMING)],
)
def test_what_wood_hardly_does_is_asked_about(before_pct, after_pct, hours, prior):
    jump = jump_between(before_pct, after_pct, hours=hours, prior=prior)

    assert jump is not None
    assert jump.points == pytest.approx(after_pct - before_pct)
    assert jump.is_rise == (after_pct > before_pct)


@pytest.mark.parametrize(
    ("before_pct", "after_pct", "hours", "prior"),
    [
        (18, 33, 24, FRAMING),  # just within
        (31, 24, 24, FRAMING),
        (30, 12, 24, SKIN),  # a skin with a blower does that
        (20, 10.5, 1, FRAMING),  # a small fall is no matter
        (30, 12, 300, FRAMING),  # time enough
        (60, 85, 24, FRAMING),  # above fibre saturation a meter tells little
    ],
)
def test_what_wood_may_well_do_is_not(before_pct, after_pct, hours, prior):
    assert jump_between(before_pct, after_pct, hours=hours, prior=prior) is None


@given(READINGS_PCT, st.floats(-FALL_PCT, RISE_PCT), HOURS, LAYERS)
def test_small_changes_are_never_asked_about(before_pct, points, hours, prior):
    after_pct = max(before_pct + points, 0)

    assert jump_between(before_pct, after_pct, hours=hours, prior=prior) is None


@given(READINGS_PCT, READINGS_PCT, HOURS, st.floats(0.1, 500), LAYERS)
def test_more_time_never_makes_a_change_less_likely(before_pct, after_pct, hours, more_h, prior):
    if jump_between(before_pct, after_pct, hours=hours, prior=prior) is None:
        assert jump_between(before_pct, after_pct, hours=hours + more_h, prior=prior) is None


@given(READINGS_PCT, READINGS_PCT, st.floats(0.1, 20), HOURS, LAYERS)
def test_a_larger_jump_is_asked_about_as_well(before_pct, after_pct, more, hours, prior):
    if jump_between(before_pct, after_pct, hours=hours, prior=prior) and after_pct < before_pct:
        assert jump_between(before_pct, max(after_pct - more, 0), hours=hours, prior=prior)


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: jump_between(-1, 5, hours=1, prior=FRAMING), "before_pct must be 0 to 200"),
        (lambda: jump_between(1, math.nan, hours=1, prior=FRAMING), "after_pct must be 0 to 200"),
        (lambda: jump_between(1, 5, hours=0, prior=FRAMING), "hours must be above 0"),
    ],
)
def test_what_cannot_be_is_refused(call, words):
    with pytest.raises(ValueError, match=words):
        call()
