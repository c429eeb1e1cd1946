"""Keeping what lines cost the shop, beside offers and revisions and never in them."""

from collections.abc import Mapping, Sequence
from decimal import Decimal
from typing import Any

from estimates.calc.money import PriceLine
from estimates.models import Offer, OfferCosts, Rates, Revision, RevisionCosts
from jobs.models import Remedy

GroupCosts = dict[str, Any]


def costs_of(lines: Sequence[PriceLine], rates: Rates) -> GroupCosts:
    """What these lines cost the shop, in the form that is kept; money as text, None where nobody knows."""
    return {
        "labour_usd_per_hour": _text(rates.labour_cost_usd_per_hour),
        "lines": {line.key: _text(line.cost_usd) for line in lines},
    }


def keep_offer_costs(offer: Offer, lines: Mapping[int, Sequence[PriceLine]]) -> None:
    """Keep the costs of an offer's remedies (by primary key). Runs inside the caller's transaction."""
    rates = offer.finding.job.shop.rates
    content = {str(remedy_id): costs_of(each, rates) for remedy_id, each in lines.items()}
    OfferCosts.objects.create(offer=offer, content=content)


def offered_costs(offer: Offer, remedy: Remedy) -> dict[int, GroupCosts]:
    """The costs of the remedy that was chosen, as they were when it was offered; by finding.

    Empty for an offer made before costs were kept.
    """
    kept = OfferCosts.objects.filter(offer=offer).first()
    return {remedy.finding_id: kept.content[str(remedy.pk)]} if kept else {}


def keep_revision_costs(revision: Revision, new: Mapping[int, GroupCosts]) -> None:
    """Keep a revision's costs: those of the one before it, and of the groups that are new (by finding).

    Runs inside the caller's transaction. Agreed groups keep the costs they were worked out with, as they keep their
    prices.
    """
    before = RevisionCosts.objects.filter(revision__job=revision.job).order_by("-revision__number").first()
    content = (before.content if before else {}) | {str(finding): costs for finding, costs in new.items()}
    RevisionCosts.objects.create(revision=revision, content=content)


def _text(amount: Decimal | None) -> str | None:
    return None if amount is None else str(amount)
