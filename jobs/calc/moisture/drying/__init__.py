"""When wet wood will be dry: rate learned from readings, driven by the logged air, with honest odds.

forecast_drying is the way in; response.py says what is assumed about wood, fit.py how the readings are used,
forecast.py how the future is drawn, judge.py when no date is given and why. Method, limits and measured errors:
.readme/drying-method.md.
"""

from jobs.calc.moisture.drying.inputs import (
    AirSample,
    CurvePoint,
    DryingForecast,
    MoistureReading,
    Outcome,
    RatePrior,
)
from jobs.calc.moisture.drying.rates import OWN_READINGS, PLANNING_PRIORS, prior_from_history, rests_on_planning
from jobs.calc.moisture.drying.response import WoodSettings
from jobs.calc.moisture.drying.station import Odds, drying_odds, forecast_drying

__all__ = [
    "OWN_READINGS",
    "PLANNING_PRIORS",
    "AirSample",
    "CurvePoint",
    "DryingForecast",
    "MoistureReading",
    "Odds",
    "Outcome",
    "RatePrior",
    "WoodSettings",
    "drying_odds",
    "forecast_drying",
    "prior_from_history",
    "rests_on_planning",
]
