"""A better order of work: the search for it, and the order it proposes."""

from django.db import models
from django.db.models import Q

from jobs.models import Shop


class OrderSearch(models.Model):
    """One row a shop: what was asked, who searches now, and the order found last. The row is the queue.

    The order is a proposal; only a manager's press puts it in force (ShopPlan.turns). It is stale once the plan it was
    looked for is no longer the shop's (mark).
    """

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="order_search")
    asked_at = models.DateTimeField(null=True, help_text="A manager asked for a search that has not begun.")
    # Held by the worker that searches; lapses if it dies.
    claim = models.UUIDField(null=True)
    claimed_until = models.DateTimeField(null=True)
    mark = models.CharField(max_length=64, blank=True, help_text="The plan searched from; empty: search again.")
    found_at = models.DateTimeField(null=True, help_text="When the plan searched from was read.")
    is_polished = models.BooleanField(default=False, help_text="The longer search that follows the first is over.")
    refusal = models.CharField(max_length=300, blank=True, help_text="Why the shop cannot be planned.")
    version = models.PositiveIntegerField(default=0, help_text="Another number for each order stored.")
    # (job, task) by the planner's keys, as ShopPlan.turns.
    turns = models.JSONField(default=list)
    # Coaches whose date it moves: {"job", "now_on", "then_on"}.
    coaches = models.JSONField(default=list)
    # Past promises, all coaches together: by the plan in force, and by this order.
    late_before = models.DurationField(null=True)
    late_after = models.DurationField(null=True)
    # Shares of the lateness (with none, of the time to finish) that would be gone: after the first search, and now.
    first_gain = models.FloatField(default=0.0)
    gain = models.FloatField(default=0.0)
    schedules = models.PositiveIntegerField(default=0, help_text="Plans tried.")
    seconds = models.FloatField(default=0.0, help_text="Searched for.")

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(claim__isnull=True, claimed_until__isnull=True)
                | Q(claim__isnull=False, claimed_until__isnull=False),
                name="order_search_claim_whole",
            ),
            models.CheckConstraint(
                condition=Q(is_polished=False) | Q(found_at__isnull=False), name="order_search_found_before_polished"
            ),
        ]

    def __str__(self) -> str:
        return f"Better order for {self.shop}"
