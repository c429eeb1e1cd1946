"""What each answer to an open question does to the dates, by the plan in force and by the odds."""

from datetime import date

from django.db import models
from django.db.models import F, Q

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


class QuestionOdds(models.Model):
    """What a yes to the recommended remedy does to the simulated dates of its coach, against leaving it as it is.

    Both were simulated with the same random numbers, so that they differ by the answer alone. Worked out beside the
    odds; until the next time they stay as they are.
    """

    request = models.OneToOneField(ApprovalRequest, on_delete=models.CASCADE, related_name="odds")
    even_with_on = models.DateField()
    safe_with_on = models.DateField()
    even_without_on = models.DateField()
    safe_without_on = models.DateField()
    # Other coaches whose safe date a yes makes later, as [job, days] (primary keys), most days first.
    others = models.JSONField(default=list)

    class Meta:
        verbose_name_plural = "question odds"
        constraints = [
            models.CheckConstraint(
                condition=Q(safe_with_on__gte=F("even_with_on"), safe_without_on__gte=F("even_without_on")),
                name="question_odds_in_order",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.request}: safe {self.safe_without_on} without, {self.safe_with_on} with"

    @property
    def rows(self) -> list[tuple[str, date, date, int]]:
        """Name, date left as it is, date with the work, days between."""
        return [
            ("Even odds", self.even_without_on, self.even_with_on, (self.even_with_on - self.even_without_on).days),
            ("Four in five", self.safe_without_on, self.safe_with_on, (self.safe_with_on - self.safe_without_on).days),
        ]
