"""What the owner is asked, and what the owner answered."""

from django.db import models
from django.db.models import F, Q

from jobs.models.coach import Owner
from jobs.models.finding import Finding, Remedy


class ApprovalRequestQuerySet(models.QuerySet["ApprovalRequest"]):
    def open(self) -> "ApprovalRequestQuerySet":
        return self.filter(closed_at__isnull=True)


class ApprovalRequest(models.Model):
    """The remedies of one finding, put to the owner at a fixed offer."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="requests")
    # The one the shop recommends, and all the owner may choose from (it among them).
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="requests")
    choices = models.ManyToManyField(Remedy, related_name="+")
    # The fingerprint of the offer as it was shown; a decision on any other is refused.
    offer_sha256 = models.CharField(max_length=64)
    asked_at = models.DateTimeField()
    answer_by_at = models.DateTimeField()
    # Set when answered or withdrawn.
    closed_at = models.DateTimeField(null=True, blank=True)

    objects = ApprovalRequestQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["finding"], condition=Q(closed_at__isnull=True), name="finding_asked_once_at_a_time"
            ),
            models.CheckConstraint(condition=Q(answer_by_at__gt=F("asked_at")), name="answer_by_after_asking"),
            models.CheckConstraint(
                condition=Q(closed_at__isnull=True) | Q(closed_at__gte=F("asked_at")),
                name="request_closed_after_asking",
            ),
        ]

    def __str__(self) -> str:
        return f"Approval of {self.finding}"


class Decision(models.Model):
    """An owner's answer: who, what, when, how and on which offer. Never changed."""

    class Channel(models.TextChoices):
        LINK = "link", "by the link"
        IN_PERSON = "in_person", "in person"
        PHONE = "phone", "by phone"
        GO_AHEAD = "go_ahead", "under the go-ahead limit"

    request = models.OneToOneField(ApprovalRequest, on_delete=models.PROTECT, related_name="decision")
    is_approved = models.BooleanField()
    # The remedy the owner chose; None for a no.
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="decisions")
    typed_name = models.CharField(max_length=80)
    channel = models.CharField(max_length=10, choices=Channel)
    # The number called, for an answer by phone.
    phone = models.CharField(max_length=30, blank=True)
    offer_sha256 = models.CharField(max_length=64)
    decided_at = models.DateTimeField()
    address = models.GenericIPAddressField(null=True, blank=True)
    browser = models.CharField(max_length=300, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=~Q(typed_name=""), name="decision_is_signed"),
            models.CheckConstraint(condition=~Q(channel="phone", phone=""), name="decision_by_phone_has_number"),
            models.CheckConstraint(
                condition=Q(is_approved=True, remedy__isnull=False) | Q(is_approved=False, remedy__isnull=True),
                name="decision_yes_names_remedy",
            ),
            models.CheckConstraint(
                condition=Q(channel__in=["link", "in_person", "phone", "go_ahead"]), name="decision_channel_known"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.typed_name}: {'yes' if self.is_approved else 'no'} to {self.request.finding}"
