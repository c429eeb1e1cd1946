"""What each answer to an open question does to the dates, by the plan in force."""

from django.db import models
from django.db.models import Q

from jobs.models import ApprovalRequest, Job, Remedy


class OptionDate(models.Model):
    """When a coach is ready if one open question is answered so, all others as recommended.

    Kept for the coach that is asked about, and for every other whose date hangs on the answer.
    """

    request = models.ForeignKey(ApprovalRequest, on_delete=models.CASCADE, related_name="option_dates")
    # None: it is left as it is.
    remedy = models.ForeignKey(Remedy, on_delete=models.CASCADE, related_name="+", null=True)
    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="+")
    ready_on = models.DateField()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.UniqueConstraint(fields=["request", "remedy", "job"], name="option_date_once"),
            models.UniqueConstraint(
                fields=["request", "job"], condition=Q(remedy__isnull=True), name="option_date_without_once"
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job}: {self.ready_on}"
