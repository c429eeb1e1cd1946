"""Messages to owners and the links that open their page."""

import uuid

from django.db import models
from django.db.models import F, Q

from jobs.models import Job, JournalEntry, Owner, Station


class Update(models.Model):
    """A message to one owner about one job, written in the same transaction as what it tells."""

    class Family(models.TextChoices):
        BOOKED = "booked", "booking confirmed"
        FINDING = "finding", "finding, asks for an answer"
        DECIDED = "decided", "answer confirmed"
        PROMISE = "promise", "ready date"
        READY = "ready", "ready to collect"
        DRYING = "drying", "how it dries"
        TERMS = "terms", "terms changed"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="updates")
    owner = models.ForeignKey(Owner, on_delete=models.PROTECT, related_name="updates")
    entry = models.ForeignKey(JournalEntry, on_delete=models.PROTECT, related_name="+")
    family = models.CharField(max_length=10, choices=Family)
    # The composed words; the owner's link is put in when the mail is sent and is never stored.
    message = models.JSONField()
    # The station whose drying chart goes with the words, if any.
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    # The mail's Message-ID: a repeat carries the same one, so that mailboxes can fold it.
    message_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    written_at = models.DateTimeField()
    sent_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    failure = models.CharField(max_length=300, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["entry", "family", "owner"], name="update_once_an_entry"),
            models.CheckConstraint(
                condition=Q(sent_at__isnull=True) | Q(failed_at__isnull=True), name="update_sent_or_failed"
            ),
            models.CheckConstraint(
                condition=Q(family__in=["booked", "finding", "decided", "promise", "ready", "drying", "terms"]),
                name="update_family_known",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.get_family_display()} to {self.owner}"


class OwnerLink(models.Model):
    """A link that opens one owner's page of one job. Only the hash of its token is kept."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="owner_links")
    owner = models.ForeignKey(Owner, on_delete=models.CASCADE, related_name="links")
    token_sha256 = models.CharField(max_length=64, unique=True)
    made_at = models.DateTimeField()
    expires_at = models.DateTimeField()
    withdrawn_at = models.DateTimeField(null=True, blank=True)
    last_opened_at = models.DateTimeField(null=True, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(condition=Q(expires_at__gt=F("made_at")), name="owner_link_expires_later"),
        ]

    def __str__(self) -> str:
        return f"Link of {self.owner} to {self.job}"
