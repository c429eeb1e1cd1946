"""Offers put to the owner and revisions of the agreed scope. Neither is ever changed."""

from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from django.db import models
from django.db.models import Q

from jobs.models import Finding, Job, JournalEntry, Remedy


class Unchangeable(models.Model):
    """A row that is written once; the database refuses updates as well (migration 0002)."""

    class Meta:
        abstract = True

    def save(self, *args: Any, **kwargs: Any) -> None:
        if not self._state.adding:
            raise TypeError(f"{type(self).__name__} rows are never changed.")
        super().save(*args, **kwargs)


@dataclass(frozen=True)
class OfferedChoice:
    """One remedy of an offer as it was put to the owner. days: calendar days by which it moves the ready date."""

    remedy_id: int
    name: str
    words: str
    keeps: str
    warranty: str
    hours: float
    total_usd: Decimal
    ready_with_on: date
    days: int


class Offer(Unchangeable):
    """Price and days of a finding's remedies, as they are put to the owner; remedy, total and date of the first."""

    finding = models.ForeignKey(Finding, on_delete=models.PROTECT, related_name="offers")
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="offers")
    # Lines, totals and operations in canonical form; the fingerprint is over exactly this.
    content = models.JSONField()
    sha256 = models.CharField(max_length=64, unique=True)
    total_usd = models.DecimalField(max_digits=10, decimal_places=2)
    ready_with_on = models.DateField()
    ready_without_on = models.DateField()
    made_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [models.CheckConstraint(condition=Q(total_usd__gte=0), name="offer_total_real")]

    def __str__(self) -> str:
        return f"Offer for {self.finding}"

    @property
    def days(self) -> int:
        """Calendar days by which the recommended work moves the ready date."""
        return (self.ready_with_on - self.ready_without_on).days

    @property
    def choices(self) -> list[dict[str, Any]]:
        """The remedies to choose from as they were offered, the recommended one first."""
        found: list[dict[str, Any]] = self.content["choices"]
        return found

    def offered(self) -> list[OfferedChoice]:
        """The choices ready to print."""
        return [self._offered(choice) for choice in self.choices]

    def _offered(self, choice: dict[str, Any]) -> OfferedChoice:
        ready_with_on = date.fromisoformat(choice["ready_with_on"])
        return OfferedChoice(
            remedy_id=choice["remedy"],
            name=choice["name"],
            words=choice["words"],
            keeps=choice["keeps"],
            warranty=choice["warranty"],
            hours=sum(each["hours"] * each["crew"] for each in choice["operations"] if each["kind"] == "labour"),
            total_usd=Decimal(choice["totals"]["total_usd"]),
            ready_with_on=ready_with_on,
            days=(ready_with_on - self.ready_without_on).days,
        )

    def choice(self, remedy_id: int) -> dict[str, Any]:
        """The choice of this remedy. Raises LookupError if it was not offered."""
        for choice in self.choices:
            if choice["remedy"] == remedy_id:
                return choice
        raise LookupError(f"remedy {remedy_id} is not in {self}")


class Revision(Unchangeable):
    """A numbered state of the agreed scope with its cost."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="revisions")
    number = models.PositiveSmallIntegerField()
    # The entry that called for it: a reaction that runs twice writes it once.
    entry = models.OneToOneField(JournalEntry, on_delete=models.PROTECT, related_name="+")
    content = models.JSONField()
    sha256 = models.CharField(max_length=64, unique=True)
    total_usd = models.DecimalField(max_digits=10, decimal_places=2)
    agreed_by = models.CharField(max_length=160)
    issued_at = models.DateTimeField()

    class Meta:
        ordering = ["job_id", "number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="revision_number_once"),
            models.CheckConstraint(condition=Q(number__gte=1), name="revision_number_from_one"),
            models.CheckConstraint(condition=Q(total_usd__gte=0), name="revision_total_real"),
        ]

    def __str__(self) -> str:
        return f"Revision {self.number} of {self.job}"
