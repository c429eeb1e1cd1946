"""Catalogue and rates, offers and revisions, the plan."""

from estimates.models.actuals import HoursAccepted
from estimates.models.catalogue import CatalogueChange, Material, Rates, RecipeMaterial, RecipeOperation
from estimates.models.costs import OfferCosts, RevisionCosts
from estimates.models.plan import DateChange, JobForecast, PlannedTask, ReadyWithout, ShopPlan
from estimates.models.revision import Offer, OfferedChoice, Revision
from estimates.models.terms import Term

__all__ = [
    "CatalogueChange",
    "DateChange",
    "HoursAccepted",
    "JobForecast",
    "Material",
    "Offer",
    "OfferCosts",
    "OfferedChoice",
    "PlannedTask",
    "Rates",
    "ReadyWithout",
    "RecipeMaterial",
    "RecipeOperation",
    "Revision",
    "RevisionCosts",
    "ShopPlan",
    "Term",
]
