"""How long a drying wait lasts: from the wood, as far as the stations at the finding's place tell."""

import math
from collections.abc import Sequence
from datetime import datetime, timedelta
from typing import NamedTuple

from estimates.calc.plan import LogNormal
from jobs.models import Finding, Station, StationForecast
from jobs.services.verdicts import stations_at

# Looking and writing down, when the wood is dry already.
SHORTEST = timedelta(minutes=15)
# The normal deviate that four of five lie below.
SAFE_DEVIATE = 0.8416
DATED = {StationForecast.Outcome.DRY, StationForecast.Outcome.DATE}


class Lasting(NamedTuple):
    """How long an operation takes, and when it ends at the soonest, whenever it begins."""

    duration: timedelta
    until: datetime | None = None


def wait_lasts(
    finding: Finding,
    stations: Sequence[Station],
    *,
    standard: timedelta,
    started_at: datetime | None,
    now: datetime,
) -> Lasting:
    """How long a drying wait takes, at even odds: until the last station at the finding's place is dry.

    stations: of the finding's job, with their forecasts. started_at: when the wait began, None if it has not; then
    the wood is taken to go on drying as it does now, so that the wait ends on the stations' day whenever it begins,
    and takes a look at least. The standard time holds where no station at the place has been read. Where one of them
    has no date, something must be done first: the standard time then counts from now, or from when the wait begins,
    and it ends no sooner than the others are dry.
    """
    forecasts = [each.forecast for each in stations_at(finding, stations) if hasattr(each, "forecast")]
    if not forecasts:
        return Lasting(standard)
    dry_at = max(now, *(each.dry_even_at or now for each in forecasts))
    is_held = any(each.outcome not in DATED for each in forecasts)
    if started_at is None:
        return Lasting(standard if is_held else SHORTEST, dry_at)
    return Lasting(max(SHORTEST, (max(dry_at, now + standard) if is_held else dry_at) - started_at))


def wait_spread(
    finding: Finding, stations: Sequence[Station], *, started_at: datetime | None, now: datetime
) -> LogNormal | None:
    """How sure that time is, by the even and the safe date of the station that is dry last; None where it has none."""
    forecasts = [each.forecast for each in stations_at(finding, stations) if hasattr(each, "forecast")]
    dates = [(each.dry_even_at, each.dry_safe_at) for each in forecasts if each.dry_even_at and each.dry_safe_at]
    if not dates or any(each.outcome not in DATED for each in forecasts):
        return None
    begin = started_at or now
    even = max(even_at for even_at, _ in dates) - begin
    safe = max(safe_at for _, safe_at in dates) - begin
    if not timedelta(0) < even <= safe:
        return None
    return LogNormal(1.0, math.log(safe / even) / SAFE_DEVIATE)
