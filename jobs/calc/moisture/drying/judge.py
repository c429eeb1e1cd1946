"""What the readings say about waiting, beyond the meter's error, and how to put it to a technician."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from jobs.calc.moisture.drying.inputs import MoistureReading, Outcome
from jobs.calc.moisture.drying.response import FloatArray, WoodSettings
from jobs.calc.moisture.wood import rh_holding_pct

# Rising: a slope this many standard errors above level, and wood wetter than this air could make it by this much.
RISING_ERRORS = 2.5
LONGEST_RISE = 4
ABOVE_AIR_PCT = 1.0
# Stalled: over at least three readings and this time, at the very most (95 %) this share of the usual fall, at
# least so far above equilibrium. Planning assumptions, no source.
STALLED_SPAN_H = 36.0
STALLED_ERRORS = 1.645
STALLED_SHARE = 0.25
STALLED_ABOVE_PCT = 4.0
LONGEST_TREND = 6
# With less than this share within reach of the limit no date is given; within so many points the air is to blame.
REACH_SHARE = 0.7
NEAR_PCT = 2.0
# How far the air should hold the wood under the limit to get there in good time. Planning assumption, no source.
GOOD_MARGIN_PCT = 2.0
DRIEST_ASKED_RH_PCT = 25.0


@dataclass(frozen=True)
class Trend:
    """Straight line through the last readings: slope and its standard error [points per h], span [h]."""

    slope_per_h: float
    error_per_h: float
    span_h: float
    mean_pct: float


@dataclass(frozen=True)
class Air:
    """The last day's air: means [C, %] and the mean equilibrium of wood in it [%].

    wettest_pct: highest equilibrium since the readings that may show a rise.
    """

    temp_c: float
    rh_pct: float
    equilibrium_pct: float
    wettest_pct: float


@dataclass(frozen=True)
class Evidence:
    """All that the judgement rests on.

    usual_rate_per_h: of such a layer in this air. held_at_pct: equilibrium with what the readings say about this
    wood's own offset. reach_share: odds that the limit is within reach. even_in_h: hours from now, or None.
    """

    readings: Sequence[MoistureReading]
    limit_pct: float
    air: Air
    usual_rate_per_h: float
    held_at_pct: float
    reach_share: float
    even_in_h: float | None
    safe_in_h: float | None
    horizon_h: float
    rate_origin: str
    settings: WoodSettings


def judge(evidence: Evidence) -> tuple[Outcome, str]:
    """The outcome and the reason in words."""
    outcome = _outcome(evidence)
    return outcome, _REASONS[outcome](evidence)


def is_dry(readings: Sequence[MoistureReading], limit_pct: float) -> bool:
    """Whether the latest reading is at or under the limit."""
    return bool(readings) and readings[-1].range != "high" and readings[-1].mc_pct <= limit_pct


def trend(readings: Sequence[MoistureReading], settings: WoodSettings) -> Trend:
    """Least squares through at least two readings, each with the meter's error at its value."""
    at_h = np.array([reading.at_h for reading in readings])
    mc_pct = np.array([reading.mc_pct for reading in readings])
    weight: FloatArray = np.array([settings.meter_sd_at(reading.mc_pct) ** -2.0 for reading in readings])
    centred = at_h - np.average(at_h, weights=weight)
    information = float(weight @ centred**2)
    slope = float(weight @ (centred * mc_pct)) / information
    return Trend(slope, information**-0.5, float(at_h[-1] - at_h[0]), float(np.average(mc_pct, weights=weight)))


def _outcome(evidence: Evidence) -> Outcome:
    if is_dry(evidence.readings, evidence.limit_pct):
        return Outcome.DRY
    if all(reading.range != "value" for reading in evidence.readings):
        return Outcome.TOO_FEW
    if _is_rising(evidence):
        return Outcome.RISING
    if _has_stopped(evidence):
        return Outcome.STALLED
    if evidence.reach_share >= REACH_SHARE and evidence.even_in_h is not None:
        return Outcome.DATE
    is_near = evidence.held_at_pct > evidence.limit_pct - NEAR_PCT
    return Outcome.NEAR_EQUILIBRIUM if is_near else Outcome.STALLED


def _is_rising(evidence: Evidence) -> bool:
    """Whether the last two to four readings rise beyond the meter's error, in air that cannot be the cause."""
    readings = evidence.readings
    if readings[-1].mc_pct <= evidence.air.wettest_pct + ABOVE_AIR_PCT:
        return False
    ends = (readings[-count:] for count in range(2, min(LONGEST_RISE, len(readings)) + 1))
    # From "beyond the wet end" nothing rises: how wet it was is not known.
    lines = (trend(end, evidence.settings) for end in ends if all(each.range != "high" for each in end[:-1]))
    return any(line.slope_per_h > RISING_ERRORS * line.error_per_h for line in lines)


