"""How fast a layer usually dries: assumed for planning, and learned from the shop's own stations."""

from collections.abc import Mapping, Sequence
from types import MappingProxyType

import numpy as np

from jobs.calc.moisture.drying.inputs import RatePrior
from jobs.calc.moisture.wood import require_within

HISTORY_MIN = 5
# The planning value counts as this many stations when it is blended with history.
PLANNING_WEIGHT = 3.0
# However many stations agree: the next one has its own place, blower and opening.
LOG_SD_FLOOR = 0.3

# With this share of the planning value's spread left, or less, the readings say more about the rate than it does.
OWN_SHARE = 0.5
# So many readings, a day apart, mostly bring that about: tests/reference/test_own_rate.py.
OWN_READINGS = 3
# Between 10 and 90 % lie so many standard deviations.
BAND_SDS = 2.5631

_PLANNING = "planning assumption, no source"

# Opened up and with air moving, at 20 C and 20 % moisture content. A spread of 0.7 is twice as fast or half as fast.
PLANNING_PRIORS: Mapping[str, RatePrior] = MappingProxyType(
    {
        "skin": RatePrior(0.035, 0.7, _PLANNING),
        "inner_panel": RatePrior(0.025, 0.7, _PLANNING),
        "framing": RatePrior(0.012, 0.7, _PLANNING),
        "floor": RatePrior(0.010, 0.7, _PLANNING),
    }
)


def rests_on_planning(layer: str, origin: str, *, rate_low_per_h: float, rate_high_per_h: float) -> bool:
    """Whether a forecast's rate is still mostly the planning value of its layer, and not what the readings say.

    origin: of the rate that was expected beforehand. rate_low_per_h, rate_high_per_h: 10 and 90 % of what it is now
    [1/h]. Raises ValueError if they are not above zero.
    """
    require_within("rate_low_per_h", rate_low_per_h, 1e-9, 1e3)
    require_within("rate_high_per_h", rate_high_per_h, 1e-9, 1e3)
    planning = PLANNING_PRIORS[layer]
    left = float(np.log(rate_high_per_h / rate_low_per_h)) / BAND_SDS
    return origin == planning.origin and left > OWN_SHARE * planning.log_sd


def prior_from_history(rates_per_h: Sequence[float], planning: RatePrior) -> RatePrior:
    """What to expect of the next station of a build-up, from the rates found at earlier ones [1/h].

    With fewer than 5 rates the planning value stands. From 5 on the history is blended with it, as if the planning
    value were 3 stations more; the spread is that of stations, with the doubt about their mean, and never under 0.3.
    Raises ValueError for a rate that is not 0.00001 to 10.
    """
    require_within("rates_per_h", np.asarray(rates_per_h, dtype=np.float64), 1e-5, 10.0)
    count = len(rates_per_h)
    if count < HISTORY_MIN:
        return planning
    logs = np.log(np.asarray(rates_per_h, dtype=np.float64))
    total = count + PLANNING_WEIGHT
    planned = float(np.log(planning.median_per_h))
    mean = (float(logs.sum()) + PLANNING_WEIGHT * planned) / total
    within = float(((logs - mean) ** 2).sum()) + PLANNING_WEIGHT * (planning.log_sd**2 + (planned - mean) ** 2)
    log_sd = float(np.sqrt(within / total * (1.0 + 1.0 / total)))
    return RatePrior(float(np.exp(mean)), max(log_sd, LOG_SD_FLOOR), f"shop history of {count} stations")
