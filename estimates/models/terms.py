"""What is agreed beside the work itself: discounts, and who pays for what."""

from django.db import models
from django.db.models import Q

from jobs.models import Finding, Job, Person


class TermQuerySet(models.QuerySet["Term"]):
    def standing(self) -> "TermQuerySet":
        """Those that nobody has taken back, in the order they were agreed."""
        return self.filter(taken_back_at__isnull=True).order_by("pk")


class Term(models.Model):
    """One discount or payer of a job. Each change issues the next revision."""

    class Kind(models.TextChoices):
        DISCOUNT = "discount", "discount"
        PAYER = "payer", "who pays"

    class Payer(models.TextChoices):
        OWNER = "owner", "owner"
        INSURER = "insurer", "insurer"
        SHOP = "shop", "shop"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="terms")
    kind = models.CharField(max_length=8, choices=Kind)
    # What it is about; empty for the whole job.
    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    payer = models.CharField(max_length=7, choices=Payer, blank=True)
    amount_usd = models.DecimalField(max_digits=10, decimal_places=2, null=True, blank=True)
    pct = models.DecimalField(max_digits=5, decimal_places=2, null=True, blank=True)
    words = models.CharField(max_length=200)
    agreed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    agreed_at = models.DateTimeField()
    taken_back_at = models.DateTimeField(null=True, blank=True)

    objects = TermQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=~Q(words=""), name="term_says_why"),
            models.CheckConstraint(
                condition=Q(kind="discount", amount_usd__isnull=False, amount_usd__gt=0, pct__isnull=True, payer="")
                | Q(kind="discount", amount_usd__isnull=True, pct__isnull=False, pct__gt=0, pct__lte=100, payer="")
                | Q(kind="payer", finding__isnull=False, amount_usd__isnull=True, pct__isnull=True, payer__gt=""),
                name="term_is_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_kind_display()}: {self.words}"
