"""Jumps between two readings of a station, in words for a page."""

from datetime import datetime, timedelta

from jobs.calc.moisture.drying import PLANNING_PRIORS
from jobs.calc.moisture.jumps import Jump, jump_between
from jobs.calc.moisture.limits import Limits
from jobs.models import Reading, Station

HOUR = timedelta(hours=1)


def jump_words(station: Station, before: Reading, after: Reading, *, limits: Limits) -> str:
    """What is improbable between two readings in order of time, each with its round; empty where wood may do that.

    From 18 % to 36 % in 5 hours: wood that is being dried hardly does that.
    """
    hours = (after.round.taken_at - before.round.taken_at) / HOUR
    jump = jump_between(
        _shown_pct(before, limits), _shown_pct(after, limits), hours=hours, prior=PLANNING_PRIORS[station.layer]
    )
    if jump is None:
        return ""
    from_to = f"From {before} to {after} in {_span_words(before.round.taken_at, after.round.taken_at)}"
    return f"{from_to}: {_why(jump, station)}."


def _why(jump: Jump, station: Station) -> str:
    if jump.is_rise:
        return "wood that is being dried hardly does that"
    return f"{station.get_layer_display()} hardly dries below {jump.driest_pct:.0f} % in that time"


def _shown_pct(reading: Reading, limits: Limits) -> float:
    """What the meter showed; beyond an end of its scale, that end."""
    if reading.meter_pct is not None:
        return reading.meter_pct
    return limits.meter_low_pct if reading.range == Reading.Range.LOW else limits.meter_high_pct


def _span_words(begin: datetime, end: datetime) -> str:
    hours = (end - begin) / HOUR
    if hours < 1:
        return "under an hour"
    if hours < 47.5:
        return f"{hours:.0f} hour{'' if round(hours) == 1 else 's'}"
    return f"{hours / 24:.0f} days"
