"""Counted equipment: what work needs of it, and what the shop has."""

from django.db import models
from django.db.models import Q

from jobs.calc.equipment import FIELDS, MOST, MOST_AT_ONCE
from jobs.models.moisture import Placement
from jobs.models.shop import Shop


def needed_field() -> "models.PositiveSmallIntegerField[int, int]":
    """How many of a kind of equipment a piece of work holds from its start to its end, nights included."""
    return models.PositiveSmallIntegerField(default=0)


def needs_are_real(name: str) -> models.CheckConstraint:
    within = Q(**{f"{field}__lte": MOST_AT_ONCE for field in FIELDS.values()})
    return models.CheckConstraint(condition=within, name=name)


class Equipment(models.Model):
    """How many of a kind the shop has, 0 for none. Without a row nobody has counted them, and they limit nothing."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="equipment")
    kind = models.CharField(max_length=12, choices=Placement.Kind)
    count = models.PositiveSmallIntegerField()

    class Meta:
        ordering = ["kind"]
        verbose_name_plural = "equipment"
        constraints = [
            models.UniqueConstraint(fields=["shop", "kind"], name="equipment_kind_once"),
            models.CheckConstraint(condition=Q(kind__in=list(FIELDS)), name="equipment_kind_known"),
            models.CheckConstraint(condition=Q(count__lte=MOST), name="equipment_count_real"),
        ]

    def __str__(self) -> str:
        return f"{self.count} × {self.get_kind_display()}"
