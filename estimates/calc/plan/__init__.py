"""The plan of the whole shop: `plan(problem)` is the interface, whatever engine stands behind it."""

from estimates.calc.plan.engine import plan
from estimates.calc.plan.model import (
    HorizonTooShort,
    JobPlan,
    PlacedTask,
    PlanJob,
    Problem,
    Schedule,
    Task,
    Worker,
)

__all__ = ["HorizonTooShort", "JobPlan", "PlacedTask", "PlanJob", "Problem", "Schedule", "Task", "Worker", "plan"]
