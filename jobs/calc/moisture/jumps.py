"""A reading that is hardly the wood: a jump since the one before that wood of its layer does not make.

The rule is a planning value, no source; what it would have said of measured drying is in
tests/reference/test_jumps.py. It asks whether the meter really showed that, and never drops a reading.
"""

import math
from dataclasses import dataclass

import numpy as np
from scipy.special import ndtri

from jobs.calc.moisture.drying.inputs import RatePrior
from jobs.calc.moisture.drying.response import WoodSettings, dried
from jobs.calc.moisture.ranges import check_range

MC_RANGE_PCT = (0.0, 200.0)
# Wood that is being dried gains no more than this by itself: a slip, or new water. Planning value, no source.
RISE_PCT = 15.0
# Smaller falls are never asked about. Planning value, no source.
FALL_PCT = 10.0
# The fastest that is taken for drying: as one in ten such places dries, toward wood as dry as heated air holds it.
FAST_SHARE = 0.9
DRIEST_PCT = 6.0
# Both meter values may be off; so many standard deviations of their difference are allowed.
METER_ERRORS = 2.0
USUAL = WoodSettings()


@dataclass(frozen=True)
class Jump:
    """A jump of so many points [%] within so many hours; driest_pct: what drying could have brought about [%]."""

    points: float
    hours: float
    driest_pct: float

    @property
    def is_rise(self) -> bool:
        return self.points > 0


def jump_between(before_pct: float, after_pct: float, *, hours: float, prior: RatePrior) -> Jump | None:
    """The jump between two meter values of a station, or None where wood may well do that.

    before_pct, after_pct: 0 to 200; beyond an end of the meter's scale, that end. hours: between them, above 0.
    prior: how fast such a layer dries. A rise is a jump beyond 15 points; a fall, beyond 10 points, where it ends
    lower than nine in ten such places could have dried in that time. The meter's own error is allowed on top.
    Raises ValueError if a number is outside its range.
    """
    check_range("before_pct", before_pct, MC_RANGE_PCT)
    check_range("after_pct", after_pct, MC_RANGE_PCT)
    if not hours > 0:
        raise ValueError(f"hours must be above 0, got {hours!r}")
    points = after_pct - before_pct
    if -FALL_PCT <= points <= RISE_PCT:
        return None
    doubt_pct = METER_ERRORS * math.hypot(*(USUAL.meter_sd_at(each) for each in (before_pct, after_pct)))
    driest_pct = max(_driest_pct(before_pct, hours, prior) - doubt_pct, 0.0)
    is_jump = points > doubt_pct if points > 0 else after_pct < driest_pct
    return Jump(points, hours, driest_pct) if is_jump else None


def _driest_pct(before_pct: float, hours: float, prior: RatePrior) -> float:
    """How dry the fastest drying could have made it."""
    rate_per_h = prior.median_per_h * math.exp(prior.log_sd * float(ndtri(FAST_SHARE)))
    ended = dried(
        np.array([before_pct]),
        np.array([DRIEST_PCT]),
        np.array([rate_per_h]),
        hours,
        USUAL.fibre_saturation_pct,
    )
    return min(float(ended[0]), before_pct)
