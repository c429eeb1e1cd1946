"""Stations, the rounds that read them, what dries them, and when they will be dry."""

import uuid
from datetime import datetime

from django.db import models
from django.db.models import F, Prefetch, Q

from jobs.calc.faces import Face
from jobs.models.finding import FACE_CHOICES
from jobs.models.job import Job
from jobs.models.shop import Person, Shop

# What the meter corrections and the equilibrium equation take.
AIR_TEMP_C = (-20.0, 60.0)


class Layer(models.TextChoices):
    """How deep in the wall, roof or floor a station sits."""

    SKIN = "skin", "skin"
    FRAMING = "framing", "framing"
    INNER_PANEL = "inner_panel", "inner panel"
    FLOOR = "floor", "floor or roof deck"


class RetiredBecause(models.TextChoices):
    """Why a station is no longer read."""

    CUT_OUT = "cut_out", "its wood was cut out"
    WRONG = "wrong", "it was marked wrongly"
    COVERED = "covered", "it can no longer be reached"


class StationQuerySet(models.QuerySet["Station"]):
    def visible_to(self, person: Person) -> "StationQuerySet":
        return self.filter(job__shop=person.shop)

    def in_use(self) -> "StationQuerySet":
        return self.filter(retired_at__isnull=True)

    def with_forecast(self) -> "StationQuerySet":
        """Without its curve, which is long and for the chart alone."""
        return self.select_related("forecast").defer("forecast__curve")

    def held(self) -> "StationQuerySet":
        """Those that waiting longer will not dry."""
        return self.filter(forecast__outcome__in=StationForecast.HELD)

    def undated(self) -> "StationQuerySet":
        """Those read and not dry that have no drying date, whether they dry or not."""
        dated = [StationForecast.Outcome.DRY, StationForecast.Outcome.DATE]
        return self.filter(forecast__isnull=False).exclude(forecast__outcome__in=dated)

    def with_readings(self) -> "StationQuerySet":
        """With the readings that stand (oldest first, each with its round) and forecast: two queries."""
        readings = Reading.objects.standing().select_related("round").order_by("round__taken_at")
        return self.select_related("forecast").prefetch_related(Prefetch("readings", queryset=readings))


class Station(models.Model):
    """A marked spot on a coach that is read again and again. Its number is written on the wood."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="stations")
    number = models.PositiveSmallIntegerField()
    # Made by the phone before sending, so that a station sent twice is stored once.
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    face = models.CharField(max_length=10, choices=FACE_CHOICES)
    left_mm = models.FloatField()
    top_mm = models.FloatField()
    layer = models.CharField(max_length=12, choices=Layer)
    # A key of jobs.calc.moisture.meter.MATERIALS: new ones come without a migration.
    material = models.CharField(max_length=40)
    note = models.CharField(max_length=120, blank=True)
    marked_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    marked_at = models.DateTimeField()
    retired_at = models.DateTimeField(null=True, blank=True)
    retired_because = models.CharField(max_length=10, choices=RetiredBecause, blank=True)

    objects = StationQuerySet.as_manager()

    class Meta:
        ordering = ["number"]
        constraints = [
            models.UniqueConstraint(fields=["job", "number"], name="station_number_once"),
            models.CheckConstraint(condition=Q(face__in=[face.value for face in Face]), name="station_face_known"),
            models.CheckConstraint(condition=Q(layer__in=Layer.values), name="station_layer_known"),
            models.CheckConstraint(condition=Q(left_mm__gte=0, top_mm__gte=0), name="station_on_its_face"),
            models.CheckConstraint(
                condition=Q(retired_at__isnull=True, retired_because="")
                | (Q(retired_at__isnull=False, retired_at__gte=F("marked_at")) & ~Q(retired_because="")),
                name="station_retired_later_says_why",
            ),
        ]

    def __str__(self) -> str:
        return f"Station {self.number}"

    @property
    def place_face(self) -> Face:
        return Face(self.face)


class ReadingRound(models.Model):
    """One walk round the stations of a job, with the air at the time."""

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="rounds")
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    taken_at = models.DateTimeField()
    taken_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    air_temp_c = models.FloatField()
    rh_pct = models.FloatField()
    # As the sling psychrometer showed it, where the humidity was worked out of it; air_temp_c is its dry bulb.
    wet_bulb_c = models.FloatField(null=True, blank=True)
    # Inside the opened wall, roof or floor, where it was measured.
    cavity_temp_c = models.FloatField(null=True, blank=True)
    cavity_rh_pct = models.FloatField(null=True, blank=True)

    class Meta:
        ordering = ["taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["job", "taken_at"], name="round_at_one_time_once"),
            models.CheckConstraint(condition=Q(rh_pct__gte=0, rh_pct__lte=100), name="round_humidity_real"),
            models.CheckConstraint(
                condition=Q(air_temp_c__gte=AIR_TEMP_C[0], air_temp_c__lte=AIR_TEMP_C[1]),
                name="round_temperature_real",
            ),
            models.CheckConstraint(
                condition=Q(wet_bulb_c__isnull=True) | Q(wet_bulb_c__gte=0, wet_bulb_c__lte=F("air_temp_c")),
                name="round_wet_bulb_real",
            ),
            models.CheckConstraint(
                condition=Q(cavity_temp_c__isnull=True, cavity_rh_pct__isnull=True)
                | Q(
                    cavity_temp_c__isnull=False,
                    cavity_rh_pct__isnull=False,
                    cavity_temp_c__gte=AIR_TEMP_C[0],
                    cavity_temp_c__lte=AIR_TEMP_C[1],
                    cavity_rh_pct__gte=0,
                    cavity_rh_pct__lte=100,
                ),
                name="round_cavity_real",
            ),
        ]

    def __str__(self) -> str:
        return f"Round of {self.job} at {self.taken_at:%Y-%m-%d %H:%M}"

    @property
    def drying_air(self) -> tuple[float, float]:
        """Temperature [C] and relative humidity [%] of the air that dries the wood: the cavity's, if measured."""
        if self.cavity_temp_c is not None and self.cavity_rh_pct is not None:
            return self.cavity_temp_c, self.cavity_rh_pct
        return self.air_temp_c, self.rh_pct


