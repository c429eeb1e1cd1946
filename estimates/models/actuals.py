"""Standard hours that a manager took over from the shop's own record. Never changed afterwards."""

from django.db import models
from django.db.models import Q

from estimates.models.revision import Unchangeable
from jobs.models import Person, Shop


class HoursAccepted(Unchangeable):
    """One change of a catalogue operation's hours [h]: what they were, what they are, on how many finished jobs.

    It names the step by its key, as finished work does: the catalogue may make the step's row anew.
    """

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="hours_accepted")
    recipe_key = models.CharField(max_length=240)
    was_setup_hours = models.FloatField()
    was_hours_per_unit = models.FloatField()
    setup_hours = models.FloatField()
    hours_per_unit = models.FloatField()
    n = models.PositiveIntegerField()
    words = models.CharField(max_length=400)
    by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    at = models.DateTimeField()

    class Meta:
        ordering = ["at", "pk"]
        verbose_name_plural = "hours accepted"
        constraints = [
            models.CheckConstraint(
                condition=Q(setup_hours__gte=0, hours_per_unit__gte=0)
                & (Q(setup_hours__gt=0) | Q(hours_per_unit__gt=0)),
                name="hours_accepted_take_time",
            ),
            models.CheckConstraint(condition=Q(n__gte=1), name="hours_accepted_on_a_record"),
        ]

    def __str__(self) -> str:
        return f"{self.recipe_key}, {self.at:%Y-%m-%d}"

    @property
    def was(self) -> tuple[float, float]:
        return self.was_setup_hours, self.was_hours_per_unit

    @property
    def now(self) -> tuple[float, float]:
        return self.setup_hours, self.hours_per_unit
