"""Who worked on what from when to when, and the material it took."""

from datetime import UTC, datetime, timedelta

from django.db import models
from django.db.models import F, Q

from jobs.calc.workdays import ShopCalendar
from jobs.models.shop import Person
from jobs.models.work import Operation


class WorkSpanQuerySet(models.QuerySet["WorkSpan"]):
    def visible_to(self, person: Person) -> "WorkSpanQuerySet":
        return self.filter(operation__job__shop=person.shop)

    def open(self) -> "WorkSpanQuerySet":
        return self.filter(ended_at__isnull=True)

    def clocked_off_at(self, person: Person, moment: datetime) -> "WorkSpanQuerySet":
        """What the person was clocked off at exactly that moment."""
        return self.filter(person=person, ended_at=moment)

    def overlapping(self, person: Person, start: datetime, end: datetime) -> "WorkSpanQuerySet":
        """The person's spans that share time with this one; touching ends share none."""
        return self.filter(Q(ended_at__isnull=True) | Q(ended_at__gt=start), person=person, started_at__lt=end)


class WorkSpan(models.Model):
    """One person on one operation without a break. Open until clocked off; waits have none."""

    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="spans")
    person = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="spans")
    started_at = models.DateTimeField()
    ended_at = models.DateTimeField(null=True, blank=True)
    # Set when a manager corrected it; what it was before is in the journal.
    mended_at = models.DateTimeField(null=True, blank=True)

    objects = WorkSpanQuerySet.as_manager()

    class Meta:
        ordering = ["started_at", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["person"], condition=Q(ended_at__isnull=True), name="work_span_one_open_a_person"
            ),
            models.CheckConstraint(
                condition=Q(ended_at__isnull=True) | Q(ended_at__gte=F("started_at")),
                name="work_span_ends_after_start",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.person} on {self.operation}"

    def hours_until(self, now: datetime) -> float:
        """Clocked hours [h], of an open span those until now. By UTC, so that a night of changed clocks counts true."""
        ended_at = self.ended_at or now
        return (ended_at.astimezone(UTC) - self.started_at.astimezone(UTC)) / timedelta(hours=1)

    def hours_so_far(self, now: datetime, calendar: ShopCalendar) -> float:
        """As hours_until, but an open span grows no further than closing time of the day it began.

        Nobody has said yet that they worked on. What was clocked off is never cut.
        """
        return self.hours_until(now if self.ended_at else min(now, calendar.closing_of(self.started_at)))

    def is_left_open(self, now: datetime, calendar: ShopCalendar) -> bool:
        """Whether it is open still though the shop has closed since, or another day has begun."""
        if self.ended_at is not None:
            return False
        if calendar.local_date(self.started_at) != calendar.local_date(now):
            return True
        return self.started_at < calendar.closing_of(self.started_at) < now


class MaterialUse(models.Model):
    """What an operation really took, noted by whoever did it."""

    operation = models.ForeignKey(Operation, on_delete=models.PROTECT, related_name="materials_used")
    # The mark of the form it came by: sent twice, stored once.
    key = models.UUIDField(unique=True)
    name = models.CharField(max_length=80)
    quantity = models.FloatField()
    unit = models.CharField(max_length=20)
    noted_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    noted_at = models.DateTimeField()

    class Meta:
        ordering = ["noted_at", "pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(quantity__gt=0, quantity__lte=100_000), name="material_use_quantity_real"
            ),
            models.CheckConstraint(condition=~Q(name="") & ~Q(unit=""), name="material_use_says_what"),
        ]

    def __str__(self) -> str:
        return f"{self.quantity:g} {self.unit} {self.name}"