class ReadingQuerySet(models.QuerySet["Reading"]):
    def visible_to(self, person: Person) -> "ReadingQuerySet":
        return self.filter(station__job__shop=person.shop)

    def standing(self) -> "ReadingQuerySet":
        """Those that nobody has struck out."""
        return self.filter(strike__isnull=True)


class Reading(models.Model):
    """What the meter showed at a station: a value, or that the wood lies beyond an end of its scale."""

    class Range(models.TextChoices):
        VALUE = "value", "value"
        LOW = "low", "too dry for the meter"
        HIGH = "high", "too wet for the meter"

    round = models.ForeignKey(ReadingRound, on_delete=models.PROTECT, related_name="readings")
    station = models.ForeignKey(Station, on_delete=models.PROTECT, related_name="readings")
    range = models.CharField(max_length=5, choices=Range, default=Range.VALUE)
    # As the meter showed it; corrected for temperature and species when it is used.
    meter_pct = models.FloatField(null=True, blank=True)

    objects = ReadingQuerySet.as_manager()

    class Meta:
        ordering = ["round__taken_at"]
        constraints = [
            models.UniqueConstraint(fields=["round", "station"], name="station_read_once_a_round"),
            models.CheckConstraint(
                condition=Q(range="value", meter_pct__isnull=False, meter_pct__gte=0, meter_pct__lte=200)
                | Q(range__in=["low", "high"], meter_pct__isnull=True),
                name="reading_value_or_beyond",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.meter_pct:g} %" if self.meter_pct is not None else self.get_range_display()


class ReadingStrike(models.Model):
    """A reading struck out: a slip of the thumb or a pin in the wrong place. It stays on record and counts no more."""

    reading = models.OneToOneField(Reading, on_delete=models.PROTECT, related_name="strike")
    reason = models.CharField(max_length=200)
    struck_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    struck_at = models.DateTimeField()

    class Meta:
        constraints = [models.CheckConstraint(condition=~Q(reason=""), name="strike_says_why")]

    def __str__(self) -> str:
        return f"Struck out: {self.reason}"


class StationForecast(models.Model):
    """When a station will be under the close-in limit, worked out from all its readings; replaced by the next."""

    class Outcome(models.TextChoices):
        DRY = "dry", "dry"
        DATE = "date", "drying"
        TOO_FEW = "too_few", "no number yet"
        NEAR_EQUILIBRIUM = "near_equilibrium", "held by damp air"
        RISING = "rising", "getting wetter"
        STALLED = "stalled", "stopped drying"

    # Waiting longer will not dry it.
    HELD = frozenset({Outcome.NEAR_EQUILIBRIUM, Outcome.RISING, Outcome.STALLED})

    station = models.OneToOneField(Station, on_delete=models.CASCADE, related_name="forecast")
    round = models.ForeignKey(ReadingRound, on_delete=models.CASCADE, related_name="+")
    worked_out_at = models.DateTimeField()
    outcome = models.CharField(max_length=20, choices=Outcome)
    reason = models.CharField(max_length=400)
    limit_pct = models.FloatField()
    equilibrium_pct = models.FloatField()
    rate_low_per_h = models.FloatField()
    rate_per_h = models.FloatField()
    rate_high_per_h = models.FloatField()
    rate_origin = models.CharField(max_length=160)
    dry_even_at = models.DateTimeField(null=True, blank=True)
    dry_safe_at = models.DateTimeField(null=True, blank=True)
    # [ISO time, 10 %, 50 %, 90 %] of moisture content [%], over the readings and on into the forecast.
    curve = models.JSONField()

    class Meta:
        constraints = [
            models.CheckConstraint(
                condition=Q(outcome="date", dry_even_at__isnull=False)
                | (~Q(outcome="date") & Q(dry_even_at__isnull=True, dry_safe_at__isnull=True)),
                name="forecast_date_only_when_drying",
            ),
        ]

    def __str__(self) -> str:
        return f"{self.station}: {self.get_outcome_display()}"

    @property
    def needs_a_hand(self) -> bool:
        """Waiting longer will not dry it: something must be done."""
        return self.outcome in self.HELD


class PlacementQuerySet(models.QuerySet["Placement"]):
    def visible_to(self, person: Person) -> "PlacementQuerySet":
        return self.filter(job__shop=person.shop)

    def running(self) -> "PlacementQuerySet":
        return self.filter(taken_away_at__isnull=True)


class Placement(models.Model):
    """Blowers or dehumidifiers put to work on a job: what, how many, where, from when until when."""

    class Kind(models.TextChoices):
        BLOWER = "blower", "blower"
        DEHUMIDIFIER = "dehumidifier", "dehumidifier"
        HEATER = "heater", "heater"

    job = models.ForeignKey(Job, on_delete=models.PROTECT, related_name="placements")
    key = models.UUIDField(default=uuid.uuid4, unique=True)
    kind = models.CharField(max_length=12, choices=Kind)
    count = models.PositiveSmallIntegerField(default=1)
    face = models.CharField(max_length=10, choices=FACE_CHOICES, blank=True)
    note = models.CharField(max_length=120, blank=True)
    placed_at = models.DateTimeField()
    placed_by = models.ForeignKey(Person, on_delete=models.PROTECT, related_name="+")
    taken_away_at = models.DateTimeField(null=True, blank=True)

    objects = PlacementQuerySet.as_manager()

    class Meta:
        ordering = ["placed_at", "pk"]
        constraints = [
            models.CheckConstraint(condition=Q(kind__in=["blower", "dehumidifier", "heater"]), name="placement_kind"),
            models.CheckConstraint(condition=Q(count__gte=1, count__lte=40), name="placement_count_real"),
            models.CheckConstraint(
                condition=Q(taken_away_at__isnull=True) | Q(taken_away_at__gte=F("placed_at")),
                name="placement_taken_away_later",
            ),
        ]

    def __str__(self) -> str:
        return self.words

    @property
    def words(self) -> str:
        return f"{self.count} {self.get_kind_display()}{'' if self.count == 1 else 's'}"

    def ran_at(self, at: datetime) -> bool:
        return self.placed_at <= at and (self.taken_away_at is None or at < self.taken_away_at)


class ShopLimit(models.Model):
    """A limit of jobs.calc.moisture.verdict.LIMITS that the shop has set for itself."""

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="limits")
    key = models.CharField(max_length=30)
    value = models.FloatField()

    class Meta:
        constraints = [models.UniqueConstraint(fields=["shop", "key"], name="shop_limit_once")]

    def __str__(self) -> str:
        return f"{self.key}: {self.value:g}"
