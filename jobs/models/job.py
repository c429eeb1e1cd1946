"""A job: one stay of a coach, from booking to collection."""

import uuid
from collections.abc import Iterable
from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from jobs.models.coach import Coach, Owner
from jobs.models.shop import Bay, Person, Shop


class JobQuerySet(models.QuerySet["Job"]):
    def visible_to(self, person: Person) -> "JobQuerySet":
        return self.filter(shop=person.shop)

    def open(self) -> "JobQuerySet":
        return self.filter(collected_at__isnull=True)

    def with_coach(self) -> "JobQuerySet":
        return self.select_related("shop", "coach", "bay")


class Job(models.Model):
    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="jobs")
    coach = models.ForeignKey(Coach, on_delete=models.PROTECT, related_name="jobs")
    number = models.PositiveIntegerField()
    # Stands in the owner's page address: says nothing and cannot be guessed.
    public_id = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    complaint = models.CharField(max_length=300, help_text="What the owner reported.")
    priority = models.PositiveSmallIntegerField(default=5)
    # A value of estimates.calc.contingency.Leak: where the water came in, as far as intake can tell.
    leak = models.CharField(max_length=20, default="unknown")
    # What the owner agreed to in advance: found work inside it goes ahead and is only reported.
    go_ahead_usd = models.DecimalField(max_digits=10, decimal_places=2, default=Decimal("0.00"))
    go_ahead_days = models.PositiveSmallIntegerField(default=0)
    booked_at = models.DateTimeField()
    arrives_on = models.DateField()
    arrived_at = models.DateTimeField(null=True, blank=True)
    bay = models.ForeignKey(Bay, on_delete=models.PROTECT, related_name="jobs", null=True, blank=True)
    entered_bay_at = models.DateTimeField(null=True, blank=True)
    left_bay_at = models.DateTimeField(null=True, blank=True)
    collected_at = models.DateTimeField(null=True, blank=True)

    objects = JobQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "number"], name="job_number_once"),
            models.UniqueConstraint(
                fields=["coach"], condition=Q(collected_at__isnull=True), name="coach_has_one_open_job"
            ),
            models.UniqueConstraint(
                fields=["bay"],
                condition=Q(entered_bay_at__isnull=False, left_bay_at__isnull=True),
                name="bay_holds_one_coach",
            ),
            models.CheckConstraint(condition=Q(priority__gte=1, priority__lte=9), name="job_priority_1_to_9"),
            models.CheckConstraint(condition=Q(go_ahead_usd__gte=0, go_ahead_days__lte=365), name="job_go_ahead_real"),
            models.CheckConstraint(
                condition=Q(entered_bay_at__isnull=True) | Q(bay__isnull=False, arrived_at__isnull=False),
                name="job_in_bay_names_bay",
            ),
            models.CheckConstraint(
                condition=Q(left_bay_at__isnull=True) | Q(left_bay_at__gte=F("entered_bay_at")),
                name="job_leaves_bay_after_entering",
            ),
            models.CheckConstraint(
                condition=Q(collected_at__isnull=True) | Q(collected_at__gte=F("arrived_at")),
                name="job_collected_after_arrival",
            ),
            models.CheckConstraint(
                condition=Q(collected_at__isnull=True) | Q(entered_bay_at__isnull=True) | Q(left_bay_at__isnull=False),
                name="job_collected_has_left_bay",
            ),
        ]

    def __str__(self) -> str:
        return f"Job {self.number}, {self.coach}"

    @property
    def is_in_bay(self) -> bool:
        return self.entered_bay_at is not None and self.left_bay_at is None

    @property
    def promise(self) -> "Promise | None":
        """The date the owner was last given. Uses prefetched promises when there are any."""
        promises = sorted(self.promises.all(), key=lambda promise: promise.pk)
        return promises[-1] if promises else None

    def deciders(self) -> models.QuerySet[Owner]:
        """The owners who may say yes or no to work on this coach."""
        return Owner.objects.filter(ownerships__coach_id=self.coach_id, ownerships__may_decide=True).order_by("pk")


class PromiseQuerySet(models.QuerySet["Promise"]):
    def latest_of(self, jobs: Iterable[Job]) -> dict[int, "Promise"]:
        """By job, the promise that counts."""
        return {each.job_id: each for each in self.filter(job__in=jobs).order_by("pk")}


class Promise(models.Model):
    """A ready date given to the owner. The latest one counts; none is ever changed."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="promises")
    ready_on = models.DateField()
    # What the plan said at that moment, so that later overruns can be added up from here.
    expected_on = models.DateField(null=True, blank=True)
    reason = models.CharField(max_length=300)
    promised_at = models.DateTimeField()
    promised_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")

    objects = PromiseQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]

    def __str__(self) -> str:
        return f"{self.job} promised for {self.ready_on}"
