"""Agreed work: operations, waits and hold points."""

from collections.abc import Mapping
from functools import reduce
from operator import or_

from django.db import models
from django.db.models import F, Q

from jobs.calc.equipment import FIELDS, needs_words
from jobs.models.equipment import needed_field, needs_are_real
from jobs.models.finding import Remedy
from jobs.models.job import Job
from jobs.models.shop import Person, Skill


class Phase(models.IntegerChoices):
    OPEN_UP = 1, "open up"
    DRY_OUT = 2, "dry out"
    FRAMING = 3, "framing"
    CLOSE_IN = 4, "close in"
    SEAL_AND_FIT = 5, "seal and fit"
    FINAL_CHECK = 6, "final check"


class OperationKind(models.TextChoices):
    LABOUR = "labour", "labour"
    WAIT = "wait", "wait"


class OperationQuerySet(models.QuerySet["Operation"]):
    def visible_to(self, person: Person) -> "OperationQuerySet":
        return self.filter(job__shop=person.shop)

    def unfinished(self) -> "OperationQuerySet":
        return self.filter(finished_at__isnull=True)

    def short_of(self, has: Mapping[str, int]) -> "OperationQuerySet":
        """Those that need more of some kind of equipment than a shop has that has so many of each."""
        more = (Q(**{f"{FIELDS[kind]}__gt": count}) for kind, count in has.items())
        return self.filter(reduce(or_, more, Q(pk__in=[])))


class Operation(models.Model):
    """A piece of labour, or a wait that needs no hands, in the agreed scope of a job."""

    class Payer(models.TextChoices):
        OWNER = "owner", "owner"
        SHOP = "shop", "shop"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="operations")
    remedy = models.ForeignKey(Remedy, on_delete=models.PROTECT, related_name="operations")
    position = models.PositiveSmallIntegerField()
    phase = models.PositiveSmallIntegerField(choices=Phase)
    words = models.CharField(max_length=120)
    kind = models.CharField(max_length=6, choices=OperationKind)
    hours = models.FloatField(help_text="Working hours of labour, or elapsed hours of a wait.")
    skill = models.ForeignKey(Skill, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    crew = models.PositiveSmallIntegerField(default=1)
    is_in_one_shift = models.BooleanField(default=False)
    needs_bay = models.BooleanField(default=True)
    # A wait that is over when the stations at the finding's place are dry; its hours hold until they are read.
    is_drying = models.BooleanField(default=False)
    blowers = needed_field()
    dehumidifiers = needed_field()
    heaters = needed_field()
    payer = models.CharField(max_length=5, choices=Payer, default=Payer.OWNER)
    redo_of = models.ForeignKey("self", on_delete=models.PROTECT, related_name="redone_by", null=True, blank=True)
    started_at = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    workers = models.ManyToManyField(Person, blank=True, related_name="operations")
    # The catalogue's step it was worked out from, and for how many of its units; both empty for a one-off.
    recipe_key = models.CharField(max_length=240, blank=True)
    units = models.FloatField(default=0)
    # How much of what that is, in words: "18 ft of member in 3 members".
    amount = models.CharField(max_length=240, blank=True)

    objects = OperationQuerySet.as_manager()

    class Meta:
        ordering = ["phase", "remedy_id", "position", "pk"]
        constraints = [
            models.UniqueConstraint(
                fields=["remedy", "position"], condition=Q(redo_of__isnull=True), name="operation_written_once"
            ),
            models.UniqueConstraint(
                fields=["redo_of"], condition=Q(redo_of__isnull=False), name="operation_redone_once"
            ),
            models.CheckConstraint(condition=Q(phase__gte=1, phase__lte=6), name="operation_phase_known"),
            models.CheckConstraint(condition=Q(hours__gt=0, hours__lte=24 * 60), name="operation_hours_real"),
            models.CheckConstraint(condition=Q(crew__gte=1, crew__lte=12), name="operation_crew_real"),
            models.CheckConstraint(
                condition=Q(kind="labour", skill__isnull=False) | Q(kind="wait", skill__isnull=True),
                name="operation_labour_names_skill",
            ),
            models.CheckConstraint(condition=Q(is_drying=False) | Q(kind="wait"), name="operation_only_waits_dry"),
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(finished_at__gte=F("started_at")),
                name="operation_finished_after_start",
            ),
            models.CheckConstraint(
                condition=Q(finished_at__isnull=True) | Q(started_at__isnull=False),
                name="operation_finished_was_started",
            ),
            models.CheckConstraint(
                condition=Q(redo_of__isnull=True) | Q(payer="shop"), name="operation_redone_at_shop_cost"
            ),
            models.CheckConstraint(condition=Q(units__gte=0), name="operation_units_real"),
            needs_are_real("operation_equipment_real"),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def person_hours(self) -> float:
        """Its labour [h], all people counted."""
        return self.hours * self.crew

    @property
    def holds(self) -> str:
        """The equipment it needs, in words."""
        return needs_words(self)

    @property
    def is_running(self) -> bool:
        return self.started_at is not None and self.finished_at is None


class HoldPointQuerySet(models.QuerySet["HoldPoint"]):
    def waiting(self) -> "HoldPointQuerySet":
        return self.filter(passed_at__isnull=True, failed_at__isnull=True)


class HoldPoint(models.Model):
    """A check that must pass before the work behind its operation goes on."""

    operation = models.OneToOneField(Operation, on_delete=models.PROTECT, related_name="hold_point")
    words = models.CharField(max_length=160)
    passed_at = models.DateTimeField(null=True, blank=True)
    failed_at = models.DateTimeField(null=True, blank=True)
    checked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+", null=True, blank=True)
    note = models.CharField(max_length=300, blank=True)

    objects = HoldPointQuerySet.as_manager()

    class Meta:
        ordering = ["pk"]
        constraints = [
            models.CheckConstraint(
                condition=Q(passed_at__isnull=True) | Q(failed_at__isnull=True), name="hold_point_passed_or_failed"
            ),
            models.CheckConstraint(
                condition=Q(passed_at__isnull=True, failed_at__isnull=True, checked_by__isnull=True)
                | (Q(checked_by__isnull=False) & (Q(passed_at__isnull=False) | Q(failed_at__isnull=False))),
                name="hold_point_names_checker",
            ),
            models.CheckConstraint(
                condition=Q(failed_at__isnull=True) | ~Q(note=""), name="hold_point_failed_says_why"
            ),
        ]

    def __str__(self) -> str:
        return self.words
