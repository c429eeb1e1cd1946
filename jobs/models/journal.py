"""The append-only journal of each job and the reactions that answer it."""

import uuid

from django.db import models
from django.db.models import Q

from jobs.models.job import Job
from jobs.models.shop import Person


class JournalEntry(models.Model):
    """One thing that happened to a job, chained to the one before by its hash. Never changed."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="entries")
    number = models.PositiveIntegerField()
    kind = models.CharField(max_length=40)
    data = models.JSONField()
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    actor = models.CharField(max_length=80)
    at = models.DateTimeField()
    previous_sha256 = models.CharField(max_length=64, blank=True)
    sha256 = models.CharField(max_length=64, unique=True)

    class Meta:
        ordering = ["job_id", "number"]
        verbose_name_plural = "journal entries"
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="journal_number_once"),
            models.CheckConstraint(
                condition=Q(number=1, previous_sha256="") | (Q(number__gt=1) & ~Q(previous_sha256="")),
                name="journal_is_chained",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job_id}/{self.number} {self.kind}"


class Reaction(models.Model):
    """One answer of the worker to one journal entry. The row is the queue."""

    class State(models.TextChoices):
        DUE = "due", "due"
        DONE = "done", "done"
        GIVEN_UP = "given_up", "given up"

    entry = models.ForeignKey(JournalEntry, on_delete=models.CASCADE, related_name="reactions")
    name = models.CharField(max_length=40)
    state = models.CharField(max_length=8, choices=State, default=State.DUE)
    attempts = models.PositiveSmallIntegerField(default=0)
    due_at = models.DateTimeField()
    claim = models.UUIDField(default=uuid.uuid4)
    claimed_until = models.DateTimeField(null=True, blank=True)
    done_at = models.DateTimeField(null=True, blank=True)
    last_error = models.CharField(max_length=500, blank=True)

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["entry", "name"], name="reaction_once_an_entry"),
            models.CheckConstraint(condition=Q(state__in=["due", "done", "given_up"]), name="reaction_state_known"),
            models.CheckConstraint(
                condition=Q(state="done", done_at__isnull=False) | (~Q(state="done") & Q(done_at__isnull=True)),
                name="reaction_done_has_time",
            ),
        ]
        indexes = [models.Index(fields=["due_at"], condition=Q(state="due"), name="reaction_due")]

    def __str__(self) -> str:
        return f"{self.name} ({self.state})"
