"""What was forecast of each coach, day by day, kept to be held against what came of it."""

from django.db import models
from django.db.models import Q

from jobs.models import Job


class DayForecast(models.Model):
    """What the shop was told of a coach at the beginning of a day (booked that day: at once). Never changed.

    even_on, safe_on are None where a station that does not dry left no odds. The promise in force stands in Promise.
    """

    job = models.ForeignKey(Job, on_delete=models.CASCADE, related_name="day_forecasts")
    on = models.DateField(help_text="The shop's day.")
    made_at = models.DateTimeField()
    planned_on = models.DateField(help_text="Ready by the plan, every operation taking just its hours.")
    even_on = models.DateField(null=True)
    safe_on = models.DateField(null=True)

    class Meta:
        ordering = ["job", "on"]
        constraints = [
            models.UniqueConstraint(fields=["job", "on"], name="day_forecast_once_a_day"),
            models.CheckConstraint(
                condition=Q(even_on__isnull=True, safe_on__isnull=True) | Q(safe_on__gte=models.F("even_on")),
                name="day_forecast_whole",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.job} as forecast on {self.on}"
