"""The shop's plan as last worked out, and every change of a coach's expected date."""

from django.db import models
from django.db.models import F, Q

from jobs.models import ApprovalRequest, Bay, Finding, Job, JournalEntry, Operation, Shop


class ShopPlan(models.Model):
    """How fresh a shop's plan is. A plan made from an older journal never replaces a newer one."""

    shop = models.OneToOneField(Shop, on_delete=models.CASCADE, related_name="plan")
    made_at = models.DateTimeField()
    # The newest journal entry the plan knows of.
    last_entry = models.PositiveBigIntegerField()
    seconds = models.FloatField(help_text="Working time of the planner.")

    def __str__(self) -> str:
        return f"Plan of {self.shop}"


class JobForecast(models.Model):
    """When a coach is now expected to be ready, with the work in scope and every open question answered yes."""

    job = models.OneToOneField(Job, on_delete=models.CASCADE, related_name="forecast")
    expected_at = models.DateTimeField()
    expected_on = models.DateField()
    bay = models.ForeignKey(Bay, on_delete=models.CASCADE, related_name="+", null=True)
    bay_from_at = models.DateTimeField(null=True)
    bay_until_at = models.DateTimeField(null=True)
    waits_for = models.CharField(max_length=200, blank=True)

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(bay__isnull=True, bay_from_at__isnull=True, bay_until_at__isnull=True)
                | Q(bay__isnull=False, bay_from_at__isnull=False, bay_until_at__gte=F("bay_from_at")),
                name="forecast_bay_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} expected {self.expected_on}"


class PlannedTask(models.Model):
    """One placed piece of the plan: labour, a wait, or an event."""

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="planned_tasks")
    operation = models.OneToOneField(Operation, on_delete=models.CASCADE, related_name="planned", null=True)
    # Set for work that waits for the owner's yes.
    finding = models.ForeignKey(Finding, on_delete=models.CASCADE, related_name="planned_tasks", null=True)
    words = models.CharField(max_length=160)
    kind = models.CharField(max_length=6)
    start_at = models.DateTimeField()
    end_at = models.DateTimeField()
    worker_ids = models.JSONField(default=list)

    class Meta:
        ordering = ["start_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(end_at__gte=F("start_at")), name="planned_task_ends_after_start"),
        ]

    def __str__(self) -> str:
        return self.words


class ReadyWithout(models.Model):
    """The ready date if the owner says no to an open question, by the current plan."""

    request = models.OneToOneField(ApprovalRequest, on_delete=models.CASCADE, related_name="ready_without")
    ready_on = models.DateField()

    def __str__(self) -> str:
        return f"{self.request}: {self.ready_on} without"


class DateChange(models.Model):
    """One move of a coach's expected date, with its cause. They add up to expected minus promised."""

    class Cause(models.TextChoices):
        FINDING = "finding", "finding"
        ANSWER = "answer", "owner's answer"
        DRYING = "drying", "drying or curing"
        WORK = "work", "work"
        REWORK = "rework", "work done again"
        ARRIVAL = "arrival", "arrival"
        OTHER_COACH = "other_coach", "another coach"
        FIRST_PLAN = "first_plan", "first plan"

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="date_changes")
    entry = models.ForeignKey(JournalEntry, on_delete=models.PROTECT, related_name="+", null=True)
    from_on = models.DateField(null=True)
    to_on = models.DateField()
    cause = models.CharField(max_length=12, choices=Cause)
    words = models.CharField(max_length=200)
    changed_at = models.DateTimeField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(
                    cause__in=["finding", "answer", "drying", "work", "rework", "arrival", "other_coach", "first_plan"]
                ),
                name="date_change_cause_known",
            ),
            models.CheckConstraint(condition=~Q(from_on=F("to_on")), name="date_change_changes"),
        ]

    def __str__(self) -> str:
        return f"{self.from_on} to {self.to_on}: {self.words}"
