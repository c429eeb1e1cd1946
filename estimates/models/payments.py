"""Money that was paid for a job. A payment is never changed: a wrong one is taken back by a row of its own."""

import uuid
from decimal import Decimal

from django.db import models
from django.db.models import Q

from estimates.models.revision import Unchangeable
from jobs.models import Job, Person


class PaymentQuerySet(models.QuerySet["Payment"]):
    def for_page(self) -> "PaymentQuerySet":
        return self.select_related("taken_by", "takes_back", "taken_back_by_row").order_by("paid_on", "pk")


class Payment(Unchangeable):
    """A payment of the owner or the insurer, or money the shop gave back to one of them: then below nought.

    Where it takes another row back, it has that row's amount turned round, and a reason. A deposit is a payment like
    any other: one that came before the work.
    """

    class Payer(models.TextChoices):
        OWNER = "owner", "owner"
        INSURER = "insurer", "insurer"

    class Way(models.TextChoices):
        CASH = "cash", "cash"
        CARD = "card", "card"
        TRANSFER = "transfer", "bank transfer"
        CHEQUE = "cheque", "cheque"
        OTHER = "other", "another way"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="payments")
    # Of the form it came by, so that what is sent twice is taken once.
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    payer = models.CharField(max_length=7, choices=Payer)
    amount_usd = models.DecimalField(max_digits=10, decimal_places=2)
    way = models.CharField(max_length=8, choices=Way)
    paid_on = models.DateField()
    # A note on a payment, the reason where it takes one back.
    words = models.CharField(max_length=200, blank=True)
    is_given_back = models.BooleanField(default=False)
    takes_back = models.OneToOneField(
        "self", on_delete=models.PROTECT, related_name="taken_back_by_row", null=True, blank=True
    )
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_at = models.DateTimeField()

    objects = PaymentQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(takes_back__isnull=True, is_given_back=False, amount_usd__gt=0)
                | Q(takes_back__isnull=True, is_given_back=True, amount_usd__lt=0)
                | Q(takes_back__isnull=False, is_given_back=False, amount_usd__lt=0) & ~Q(words="")
                | Q(takes_back__isnull=False, is_given_back=True, amount_usd__gt=0) & ~Q(words=""),
                name="payment_sign_says_which_way",
            ),
            models.CheckConstraint(condition=Q(payer__in=["owner", "insurer"]), name="payment_payer_known"),
            models.CheckConstraint(
                condition=Q(way__in=["cash", "card", "transfer", "cheque", "other"]), name="payment_way_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.amount_usd} USD of the {self.payer}, {self.paid_on}"

    @property
    def size_usd(self) -> Decimal:
        """How much money moved, whichever way."""
        return abs(self.amount_usd)

    @property
    def taken_back(self) -> "Payment | None":
        """The row that takes this one back, if any."""
        return getattr(self, "taken_back_by_row", None)
