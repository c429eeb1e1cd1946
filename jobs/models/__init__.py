"""The rows of a shop and its jobs, one topic a module."""

from jobs.models.approval import ApprovalRequest, Decision
from jobs.models.coach import Coach, CoachOwner, Owner
from jobs.models.equipment import Equipment
from jobs.models.finding import Finding, Photo, Remedy, RemedyMatch, RemedyMaterial, StandardRemedy
from jobs.models.hours import MaterialUse, WorkSpan
from jobs.models.job import Job, Promise
from jobs.models.journal import JournalEntry, Reaction
from jobs.models.moisture import Placement, Reading, ReadingRound, ReadingStrike, ShopLimit, Station, StationForecast
from jobs.models.shop import Absence, Bay, Closure, Overtime, Person, PersonHours, Shop, ShopHours, Skill
from jobs.models.work import HoldPoint, Operation

__all__ = [
    "Absence",
    "ApprovalRequest",
    "Bay",
    "Closure",
    "Coach",
    "CoachOwner",
    "Decision",
    "Equipment",
    "Finding",
    "HoldPoint",
    "Job",
    "JournalEntry",
    "MaterialUse",
    "Operation",
    "Overtime",
    "Owner",
    "Person",
    "PersonHours",
    "Photo",
    "Placement",
    "Promise",
    "Reaction",
    "Reading",
    "ReadingRound",
    "ReadingStrike",
    "Remedy",
    "RemedyMatch",
    "RemedyMaterial",
    "Shop",
    "ShopHours",
    "ShopLimit",
    "Skill",
    "StandardRemedy",
    "Station",
    "StationForecast",
    "WorkSpan",
]
