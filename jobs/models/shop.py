"""A shop: its hours, bays and people."""

from datetime import date, datetime
from zoneinfo import ZoneInfo, available_timezones

from django.contrib.auth.models import AbstractUser
from django.core.exceptions import ValidationError
from django.db import models
from django.db.models import F, Q

from jobs.calc.workdays import ShopCalendar

# Some metres below the lowest land to some above the highest towns; higher is a slip of the unit.
ALTITUDE_M = (-450.0, 4500.0)
M_PER_FOOT = 0.3048


def check_time_zone(name: str) -> None:
    if name not in available_timezones():
        raise ValidationError(f"{name} is not a time zone such as America/Chicago.")


class Shop(models.Model):
    class Units(models.TextChoices):
        US = "us", "feet and inches"
        METRIC = "metric", "metres"

    name = models.CharField(max_length=80, unique=True)
    time_zone = models.CharField(max_length=50, validators=[check_time_zone])
    units = models.CharField(max_length=6, choices=Units)
    phone = models.CharField(max_length=30)
    email = models.EmailField()
    address = models.CharField(max_length=200)
    # Above the sea, for the pressure of the air.
    altitude_m = models.FloatField(default=0.0)
    # How long the plan expects an owner to take, until the shop's own record says otherwise.
    # A key of estimates.calc.consent_rules.STARTING_POINTS: when added work needs a fresh yes.
    consent_rule = models.CharField(max_length=30, default="strictest")
    answer_hours = models.PositiveSmallIntegerField(default=24, help_text="Hours an owner is given to answer.")

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(units__in=["us", "metric"]), name="shop_units_known"),
            models.CheckConstraint(condition=Q(answer_hours__gte=1), name="shop_answer_hours_above_zero"),
            models.CheckConstraint(
                condition=Q(altitude_m__gte=ALTITUDE_M[0], altitude_m__lte=ALTITUDE_M[1]), name="shop_altitude_real"
            ),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def altitude_words(self) -> str:
        """5,280 ft, or 1,609 m."""
        if self.units == self.Units.US:
            return f"{self.altitude_m / M_PER_FOOT:,.0f} ft"
        return f"{self.altitude_m:,.0f} m"

    def local_date(self, at: datetime) -> date:
        """The calendar day at the shop."""
        return at.astimezone(ZoneInfo(self.time_zone)).date()

    def calendar(self) -> ShopCalendar:
        """The shop's working time, ready for sums (two queries)."""
        return ShopCalendar(
            time_zone=self.time_zone,
            weekly=tuple(self.hours.order_by("weekday", "opens").values_list("weekday", "opens", "closes")),
            closures=tuple(self.closures.order_by("first_on").values_list("first_on", "last_on")),
        )


class ShopHours(models.Model):
    class Weekday(models.IntegerChoices):
        MONDAY, TUESDAY, WEDNESDAY, THURSDAY, FRIDAY, SATURDAY, SUNDAY = range(7)

    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="hours")
    weekday = models.PositiveSmallIntegerField(choices=Weekday)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["shop", "weekday", "opens"], name="shop_hours_once"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="shop_hours_weekday_known"),
            models.CheckConstraint(condition=Q(closes__gt=F("opens")), name="shop_hours_close_after_open"),
        ]

    def __str__(self) -> str:
        return f"{self.get_weekday_display()} {self.opens:%H:%M} to {self.closes:%H:%M}"


class Closure(models.Model):
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="closures")
    first_on = models.DateField()
    last_on = models.DateField()
    reason = models.CharField(max_length=80)

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last_on__gte=F("first_on")), name="closure_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.reason} ({self.first_on} to {self.last_on})"


class Bay(models.Model):
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="bays")
    name = models.CharField(max_length=30)
    position = models.PositiveSmallIntegerField()
    longest_coach_mm = models.FloatField()

    class Meta:
        ordering = ["position"]
        constraints = [
            models.UniqueConstraint(fields=["shop", "name"], name="bay_name_once"),
            models.UniqueConstraint(fields=["shop", "position"], name="bay_position_once"),
            models.CheckConstraint(condition=Q(longest_coach_mm__gt=0), name="bay_length_above_zero"),
        ]

    def __str__(self) -> str:
        return self.name


class Skill(models.Model):
    shop = models.ForeignKey(Shop, on_delete=models.CASCADE, related_name="skills")
    name = models.CharField(max_length=40)

    class Meta:
        ordering = ["name"]
        constraints = [models.UniqueConstraint(fields=["shop", "name"], name="skill_name_once")]

    def __str__(self) -> str:
        return self.name


class Person(AbstractUser):
    """Somebody who signs in: a technician or a manager of one shop."""

    class Role(models.TextChoices):
        TECHNICIAN = "technician", "technician"
        MANAGER = "manager", "manager"

    shop = models.ForeignKey(Shop, on_delete=models.PROTECT, related_name="people", null=True, blank=True)
    role = models.CharField(max_length=10, choices=Role, default=Role.TECHNICIAN)
    skills = models.ManyToManyField(Skill, blank=True, related_name="people")

    class Meta(AbstractUser.Meta):
        constraints = [
            models.CheckConstraint(
                condition=Q(shop__isnull=False) | Q(is_superuser=True), name="person_belongs_to_a_shop"
            ),
            models.CheckConstraint(condition=Q(role__in=["technician", "manager"]), name="person_role_known"),
        ]

    @property
    def is_manager(self) -> bool:
        return self.role == self.Role.MANAGER


class Absence(models.Model):
    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="absences")
    first_on = models.DateField()
    last_on = models.DateField()

    class Meta:
        constraints = [
            models.CheckConstraint(condition=Q(last_on__gte=F("first_on")), name="absence_ends_after_start"),
        ]

    def __str__(self) -> str:
        return f"{self.person} away {self.first_on} to {self.last_on}"


class PersonHours(models.Model):
    """A person's own hours on a weekday. With any of them, the shop's hours no longer count for that person."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="own_hours")
    weekday = models.PositiveSmallIntegerField(choices=ShopHours.Weekday)
    opens = models.TimeField()
    closes = models.TimeField()

    class Meta:
        ordering = ["weekday"]
        verbose_name_plural = "person hours"
        constraints = [
            models.UniqueConstraint(fields=["person", "weekday"], name="person_hours_once"),
            models.CheckConstraint(condition=Q(weekday__lte=6), name="person_hours_weekday_known"),
            models.CheckConstraint(condition=Q(closes__gt=F("opens")), name="person_hours_close_after_open"),
        ]

    def __str__(self) -> str:
        return f"{self.person}, {self.get_weekday_display()} {self.opens:%H:%M} to {self.closes:%H:%M}"


class Overtime(models.Model):
    """One span that a person works on top of the usual hours."""

    person = models.ForeignKey(Person, on_delete=models.CASCADE, related_name="overtime")
    begins_at = models.DateTimeField()
    ends_at = models.DateTimeField()

    class Meta:
        ordering = ["begins_at"]
        constraints = [
            models.CheckConstraint(condition=Q(ends_at__gt=F("begins_at")), name="overtime_ends_after_beginning"),
        ]

    def __str__(self) -> str:
        return f"{self.person} from {self.begins_at} to {self.ends_at}"
