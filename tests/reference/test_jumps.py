"""Would the question about improbable readings have been asked of measured drying?

Data: the 14 drying episodes of tests/reference/test_drying_backtest.py, hour by hour, and its prior for that material.
Every reading is set against the one so many hours before it. A false question costs a tick, so one in a hundred
would be borne.
"""

import pytest

from jobs.calc.moisture.jumps import jump_between
from tests.reference.test_drying_backtest import STICKS, episodes

PAIRS = {1: 1124, 3: 1096, 6: 1054, 12: 970, 24: 802}
SHARE_BORNE = 0.01


@pytest.mark.parametrize("hours", PAIRS)
def test_measured_drying_is_hardly_ever_asked_about(hours):
    pairs = [
        (series[at, 0], series[at + hours, 0]) for series in episodes().values() for at in range(len(series) - hours)
    ]

    asked = [pair for pair in pairs if jump_between(*pair, hours=hours, prior=STICKS)]

    print(f"{hours:2} h apart: asked {len(asked)} of {len(pairs)}")
    assert len(pairs) == PAIRS[hours]
    assert len(asked) <= SHARE_BORNE * len(pairs)


@pytest.mark.parametrize("hours", PAIRS)
def test_a_number_typed_with_a_digit_too_few_or_too_many_is_mostly_asked_about(hours):
    """24 typed as 2, and 9 typed as 99: the slips that a number pad makes."""
    pairs = [
        (series[at, 0], series[at + hours, 0])
        for series in episodes().values()
        for at in range(0, len(series) - hours, 5)
    ]
    short = [(before, float(str(int(after))[:1])) for before, after in pairs if before >= 25 and after >= 20]
    long = [(before, min(int(after) * 11.0, 200.0)) for before, after in pairs if after < 20]

    asked_short, asked_long = (
        sum(jump_between(*pair, hours=hours, prior=STICKS) is not None for pair in slips) for slips in (short, long)
    )

    print(f"{hours:2} h apart: a digit too few {asked_short} of {len(short)}, doubled {asked_long} of {len(long)}")
    assert asked_long >= 0.9 * len(long) > 0
    if hours <= 6:  # later, so thin a stick may have dried as far
        assert asked_short >= 0.9 * len(short) > 0