def _has_stopped(evidence: Evidence) -> bool:
    """Whether the last three to six readings fall by far less than such a layer would in this air."""
    readings = evidence.readings
    if any(reading.range != "value" for reading in readings[-3:]):
        return False  # beyond the meter's ends nothing is seen to fall
    counts = range(3, min(LONGEST_TREND, len(readings)) + 1)
    return any(_is_level(trend(readings[-count:], evidence.settings), evidence) for count in counts)


def _is_level(line: Trend, evidence: Evidence) -> bool:
    above_pct = line.mean_pct - evidence.air.equilibrium_pct
    if line.span_h < STALLED_SPAN_H or above_pct < STALLED_ABOVE_PCT:
        return False
    usual_fall_pct = above_pct * -np.expm1(-evidence.usual_rate_per_h * line.span_h)
    most_it_fell_pct = (STALLED_ERRORS * line.error_per_h - line.slope_per_h) * line.span_h
    return bool(most_it_fell_pct < STALLED_SHARE * usual_fall_pct)


def _dry_reason(evidence: Evidence) -> str:
    latest = evidence.readings[-1]
    shown = f"below {latest.mc_pct:.0f} %" if latest.range == "low" else f"{latest.mc_pct:.1f} %"
    return f"The latest reading, corrected, is {shown}; the limit is {evidence.limit_pct:g} %."


def _date_reason(evidence: Evidence) -> str:
    """No dates: they stand beside it, and "in two days" would be wrong by tomorrow."""
    if evidence.held_at_pct < evidence.limit_pct - 1.0:
        first = f"This air dries the wood toward {evidence.held_at_pct:.0f} %; the limit is {evidence.limit_pct:g} %."
    else:
        first = f"On the whole this air holds the wood at {evidence.held_at_pct:.0f} %; its drier hours bring it under."
    if (evidence.even_in_h or 0.0) < 1.0:
        first += " It may be under it already: read again."
    elif evidence.safe_in_h is None:
        first += " It may hang just above the limit: drier air would make it safe."
    if len(evidence.readings) == 1:
        first += f" One reading only so far, so the pace is assumed ({evidence.rate_origin})."
    return first


def _too_few_reason(evidence: Evidence) -> str:
    if not evidence.readings:
        return "Not read yet. Take a reading."
    return "No reading within the meter's range yet, so there is no number to count from. Read again tomorrow."


def _near_reason(evidence: Evidence) -> str:
    held = f"The air here holds the wood at {evidence.held_at_pct:.0f} %; the limit is {evidence.limit_pct:g} %."
    own_offset_pct = evidence.held_at_pct - evidence.air.equilibrium_pct
    wanted_pct = evidence.limit_pct - own_offset_pct - GOOD_MARGIN_PCT
    rh_pct = rh_holding_pct(evidence.air.temp_c, max(wanted_pct, 0.0))
    asked_pct = 100.0 if rh_pct is None else 5.0 * np.floor(min(rh_pct, evidence.air.rh_pct - 5.0) / 5.0)
    if asked_pct < DRIEST_ASKED_RH_PCT:
        return f"{held} Drier air alone will hardly do: compare with a spot of the same wood that never got wet."
    return f"{held} Bring the humidity under {asked_pct:.0f} %."


def _rising_reason(evidence: Evidence) -> str:
    earlier = min(evidence.readings[-LONGEST_RISE:], key=lambda reading: reading.mc_pct)
    latest = evidence.readings[-1]
    beyond = "above " if latest.range == "high" else ""
    rise = f"{earlier.mc_pct:.0f} % to {beyond}{latest.mc_pct:.0f} %"
    return (
        f"The readings rise from {rise}, more than the meter's error, and this air is not the cause. Look for the leak."
    )


def _stalled_reason(evidence: Evidence) -> str:
    latest_pct = evidence.readings[-1].mc_pct
    above = f"{latest_pct - evidence.air.equilibrium_pct:.0f} points above what this air holds"
    if _has_stopped(evidence):
        return f"Drying has all but stopped at {latest_pct:.0f} %, {above}: trapped water. Open more, move the blower."
    days = f"{evidence.horizon_h / 24.0:.0f} days"
    return f"At this pace it will not be dry within {days}, though it is {above}. Open more, move the blower."


_REASONS = {
    Outcome.DRY: _dry_reason,
    Outcome.DATE: _date_reason,
    Outcome.TOO_FEW: _too_few_reason,
    Outcome.NEAR_EQUILIBRIUM: _near_reason,
    Outcome.RISING: _rising_reason,
    Outcome.STALLED: _stalled_reason,
}
