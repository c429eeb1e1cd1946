"""Catalogue and rates, offers and revisions, the plan."""

from estimates.models.actuals import HoursAccepted
from estimates.models.answers import OptionDate, QuestionOdds
from estimates.models.catalogue import CatalogueChange, Material, Rates, RecipeMaterial, RecipeOperation, StockLength
from estimates.models.costs import OfferCosts, RevisionCosts
from estimates.models.order import OrderSearch
from estimates.models.payments import Payment
from estimates.models.plan import (
    DateChange,
    GivenOut,
    JobAnswers,
    JobForecast,
    LaterBookings,
    PlannedTask,
    QuestionOutlook,
    ShopPlan,
)
from estimates.models.record import DayForecast
from estimates.models.revision import Offer, OfferedChoice, Revision
from estimates.models.terms import Term

__all__ = [
    "CatalogueChange",
    "DateChange",
    "DayForecast",
    "GivenOut",
    "HoursAccepted",
    "JobAnswers",
    "JobForecast",
    "LaterBookings",
    "Material",
    "Offer",
    "OfferCosts",
    "OfferedChoice",
    "OptionDate",
    "OrderSearch",
    "Payment",
    "PlannedTask",
    "QuestionOdds",
    "QuestionOutlook",
    "Rates",
    "RecipeMaterial",
    "RecipeOperation",
    "Revision",
    "RevisionCosts",
    "ShopPlan",
    "StockLength",
    "Term",
]
