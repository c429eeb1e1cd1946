"""The plan of the whole shop, whatever engine stands behind it.

plan(problem) plans all jobs at once. prepare(problem) makes a problem ready for many questions: plan and ready under a
Change, combinations of an owner's open choices, search for a better order, forecast for odds.
"""

from estimates.calc.plan.calendars import longest_shift
from estimates.calc.plan.checks import letting_pause
from estimates.calc.plan.choices import Choice, Combination, combinations
from estimates.calc.plan.engine import Prepared, plan, prepare
from estimates.calc.plan.forecast import Forecast, Odds, Spreads, forecast
from estimates.calc.plan.model import (
    Change,
    HorizonTooShort,
    JobPlan,
    PlacedTask,
    PlanJob,
    Problem,
    Schedule,
    Task,
    Worker,
)
from estimates.calc.plan.refused import refused_jobs
from estimates.calc.plan.search import Found, OrderHunt, Worth, search
from estimates.calc.plan.spread import LogNormal, Spread, ThreePoint

__all__ = [
    "Change",
    "Choice",
    "Combination",
    "Forecast",
    "Found",
    "HorizonTooShort",
    "JobPlan",
    "LogNormal",
    "Odds",
    "OrderHunt",
    "PlacedTask",
    "PlanJob",
    "Prepared",
    "Problem",
    "Schedule",
    "Spread",
    "Spreads",
    "Task",
    "ThreePoint",
    "Worker",
    "Worth",
    "combinations",
    "forecast",
    "letting_pause",
    "longest_shift",
    "plan",
    "prepare",
    "refused_jobs",
    "search",
]
