"""What offered and agreed lines cost the shop itself. Kept apart from offer and revision, which are the owner's."""

from django.db import models

from estimates.models.revision import Offer, Revision, Unchangeable


class OfferCosts(Unchangeable):
    """By remedy, as the offer was worked out: {remedy: {"labour_usd_per_hour": text, "lines": {key: text}}} [USD].

    A cost that nobody knows is None.
    """

    offer = models.OneToOneField(Offer, on_delete=models.PROTECT, related_name="costs")
    content = models.JSONField()

    class Meta:
        verbose_name_plural = "offer costs"

    def __str__(self) -> str:
        return f"Costs of {self.offer}"


class RevisionCosts(Unchangeable):
    """By finding, as each group of the revision was worked out; written as OfferCosts are.

    Groups that were agreed before costs were kept are missing.
    """

    revision = models.OneToOneField(Revision, on_delete=models.PROTECT, related_name="costs")
    content = models.JSONField()

    class Meta:
        verbose_name_plural = "revision costs"

    def __str__(self) -> str:
        return f"Costs of {self.revision}"
